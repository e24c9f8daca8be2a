"""The running diary: which vehicles, or how many of a type, must be fit on which days."""

import datetime as dt
from collections.abc import Iterator
from typing import ClassVar, Self

from django.core.validators import (
    MaxValueValidator,
    MinValueValidator,
    RegexValidator,
)
from django.db import models

from fleet.records.models import Identity, Version, VersionQuerySet
from fleet.records.refusing import refusing
from fleet.register.models import Vehicle, VehicleType
from fleet.register.vocabulary import System


class DiaryLineQuerySet(VersionQuerySet):
    """Reads of the diary."""

    def between(self, first: dt.date, last: dt.date) -> Self:
        """Keep current lines that touch a window, both days included, in order."""
        rows = self.current().filter(first__lte=last, last__gte=first)
        return rows.order_by("first", "title", "pk")


class DiaryLine(Identity):
    """Stands for one line of the diary."""

    def __str__(self) -> str:
        return f"Diary line {self.pk}"


class DiaryLineVersion(Version):
    """
    So many vehicles fit braked on a system, on the days from one to another.

    A line names one vehicle, or a number of one type, or a number of any type.
    """

    line = models.ForeignKey(DiaryLine, models.PROTECT, related_name="versions")
    title = models.CharField("what runs", max_length=100)
    first = models.DateField("from")
    last = models.DateField("to, this day included")
    weekdays = models.CharField(
        "on which days of the week",
        max_length=7,
        default="1234567",
        validators=(RegexValidator("^[1-7]+$", "Days are numbers, 1 for Monday."),),
    )  # ISO: 1 Monday to 7 Sunday
    system = models.CharField(max_length=6, choices=System.choices())
    vehicle = models.ForeignKey(
        Vehicle, models.PROTECT, null=True, blank=True, related_name="+"
    )
    vehicle_type = models.ForeignKey(
        VehicleType, models.PROTECT, null=True, blank=True, related_name="+"
    )
    vehicles = models.PositiveSmallIntegerField(
        "how many", default=1, validators=(MinValueValidator(1),)
    )
    weight = models.PositiveSmallIntegerField(
        "how much a day short counts",
        default=1,
        validators=(MinValueValidator(1), MaxValueValidator(20)),
    )

    objects: ClassVar = DiaryLineQuerySet.as_manager()

    class Meta:
        ordering = ("first", "pk")
        indexes = (models.Index(fields=["last", "first"], name="workshop_diary_days"),)

    def __str__(self) -> str:
        return f"{self.title} {self.first} to {self.last}"

    def clean(self) -> None:
        """Refuse days the wrong way round, and a named vehicle with a number or a type."""
        if self.last < self.first:
            raise refusing(
                "The last day is before the first.", code="ends_first", field="last"
            )
        if self.vehicle_id is not None and self.vehicle_type_id is not None:
            raise refusing(
                "Name a vehicle or a type, not both.",
                code="vehicle_and_type",
                field="vehicle_type",
            )
        if self.vehicle_id is not None and self.vehicles != 1:
            raise refusing(
                "One named vehicle counts as one.", code="one_vehicle", field="vehicles"
            )
        if next(self.running_days(self.first, self.last), None) is None:
            raise refusing(
                "None of these days of the week lies between the two dates.",
                code="no_day",
                field="weekdays",
            )

    def running_days(self, first: dt.date, last: dt.date) -> Iterator[dt.date]:
        """Yield the days of a window, both ends included, on which the line runs."""
        wanted = set(self.weekdays)
        begins, ends = max(first, self.first), min(last, self.last)
        for number in range((ends - begins).days + 1):
            day = begins + dt.timedelta(days=number)
            if str(day.isoweekday()) in wanted:
                yield day
