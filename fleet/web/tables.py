"""Lists of the screens that join slices."""

import datetime as dt
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.engineering.calendar import Moment
from fleet.ui.tables import NumberColumn, RegisterTable, WideColumn


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
        if record.forecast:
            notes.append("forecast")
        words = str(Moment.on(value))
        small = ", ".join(notes)
        return format_html("{} <small>{}</small>", words, small) if notes else words

    def render_last_good_day(self, value: dt.date) -> str:
        """Write the day out."""
        return str(Moment.on(value))
