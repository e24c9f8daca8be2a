"""The windows of each vehicle along the months, over the strip of its levels."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fleet.fitness.level_strip import strip_of
from fleet.fitness.status import board_rows
from fleet.register.models import VehicleVersion
from fleet.ui.drawing import to_svg
from fleet.ui.strip import StripRow, strip_words
from fleet.ui.window_strip import DueWindow, Lane, window_strip, window_words
from fleet.upkeep.due import later, written
from fleet.workshop.forecast import ForecastRow

WIDTHS = (1120.0, 360.0)  # for a wide screen or paper, and for a phone


@dataclass(frozen=True, slots=True)
class VehicleStrip:
    """One vehicle's windows and levels, drawn for a wide screen and for a phone."""

    vehicle: VehicleVersion
    lanes: list[tuple[str, str]]  # codes and titles
    wide: str
    narrow: str


def vehicles_of(rows: Iterable[ForecastRow]) -> dict[int, list[ForecastRow]]:
    """Return the rows by vehicle, in order of running number."""
    found: dict[int, list[ForecastRow]] = {}
    for row in sorted(rows, key=lambda row: row.number):
        found.setdefault(row.vehicle.vehicle_id, []).append(row)
    return found


def vehicle_strips(
    chosen: Sequence[tuple[int, list[ForecastRow]]], first: dt.date, last: dt.date
) -> list[VehicleStrip]:
    """Return the strip of each vehicle given, a fixed number of queries for them all."""
    keys = [vehicle for vehicle, _ in chosen]
    board = board_rows(first, first=first, last=last, vehicle_ids=keys)
    levels = {row.vehicle: [] if row.stale else strip_of(row) for row in board}
    return [
        _strip(rows, levels.get(vehicle, []), first, last) for vehicle, rows in chosen
    ]


def _strip(
    rows: list[ForecastRow], levels: list[StripRow], first: dt.date, last: dt.date
) -> VehicleStrip:
    by_job: dict[str, list[ForecastRow]] = {}
    for row in sorted(rows, key=lambda row: row.falling.key):
        by_job.setdefault(row.falling.key, []).append(row)
    lanes = [
        Lane(found[0].falling.code, tuple(_window(row) for row in found))
        for found in by_job.values()
    ]
    vehicle = rows[0].vehicle
    drawn = [
        to_svg(
            window_strip(lanes, levels, first=first, last=last, today=first, width=w),
            title=f"What falls due on {vehicle.number}, over its brake status",
            desc=f"{window_words(lanes)} {strip_words(levels)}",
            css="strip",
        )
        for w in WIDTHS
    ]
    titles = {row.falling.code: row.falling.title for row in rows}
    return VehicleStrip(vehicle, sorted(titles.items()), *drawn)


def _window(row: ForecastRow) -> DueWindow:
    due = row.due or later(row.today, -1)  # what has no date is drawn as overdue
    last_good = row.last_good or due
    return DueWindow(
        earliest=min(row.earliest or due, due),
        due=due,
        last_good=max(last_good, due),
        conceded=row.conceded,
        title=f"{row.falling.title}{_item(row)}: {window_in_words(row)}",
    )


def _item(row: ForecastRow) -> str:
    return f", {row.falling.item.words}" if row.falling.item else ""


def window_in_words(row: ForecastRow) -> str:
    """Return the window in words, as a reader of the strip needs it."""
    if row.due is None:
        return "overdue, no date can be worked out"
    parts = [f"due {written(row.due)}"]
    if row.earliest and row.earliest < row.due:
        parts.insert(0, f"sensible from {written(row.earliest)}")
    if row.last_good and row.last_good != row.due:
        parts.append(f"good to {written(row.last_good)}")
    if row.overdue_since:
        parts.append(f"overdue since {written(row.overdue_since)}")
    if row.conceded:
        how = "conceded to" if row.standing else "a concession could go to"
        parts.append(f"{how} {written(row.conceded)}")
    if row.time:
        parts.append("if done on its due date before")
    return ", ".join(parts)
