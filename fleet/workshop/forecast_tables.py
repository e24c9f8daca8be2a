"""The forecast as a list."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.ui.tables import NumberColumn, RegisterTable, WideColumn
from fleet.upkeep.due import written
from fleet.workshop.forecast import ForecastRow
from fleet.workshop.vocabulary import Place

_DATE = {"td": {"class": "date"}}


class ForecastTable(RegisterTable):
    """What falls due, with its window and what the work takes."""

    number = NumberColumn(verbose_name="Vehicle")
    title = tables.Column(
        verbose_name="Requirement", accessor="falling__title", orderable=False
    )
    earliest = tables.Column(verbose_name="Sensible from", attrs=_DATE, orderable=False)
    due = tables.Column(
        verbose_name="Due", attrs=_DATE, empty_values=(), orderable=False
    )
    last_good = tables.Column(
        verbose_name="Last good day", attrs=_DATE, orderable=False
    )
    conceded = tables.Column(
        verbose_name="With concession", attrs=_DATE, orderable=False
    )
    hours = tables.Column(verbose_name="Work", empty_values=(), orderable=False)
    group = tables.Column(verbose_name="Exchange unit", orderable=False)
    together = WideColumn(verbose_name="Done together with", orderable=False)

    def __init__(
        self, *args: Any, companions: Mapping[str, list[str]], **options: Any
    ) -> None:
        """Make the list; `companions` are what a visit can take in besides, by row."""
        super().__init__(*args, **options)
        self.companions = companions

    def render_number(self, value: str, record: ForecastRow) -> SafeString:
        """Lead to the vehicle."""
        stale = " (not yet reassessed)" if record.falling.stale else ""
        depot = record.vehicle.depot
        return format_html(
            '<a href="{}">{}</a>{}<small>{}</small>',
            reverse("web:vehicle", args=[record.vehicle.vehicle_id]),
            value,
            stale,
            f" {depot}" if depot else "",
        )

    def render_title(self, value: str, record: ForecastRow) -> SafeString:
        """Lead to the plan of the requirement, and to the item."""
        falling = record.falling
        words = format_html(
            '<a href="{}">{}</a> <span>{}</span>',
            reverse("workshop:plan", args=[falling.code]),
            falling.code,
            value,
        )
        if falling.item is None:
            return words
        item = reverse("register:equipment", args=[falling.equipment])
        return format_html('{} <a href="{}">{}</a>', words, item, falling.item.serial)

    def render_earliest(self, value: dt.date, record: ForecastRow) -> str:
        """Write the day out; today is now."""
        return "now" if value == record.today else written(value)

    def render_due(self, value: dt.date | None, record: ForecastRow) -> SafeString:
        """Mark what is overdue, and what a date rests on."""
        words = written(value) if value else "cannot be worked out"
        notes = ["overdue"] if record.overdue else []
        if record.estimated:
            notes.append("forecast of usage")
        if record.time:
            notes.append("if done on its due date before")
        return format_html("{} <small>{}</small>", words, ", ".join(notes))

    def render_last_good(self, value: dt.date) -> str:
        """Write the day out."""
        return written(value)

    def render_conceded(self, value: dt.date, record: ForecastRow) -> SafeString:
        """Say whether a concession stands, or only could."""
        how = "could go to"
        if record.standing and record.falling.conceded:
            how = f"concession {record.falling.conceded[1]} to"
        return format_html("<small>{}</small> {}", how, written(value))

    def render_hours(self, record: ForecastRow) -> SafeString:
        """Say hours, weeks and place, or that there is no plan."""
        if record.plan is None or record.place is None:
            return format_html(
                '<a href="{}">no plan</a><small>the programme cannot place it</small>',
                reverse("workshop:plan", args=[record.falling.code]),
            )
        weeks = f", {record.plan.weeks} weeks" if record.plan.weeks > 1 else ""
        place = "" if record.place is Place.ANYWHERE else record.place.label.lower()
        return format_html("{}{} <small>{}</small>", record.hours_words, weeks, place)

    def render_together(self, value: str, record: ForecastRow) -> SafeString:
        """Name what the same visit can take in."""
        others = (
            ", ".join(self.companions.get(record.key, ())) or "nothing else in time"
        )
        return format_html("{}: {}", value, others)
