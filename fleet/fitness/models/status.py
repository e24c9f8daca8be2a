"""Stored brake status: spans kept with their history, due dates, what is stale."""

import datetime as dt
from typing import ClassVar, Self

from django.db import models
from django.db.models import Q

from fleet.records.models import Entry
from fleet.register.models import Equipment, Vehicle
from fleet.register.vocabulary import Effect, Level, Scope, System


class StatusSpanQuerySet(models.QuerySet["StatusSpan"]):
    """Reads of stored spans."""

    def current(self) -> Self:
        """Keep the spans that follow from what is recorded now."""
        return self.filter(closed_by__isnull=True)

    def stored_at(self, number: int | None) -> Self:
        """Keep the spans stored when entry `number` was the newest; None: now."""
        if number is None:
            return self.current()
        still = Q(closed_by__isnull=True) | Q(closed_by__number__gt=number)
        return self.filter(still, opened_by__number__lte=number)

    def on(self, day: dt.date) -> Self:
        """Keep the spans that hold at the close of a day, as stored now."""
        return self.current().touching(day, day)

    def between(self, first: dt.date, last: dt.date) -> Self:
        """Keep the spans that touch a window, both days included, as stored now."""
        return self.current().touching(first, last)

    def touching(self, first: dt.date, last: dt.date) -> Self:
        """Keep the spans that touch a window, both days included."""
        return self.filter(Q(until__isnull=True) | Q(until__gt=first), since__lte=last)


class StatusSpan(models.Model):
    """
    The level of one brake system of a vehicle over an interval.

    Worked out from the facts, closed and never deleted when they change, so that what a
    page showed then can be shown again.
    """

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="spans")
    system = models.CharField(max_length=6, choices=System.choices())
    since = models.DateField()
    until = models.DateField(null=True)
    level = models.PositiveSmallIntegerField(
        choices=[(v.value, v.label) for v in Level]
    )
    whole_vehicle = models.BooleanField(default=False)
    headline = models.CharField(max_length=300, blank=True, default="")
    conditions = models.JSONField(default=list, blank=True)
    change = models.CharField(max_length=300, blank=True, default="")
    rulebook = models.CharField(max_length=20)
    policy = (
        models.BigIntegerField()
    )  # number of the entry that last touched the policy
    opened_by = models.ForeignKey(Entry, models.PROTECT, related_name="+")
    # No index of its own: SQLite would take that before the one of the vehicle, and read
    # the current spans of the whole fleet for those of one.
    closed_by = models.ForeignKey(
        Entry, models.PROTECT, related_name="+", null=True, db_index=False
    )

    guard: ClassVar[str] = "version"
    derived: ClassVar[bool] = (
        True  # follows from the facts: not sealed, worked out anew
    )

    objects = StatusSpanQuerySet.as_manager()

    class Meta:
        ordering = ("vehicle", "system", "since")
        indexes = (
            models.Index(
                fields=["vehicle", "system"],
                condition=Q(closed_by__isnull=True),
                name="fitness_span_of_vehicle",
            ),
            models.Index(
                fields=["since", "until"],
                condition=Q(closed_by__isnull=True),
                name="fitness_span_by_date",
            ),
        )

    def __str__(self) -> str:
        return f"{self.system} {Level(self.level).label} from {self.since}"


class DueDate(models.Model):
    """A due date as worked out from the facts; replaced whenever they change."""

    vehicle = models.ForeignKey(Vehicle, models.CASCADE, related_name="due_dates")
    equipment = models.ForeignKey(
        Equipment, models.CASCADE, null=True, related_name="+"
    )
    position = models.CharField(max_length=30, blank=True, default="")
    requirement = models.CharField(max_length=20)
    revision = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=100)
    procedure = models.CharField(max_length=30, blank=True, default="")
    due_on = models.DateField(null=True)
    last_good_day = models.DateField(null=True)
    basis = models.CharField(max_length=300)
    scope = models.CharField(max_length=20, choices=Scope.choices())
    effect = models.CharField(max_length=10, choices=Effect.choices())
    forecast = models.BooleanField(default=False)

    class Meta:
        ordering = ("due_on",)
        indexes = (
            models.Index(fields=["due_on"], name="fitness_due_on"),
            models.Index(fields=["vehicle"], name="fitness_due_of_vehicle"),
        )

    def __str__(self) -> str:
        return f"{self.title} due {self.due_on}"


class Stale(models.Model):
    """A vehicle whose spans await reassessment; it shows as that, never as fit."""

    vehicle = models.OneToOneField(Vehicle, models.CASCADE, related_name="stale")
    entry = models.ForeignKey(Entry, models.CASCADE, related_name="+")

    def __str__(self) -> str:
        return f"Vehicle {self.vehicle_id} not yet reassessed"
