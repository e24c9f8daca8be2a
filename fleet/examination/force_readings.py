"""Which readings brake force follows from, and what they come to for a whole vehicle."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any, NamedTuple

from fleet.engineering.units import scaled
from fleet.examination.models import ProcedureLine
from fleet.examination.vocabulary import Found, LineKind, Stage
from fleet.register.vocabulary import Scope, System

Taken = tuple[int, int, str, Any, str]  # test, line, position, value, unit

UNITS = {Found.MAXIMUM: ("pressure", "bar"), Found.STROKE: ("length", "mm")}


class Measuring(NamedTuple):
    """What a line measures: "air.maximum" or "vacuum.stroke", its unit, as it was left."""

    key: str
    unit: str
    left: bool
    text: str


def measuring_of(lines: Iterable[ProcedureLine]) -> dict[int, Measuring]:
    """
    Return what each line measures that force follows from, by the line's key.

    A line belongs to the system its procedure is about; one that is about both says
    nothing of either.
    """
    found: dict[int, Measuring] = {}
    for line in lines:
        if line.kind != LineKind.MEASURED or line.finds not in UNITS:
            continue
        quantity, unit = UNITS[Found(line.finds)]
        system = _system(line.revision.scopes)
        if line.quantity == quantity and system is not None:
            left = line.stage == Stage.AS_LEFT
            found[line.pk] = Measuring(f"{system}.{line.finds}", unit, left, line.text)
    return found


def measures_by_test(
    taken: Iterable[Taken], lines: Mapping[int, Measuring]
) -> dict[int, dict[str, float]]:
    """
    Return what was measured in each test: of several cylinders the worst.

    The lowest pressure and the longest stroke of a test count, of each cylinder as it
    was left if it was adjusted.
    """
    each: dict[tuple[int, str, str, str], tuple[bool, float]] = {}
    for test, line, position, value, unit in taken:
        about = lines[line]
        number = scaled(float(Decimal(value)), unit, about.unit)
        place = test, about.key, about.text, position
        each[place] = max(each.get(place, (False, number)), (about.left, number))
    worst: dict[int, dict[str, float]] = {}
    for (test, key, _text, _position), (_left, number) in each.items():
        held = worst.setdefault(test, {})
        worse = max if key.endswith(Found.STROKE) else min
        held[key] = worse(number, held.get(key, number))
    return worst


def _system(scopes: Iterable[str]) -> System | None:
    about = set(scopes)
    air, vacuum = Scope.AIR_BRAKE in about, Scope.VACUUM_BRAKE in about
    if air == vacuum:
        return None
    return System.AIR if air else System.VACUUM
