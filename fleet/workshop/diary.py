"""The running diary as the programme takes it: who can fill each line, and its needs.

A line of the diary is a pool by itself: a vehicle that could fill two lines counts for
both. Which vehicle goes into which train is for those who make the trains up.
"""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from fleet.register.models import VehicleVersion
from fleet.register.vocabulary import Fitment, System, VehicleStatus
from fleet.workshop.engine.problem import WEEK, Need
from fleet.workshop.models import DiaryLineVersion


def pool_of(line: DiaryLineVersion) -> str:
    """Return the pool a line of the diary is."""
    return f"line-{line.line_id}"


def pools(start: dt.date, weeks: int) -> dict[str, str]:
    """Return what runs, by pool, for the lines with a day in these weeks. One query."""
    return {pool_of(line): line.title for line in lines_in(start, weeks)}


def needs(start: dt.date, weeks: int) -> tuple[Need, ...]:
    """
    Return how many vehicles each line wants in each week, and on how many days of it.

    `start` is a Monday. One query.
    """
    return tuple(
        Need(pool_of(line), week, line.vehicles, line.weight, len(days))
        for line in lines_in(start, weeks)
        for week, days in sorted(days_by_week(line, start, weeks).items())
    )


def pools_of(
    start: dt.date | None = None, weeks: int = 0
) -> Mapping[str, Mapping[System, frozenset[str]]]:
    """
    Return the pools each vehicle can fill, by vehicle (its key as text) and system.

    That is: in traffic, braked on the line's system, and of its type or the one it
    names. Whether it is fit then is another matter. With `start`, a Monday, only lines
    with a day in so many weeks count; without it the whole diary does. Two queries.
    """
    every = DiaryLineVersion.objects.current()
    wanted = Wanted.by(every if start is None else lines_in(start, weeks))
    return {
        str(vehicle.key): {s: wanted.of(vehicle, s) for s in vehicle.braked}
        for vehicle in runners()
    }


def days_asked(start: dt.date, weeks: int) -> dict[int, float]:
    """
    Return the days in service a day that the diary asks of each vehicle, on average.

    On each day that a line runs, the vehicles that could fill it share alike in the
    number it wants; no vehicle is asked for more than once a day. A vehicle in no line
    is left out. Two queries.
    """
    lines = lines_in(start, weeks)
    wanted = Wanted.by(lines)
    fills = {
        vehicle.key: frozenset[str]().union(
            *(wanted.of(vehicle, system) for system in vehicle.braked)
        )
        for vehicle in runners()
    }
    fillers = Counter(pool for filled in fills.values() for pool in filled)
    shares: dict[str, tuple[DiaryLineVersion, float]] = {}
    for line in lines:
        pool = pool_of(line)
        if fillers[pool]:
            shares[pool] = line, line.vehicles / fillers[pool]
    last = start + dt.timedelta(days=WEEK * weeks - 1)
    # Vehicles of a kind fill the same lines: each set of lines is counted once.
    asked = {
        filled: _days_of([shares[pool] for pool in sorted(filled)], start, last)
        for filled in set(fills.values())
        if filled
    }
    return {
        key: asked[filled] / (WEEK * weeks) for key, filled in fills.items() if filled
    }


def _days_of(
    shares: Iterable[tuple[DiaryLineVersion, float]], first: dt.date, last: dt.date
) -> float:
    """Return the days in service that shares in lines come to, each day one at the most."""
    found: dict[dt.date, float] = defaultdict(float)
    for line, share in shares:
        for day in line.running_days(first, last):
            found[day] += share
    return sum(min(1.0, share) for share in found.values())


@dataclass(frozen=True, slots=True)
class Runner:
    """A vehicle in traffic, and the systems it is braked on."""

    key: int
    type: int
    braked: frozenset[System]


def runners() -> Iterator[Runner]:
    """Yield the vehicles in traffic. One query."""
    rows = VehicleVersion.objects.newest().filter(status=VehicleStatus.IN_TRAFFIC)
    for key, type_, air, vacuum in rows.order_by("vehicle").values_list(
        "vehicle", "type", "air", "vacuum"
    ):
        fitted = {System.AIR: air, System.VACUUM: vacuum}
        braked = frozenset(
            s for s, fitment in fitted.items() if fitment == Fitment.BRAKED
        )
        yield Runner(key, type_, braked)


@dataclass(slots=True)
class Wanted:
    """The pools by what fills them: any vehicle of a system, one of a type, one by name."""

    any: dict[System, set[str]] = field(default_factory=lambda: defaultdict(set))
    typed: dict[tuple[System, int], set[str]] = field(
        default_factory=lambda: defaultdict(set)
    )
    named: dict[tuple[System, int], set[str]] = field(
        default_factory=lambda: defaultdict(set)
    )

    @classmethod
    def by(cls, lines: Iterable[DiaryLineVersion]) -> "Wanted":
        """Sort the lines."""
        found = cls()
        for line in lines:
            system = System(line.system)
            if line.vehicle_id is not None:
                found.named[system, line.vehicle_id].add(pool_of(line))
            elif line.vehicle_type_id is not None:
                found.typed[system, line.vehicle_type_id].add(pool_of(line))
            else:
                found.any[system].add(pool_of(line))
        return found

    def of(self, vehicle: Runner, system: System) -> frozenset[str]:
        """Return the pools a vehicle can fill on a system."""
        typed = self.typed.get((system, vehicle.type), ())
        named = self.named.get((system, vehicle.key), ())
        return frozenset(self.any.get(system, ())).union(typed, named)


def lines_in(start: dt.date, weeks: int) -> list[DiaryLineVersion]:
    """Return the lines with a date in so many weeks from a Monday. One query."""
    last = start + dt.timedelta(days=WEEK * weeks - 1)
    return list(
        DiaryLineVersion.objects.between(start, last).select_related("vehicle_type")
    )


def days_by_week(
    line: DiaryLineVersion, start: dt.date, weeks: int
) -> dict[int, list[dt.date]]:
    """Return the days a line runs on, by week from a Monday; weeks without are left out."""
    found: dict[int, list[dt.date]] = defaultdict(list)
    last = start + dt.timedelta(days=WEEK * weeks - 1)
    for day in line.running_days(start, last):
        found[(day - start).days // WEEK].append(day)
    return found
