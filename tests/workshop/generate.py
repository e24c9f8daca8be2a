"""Made-up fleets with a workshop somewhat too small, the same for the same numbers."""

from datetime import date
from random import Random

from fleet.workshop.engine.problem import (
    WEEK,
    Capacity,
    Float,
    Job,
    Need,
    Problem,
    Vehicle,
)
from fleet.workshop.vocabulary import Place

YEAR = 365
# label, interval in days, hours by skill, weeks, place, group of exchange units
WORK = (
    ("Yearly examination", YEAR, {"fitter": 12}, 1, Place.PIT, None),
    ("Distributor change", 6 * YEAR, {"fitter": 10, "tester": 6}, 1, Place.ROAD, "D"),
    ("Cylinder overhaul", 5 * YEAR, {"fitter": 30}, 2, Place.ROAD, "C"),
    ("Hoses", 4 * YEAR, {"fitter": 4}, 1, Place.ANYWHERE, None),
    ("Reservoir examination", 8 * YEAR, {"fitter": 8, "boiler": 6}, 1, Place.PIT, None),
    ("Slack adjuster", 3 * YEAR, {"fitter": 9}, 1, Place.ROAD, None),
)


def generated(
    vehicles: int, *, weeks: int = 104, seed: int = 1, more_places: int = 0
) -> Problem:
    """A fleet of this many vehicles; the workshop grows with it.

    With three pits for 150 vehicles, nearly every week of every pit is asked for.
    """
    chance = Random(seed)
    fleet = tuple(
        Vehicle(f"v{n}", f"Van {n}", frozenset({("air", "vacuum")[n % 2]}))
        for n in range(vehicles)
    )
    jobs = tuple(_job(chance, v, n) for v in fleet for n in range(len(WORK)))
    return Problem(
        start=date(2026, 1, 5),
        weeks=weeks,
        vehicles=fleet,
        jobs=jobs,
        capacity=_capacity(vehicles, weeks, more_places),
        floats=(
            Float("D", "distributors", max(2, vehicles // 25), 10),
            Float("C", "cylinders", max(2, vehicles // 20), 8),
        ),
        needs=tuple(
            Need(pool, week, vehicles * 17 // 40, days=3)
            for pool in ("air", "vacuum")
            for week in range(weeks)
            if 14 <= week % 52 < 42
        ),
    )


def _job(chance: Random, vehicle: Vehicle, kind: int) -> Job:
    label, interval, hours, weeks, place, group = WORK[kind]
    due = chance.randrange(-30, interval)
    return Job(
        key=f"{vehicle.key}.{kind}",
        vehicle=vehicle.key,
        label=label,
        due=due,
        last_good=due + 28,
        life=interval,
        hours=hours,
        weeks=weeks,
        place=place,
        group=group,
        earliest=max(0, (due - 84) // WEEK),
        interval=interval,
        tolerance=28,
        holds=vehicle.pools,
    )


def _capacity(vehicles: int, weeks: int, more_places: int) -> Capacity:
    """Fewer hours in the running season; closed at Christmas."""
    fitter = tuple(
        max(36, round(vehicles * (0.45 if 14 <= week % 52 < 42 else 0.75)))
        for week in range(weeks)
    )
    return Capacity(
        hours={
            "fitter": fitter,
            "tester": (max(6, vehicles // 8),) * weeks,
            "boiler": (max(6, vehicles // 10),) * weeks,
        },
        roads=(max(1, vehicles // 40) + more_places,) * weeks,
        pits=(max(1, vehicles // 50) + more_places,) * weeks,
        closed=frozenset(w for w in range(weeks) if w % 52 == 51),
    )
