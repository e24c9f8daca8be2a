"""Lists of the screens that join slices."""

import datetime as dt
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.engineering.calendar import Moment
from fleet.fitness.deferring import Deferring
from fleet.ui.tables import NumberColumn, RegisterTable, WideColumn
from fleet.upkeep.due import written
from fleet.web.policy_concessions import deferral


class DueTable(RegisterTable):
    """What falls due, in order of date."""

    number = NumberColumn(verbose_name="Vehicle")
    title = tables.Column(verbose_name="Requirement")
    serial = tables.Column(verbose_name="Item")
    due_on = tables.Column(
        verbose_name="Due",
        default="cannot be worked out",
        attrs={"td": {"class": "date"}},
    )
    last_good_day = tables.Column(
        verbose_name="Last good day", attrs={"td": {"class": "date"}}
    )
    effect = tables.Column(verbose_name="If overrun")
    basis = WideColumn(verbose_name="Counted", orderable=False)

    def __init__(
        self, *args: Any, deferring: Deferring, day: dt.date, **options: Any
    ) -> None:
        """Make the list of a day; `deferring` are the concessions not yet over."""
        super().__init__(*args, **options)
        self.deferring, self.day = deferring, day

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

    def render_due_on(self, value: dt.date, record: Any) -> str:
        """Mark what is past, and what rests on a forecast."""
        notes = [record.standing] if record.standing else []
        subject = None if record.equipment_id else record.vehicle_id
        deferred = deferral(
            self.deferring.get((subject, record.equipment_id), ()),
            record.requirement,
            record.equipment_id,
            record.last_good_day,
            self.day,
        )
        notes += [deferred] if deferred else []
        if record.forecast:
            notes.append("forecast")
        words = str(Moment.on(value))
        small = ", ".join(notes)
        return format_html("{} <small>{}</small>", words, small) if notes else words

    def render_last_good_day(self, value: dt.date) -> str:
        """Write the day out."""
        return str(Moment.on(value))


class ConcessionTable(RegisterTable):
    """The ageing report: what wants a decision or a re-check first."""

    nothing = "No concession was asked for."

    pk = NumberColumn(verbose_name="Concession", accessor="concession__pk")
    subject = tables.Column(verbose_name="Vehicle or item")
    against = WideColumn(verbose_name="Against")
    standing = WideColumn(verbose_name="Stands")
    first_granted = tables.Column(
        verbose_name="First granted", attrs={"td": {"class": "date"}}
    )
    renewals = tables.Column(verbose_name="Renewed")
    last_day = tables.Column(verbose_name="Last day", attrs={"td": {"class": "date"}})
    days_left = tables.Column(verbose_name="Days left")
    recheck = tables.Column(
        verbose_name="Next re-check by", attrs={"td": {"class": "date"}}
    )

    def render_pk(self, value: int, record: Any) -> SafeString:
        """Lead to the concession."""
        address = record.concession.get_absolute_url()
        return format_html('<a href="{}">Concession {}</a>', address, value)

    def render_standing(self, value: str, record: Any) -> str | SafeString:
        """Say that a renewal is asked for beside how it stands."""
        if record.waiting and record.granted:
            return format_html("{}<small>renewal asked for</small>", value)
        return value

    def render_first_granted(self, value: dt.date, record: Any) -> SafeString:
        """Write the day, and how long ago."""
        return format_html(
            "{} <small>{} days ago</small>", written(value), record.age_days
        )

    def render_last_day(self, value: dt.date) -> str:
        """Write the day out."""
        return written(value)

    def render_recheck(self, value: dt.date, record: Any) -> str | SafeString:
        """Mark what is overdue."""
        if record.recheck_overdue:
            return format_html(
                "{} <small><strong>overdue</strong></small>", written(value)
            )
        return written(value)
