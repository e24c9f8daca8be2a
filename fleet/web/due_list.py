"""The due list: what falls due across the fleet, overdue first."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

import django_tables2 as tables
from django.db.models import OuterRef, Q, Subquery
from django.http import HttpRequest
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.fitness.models import DueDate
from fleet.fitness.status import due_between
from fleet.records.clock import today
from fleet.register.models import EquipmentVersion, VehicleVersion
from fleet.register.vocabulary import Effect
from fleet.ui.tables import NumberColumn, RegisterTable, WideColumn, paged
from fleet.web.asked import DueForm


class DueTable(RegisterTable):
    """What falls due, in order of date."""

    number = NumberColumn(verbose_name="Vehicle")
    title = tables.Column(verbose_name="Requirement")
    serial = tables.Column(verbose_name="Item")
    due_on = tables.DateColumn(format="j M Y", verbose_name="Due")
    last_good_day = tables.DateColumn(format="j M Y", verbose_name="Last good day")
    effect = tables.Column(verbose_name="If overrun")
    basis = WideColumn(verbose_name="Counted", orderable=False)

    def render_number(self, value: str, record: Any) -> SafeString:
        """Lead to the vehicle."""
        mark = " (not yet reassessed)" if record.stale else ""
        address = reverse("web:vehicle", args=[record.vehicle_id])
        return format_html('<a href="{}">{}</a>{}', address, value, mark)

    def render_title(self, value: str, record: Any) -> SafeString:
        """Lead to the requirement."""
        address = f"{reverse('web:practice')}#{record.requirement}"
        return format_html('<a href="{}">{}</a> {}', address, record.requirement, value)

    def render_serial(self, value: str, record: Any) -> SafeString:
        """Lead to the item; a vehicle's own requirement has none."""
        address = reverse("register:equipment", args=[record.equipment_id])
        return format_html('<a href="{}">{}</a>', address, value)

    def render_due_on(self, value: str, record: Any) -> SafeString:
        """Mark what is past, and what rests on a forecast."""
        notes = []
        if record.last_good_day and record.last_good_day < today():
            notes.append("overrun")
        elif record.due_on < today():
            notes.append("past, within tolerance")
        if record.forecast:
            notes.append("forecast")
        small = ", ".join(notes)
        return format_html("{} <small>{}</small>", value, small) if notes else value

    def render_effect(self, value: str) -> str:
        """Say what an overrun does."""
        return Effect(value).label


@dataclass(frozen=True, slots=True)
class DuePage:
    """All that the due list shows."""

    table: DueTable
    last: dt.date
    overdue: int


def due_page(asked: DueForm, request: HttpRequest) -> DuePage:
    """Return the due list asked for; a fixed number of queries, however large the fleet."""
    last = today() + dt.timedelta(days=asked.value("days") or 90)
    serial = EquipmentVersion.objects.current().filter(equipment=OuterRef("equipment"))
    rows = due_between(None, last).annotate(
        serial=Subquery(serial.order_by("-since_key").values("serial")[:1])
    )
    if asked.value("depot"):
        home = VehicleVersion.objects.current().open_ended()
        home = home.filter(depot=asked.value("depot"))
        rows = rows.filter(vehicle__in=home.values("vehicle"))
    if asked.value("find"):
        words = asked.value("find").strip()
        rows = rows.filter(
            Q(title__icontains=words)
            | Q(requirement__iexact=words)
            | Q(number__icontains=words)
        )
    overdue = DueDate.objects.filter(last_good_day__lt=today()).count()
    return DuePage(paged(DueTable(rows), request), last, overdue)
