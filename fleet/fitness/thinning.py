"""What is known of the walls of vessels, as the files of vehicles hold it."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace
from operator import attrgetter, itemgetter
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.engineering.walls import RequiredWall, WallFigures, required_wall
from fleet.fitness.facts import EquipmentFact, SurveyFact
from fleet.register.vocabulary import DiameterAt, head_of

# vehicle, item, test, revision, moment (4), point, mm, within, id; then the figures of a
# required wall: pressure, diameter, where measured, stress, efficiency, ends, crown
Row = tuple[Any, ...]

_UNKNOWN = RequiredWall(None, "its particulars are not recorded")


def with_surveys(
    equipment: Mapping[int, EquipmentFact],
    rows: Sequence[Row],
    procedures: Mapping[int, tuple[str, int]],
) -> dict[int, EquipmentFact]:
    """Return items with their thickness surveys and their newest required thickness."""
    walls: dict[int, RequiredWall] = {}
    points: dict[int, dict[int, list[Row]]] = {}
    for row in sorted(dict.fromkeys(rows), key=itemgetter(11)):
        if row[2] is None:
            walls[row[1]] = required_wall(row[9], _figures(row))
        else:
            points.setdefault(row[1], {}).setdefault(row[2], []).append(row)
    return {
        key: replace(
            item,
            surveys=_surveys(points.get(key, {}), procedures),
            minimum_thickness_mm=walls.get(key, _UNKNOWN).thickness_mm,
            minimum_basis=walls.get(key, _UNKNOWN).basis,
        )
        if key in walls or key in points
        else item
        for key, item in equipment.items()
    }


def _figures(row: Row) -> WallFigures:
    pressure, diameter, measured, stress, efficiency, ends, crown = row[12:]
    outside = measured == DiameterAt.OUTSIDE
    head = head_of(ends)
    return WallFigures(pressure, diameter, outside, stress, efficiency, head, crown)


def _surveys(
    tests: Mapping[int, list[Row]], procedures: Mapping[int, tuple[str, int]]
) -> tuple[SurveyFact, ...]:
    found = [
        SurveyFact(
            _moment(rows[0]),
            procedures[rows[0][3]][0],
            test,
            tuple((row[8], row[9], row[10]) for row in rows),
        )
        for test, rows in tests.items()
    ]
    found.sort(key=attrgetter("test"))
    return tuple(found)


def _moment(row: Row) -> Moment:
    earliest, latest, at, order = row[4:8]
    if earliest is None or latest is None:
        return Moment(None, None, None, order)
    time = dt.time.fromisoformat(at) if at else None
    return Moment(
        dt.date.fromisoformat(earliest), dt.date.fromisoformat(latest), time, order
    )
