"""The due list: what falls due across the fleet, overdue first."""

import datetime as dt

from django.db.models import (
    Case,
    CharField,
    F,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)

from fleet.fitness.models import DueDate
from fleet.fitness.status import due_between
from fleet.register.models import EquipmentVersion, VehicleVersion
from fleet.web.asked import DueForm

THEN = ("number", "pk")  # `number` is the column `due_between` adds


def due_rows(asked: DueForm, today: dt.date) -> "QuerySet[DueDate]":
    """Return the rows asked for, with serial number and `standing`: overrun, or past."""
    serial = EquipmentVersion.objects.current().filter(equipment=OuterRef("equipment"))
    standing = Case(
        When(last_good_day__lt=today, then=Value("overrun")),
        When(due_on__lt=today, then=Value("past, within tolerance")),
        default=Value(""),
        output_field=CharField(),
    )
    rows = due_between(None, asked.until(today)).annotate(
        serial=Subquery(serial.order_by("-since_key").values("serial")[:1]),
        standing=standing,
    )
    if asked.value("depot"):
        home = VehicleVersion.objects.current().open_ended()
        home = home.filter(depot=asked.value("depot"))
        rows = rows.filter(vehicle__in=home.values("vehicle"))
    if asked.value("find"):
        rows = rows.filter(_matching(asked.value("find").strip()))
    return rows.order_by(F("due_on").asc(nulls_first=True), *THEN)


def _matching(words: str) -> Q:
    # `number` is the column `due_between` adds.
    return (
        Q(title__icontains=words)
        | Q(requirement__iexact=words)
        | Q(number__icontains=words)
    )


def overrun(today: dt.date) -> int:
    """Return how many requirements are overrun across the fleet."""
    return DueDate.objects.filter(last_good_day__lt=today).count()
