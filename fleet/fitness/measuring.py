"""What brake force follows from, as the files of vehicles hold it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from fleet.engineering.figures import Figures
from fleet.examination.force_readings import (
    UNITS,
    Measuring,
    Taken,
    measures_by_test,
    measuring_of,
)
from fleet.examination.models import ProcedureLine
from fleet.fitness.facts import TestFact
from fleet.register.models import BrakeFigures
from fleet.register.vocabulary import System

Row = tuple[Any, ...]  # vehicle, test, line, position, value, unit


def figures_by_revision() -> dict[int, tuple[tuple[System, Figures], ...]]:
    """Return the brake figures of every type revision that has any."""
    found: dict[int, tuple[tuple[System, Figures], ...]] = {}
    for row in BrakeFigures.objects.order_by("revision", "system"):
        pair = (System(row.system), row.figures)
        found[row.revision_id] = (*found.get(row.revision_id, ()), pair)
    return found


def measuring_lines() -> dict[int, Measuring]:
    """Return what each line measures that force follows from, by the line's key."""
    lines = ProcedureLine.objects.filter(finds__in=list(UNITS))
    return measuring_of(lines.select_related("revision").order_by("pk"))


def with_measures(
    tests: Sequence[TestFact], rows: Iterable[Row], lines: Mapping[int, Measuring]
) -> tuple[TestFact, ...]:
    """Return tests with what was measured in them."""
    measured = measures_by_test((_taken(row) for row in rows), lines)
    return tuple(
        replace(test, measures=tuple(sorted(measured[test.id].items())))
        if test.id in measured
        else test
        for test in tests
    )


def _taken(row: Row) -> Taken:
    _vehicle, test, line, position, value, unit = row
    return test, line, position, value, unit
