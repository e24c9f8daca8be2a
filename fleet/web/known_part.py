"""What the page of a vehicle says where it is asked what was known at a time."""

import datetime as dt
from dataclasses import dataclass

from fleet.fitness.status import StoredSpan, spans_at
from fleet.register.models import Vehicle
from fleet.web.asked import DayForm
from fleet.web.history import recorded_since


@dataclass(frozen=True, slots=True)
class KnownPart:
    """The time asked for, what the register showed then, what was recorded since."""

    at: dt.datetime
    number: int
    shown: list[StoredSpan]  # of the day, as stored then; none: nothing was
    since: int  # entries that touched the vehicle later


def known_part(asked: DayForm, vehicle: Vehicle) -> KnownPart | None:
    """Return the part; None where the page is of what is known now. Two queries."""
    if asked.knowledge is None:
        return None
    number = asked.knowledge.number
    return KnownPart(
        asked.knowledge.at,
        number,
        spans_at(vehicle.pk, asked.day, number),
        recorded_since(vehicle, number),
    )
