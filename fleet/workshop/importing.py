"""Taking the rows of a sheet into the diary, all of them or none."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from fleet.people.models import User
from fleet.records.deeds import deed
from fleet.records.refusing import refusing
from fleet.workshop.keeping import LINES, add
from fleet.workshop.models import DiaryLineVersion

Facts = dict[str, Any]  # the columns of a line
COLUMNS = (
    "title",
    "first",
    "last",
    "weekdays",
    "system",
    "vehicle_type_id",
    "vehicles",
    "vehicle_id",
    "weight",
)
Mark = tuple[Any, ...]


def mark_of(facts: Mapping[str, Any]) -> Mark:
    """Return what makes two lines the same: all they say, whatever the capitals."""
    return tuple(
        facts[name].lower() if name == "title" else facts[name] for name in COLUMNS
    )


def marks(first: dt.date, last: dt.date) -> dict[Mark, int]:
    """Return the lines with a day in a window, by mark. One query."""
    rows = DiaryLineVersion.objects.between(first, last).values("line", *COLUMNS)
    return {mark_of(row): row["line"] for row in rows}


def import_lines(*, by: User | None, lines: Sequence[Facts]) -> list[DiaryLineVersion]:
    """
    Add the lines of a sheet to the diary in one deed.

    Raises ValidationError: `no_rows`, `there_already` where the diary has one of them
    by now; then nothing is written.
    """
    if not lines:
        raise refusing("There is nothing to add.", code="no_rows")
    with deed("workshop.import_diary", by=by):
        first = min(line["first"] for line in lines)
        held = marks(first, max(line["last"] for line in lines))
        if any(mark_of(line) in held for line in lines):
            raise refusing(
                "Some of these lines are in the diary by now. Send the sheet again.",
                code="there_already",
            )
        return [add(LINES, by=by, **line) for line in lines]
