"""What forecast and programme are made from and is not recorded yet, with the page to record it."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Manager, QuerySet
from django.urls import reverse

from fleet.register.models import Vehicle
from fleet.upkeep.models import RequirementRevision
from fleet.workshop.models import (
    DiaryLineVersion,
    JobPlanVersion,
    ShopPlaceVersion,
    WorkTimeVersion,
)

_Wanted = tuple[QuerySet[Any] | Manager[Any], str, str]  # rows, what to do, where

# Querysets that are only ever asked anew: exists() keeps no rows.
VEHICLES: _Wanted = (Vehicle.objects, "Record the vehicles", "register:vehicle-list")
REQUIREMENTS: _Wanted = (
    RequirementRevision.objects.current(),
    "Draft the requirements, and have them approved",
    "upkeep:policy",
)


@dataclass(frozen=True, slots=True)
class Step:
    """Something to record, and where."""

    words: str
    address: str


def steps_before_a_forecast() -> list[Step]:
    """Return what is still to be recorded before anything can fall due. Two queries."""
    return _not_there([VEHICLES, REQUIREMENTS])


def steps_before_a_search() -> list[Step]:
    """Return what is still to be recorded, first things first. Six queries."""
    current: list[_Wanted] = [
        VEHICLES,
        REQUIREMENTS,
        (
            JobPlanVersion.objects.current(),
            "Say what the work of each requirement takes: its job plan",
            "workshop:plan-list",
        ),
        (
            WorkTimeVersion.objects.current(),
            "Record the hours there are by skill",
            "workshop:capacity",
        ),
        (
            ShopPlaceVersion.objects.current(),
            "Record the roads and pits",
            "workshop:capacity",
        ),
        (
            DiaryLineVersion.objects.current(),
            "Write down what runs, and the vehicles it wants",
            "workshop:diary",
        ),
    ]
    return _not_there(current)


def _not_there(wanted: list[_Wanted]) -> list[Step]:
    return [
        Step(words, reverse(page)) for rows, words, page in wanted if not rows.exists()
    ]
