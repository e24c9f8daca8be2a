"""The strip of a vehicle as it would be if the programme is done, where it is asked for."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from fleet.engineering.calendar import add_months
from fleet.fitness.level_strip import strip_of
from fleet.fitness.status import board_rows
from fleet.records.clock import today
from fleet.register.models import Vehicle
from fleet.ui.strip import StripRow
from fleet.web.vehicle_page import YEARS_BACK, YEARS_ON
from fleet.workshop.if_done import programme_in_force, spans_if_done
from fleet.workshop.models import Programme


@dataclass(frozen=True, slots=True)
class IfDonePart:
    """What the records and a programme together would give; no programme: none to show."""

    programme: Programme | None
    strip: list[StripRow]


def if_done_part(
    vehicle: Vehicle, day: dt.date, asked: Mapping[str, str]
) -> IfDonePart | None:
    """Return the strip with the programme done, about a day; None where it is not asked for."""
    if asked.get("ahead") != "done":
        return None
    programme = programme_in_force()
    if programme is None:
        return IfDonePart(None, [])
    rows = board_rows(
        day,
        first=add_months(day, -12 * YEARS_BACK),
        last=add_months(day, 12 * YEARS_ON),
        vehicle_ids=[vehicle.pk],
        supposed=spans_if_done(programme, today(), [vehicle.pk]),
    )
    return IfDonePart(programme, strip_of(rows[0]) if rows else [])
