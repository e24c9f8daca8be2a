"""The register made into the problem a programme answers: work, shop, diary, pins."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import replace

from fleet.fitness.status import numbers_of
from fleet.records.refusing import refusing
from fleet.register.models import VehicleVersion
from fleet.register.vocabulary import System
from fleet.workshop.capacity import capacity
from fleet.workshop.diary import needs, pools_of
from fleet.workshop.engine.absence import absent
from fleet.workshop.engine.problem import (
    WEEK,
    Job,
    Problem,
    Turn,
    Vehicle,
)
from fleet.workshop.exchange import floats
from fleet.workshop.following import followed, key_of
from fleet.workshop.jobs import engine_jobs
from fleet.workshop.models import JobPlanVersion, Programme
from fleet.workshop.pinning import engine_pins
from fleet.workshop.suppositions import Supposition, supposing
from fleet.workshop.unfit import Unfit, unfit_weeks

Pools = Mapping[str, Mapping[System, frozenset[str]]]


def problem(
    start: dt.date,
    weeks: int,
    rate: float,
    supposed: Iterable[Supposition] = (),
    *,
    on: dt.date,
) -> Problem:
    """
    Return the problem of so many weeks from a Monday, as the register stands now.

    `rate` is how many lives one visit less is worth. `on` is the day this is asked: what
    is away and expected from then on is counted on, also before the first week. A
    vehicle is counted for a line of the diary on each system it is braked on, except in
    weeks in which the rules would not have it braked though nothing were overdue. Raises ValidationError, with what to
    do: `no_job_plans`, `no_capacity`, `nothing_due`. A fixed number of queries.
    """
    pools = pools_of(start, weeks)
    jobs = tuple(engine_jobs(start, weeks, pools_of=pools))
    there = capacity(start, weeks)
    _refuse_empty(jobs, anything=any(map(any, there.hours.values())))
    lines = needs(start, weeks)
    vehicles = _vehicles(pools, jobs)
    found = Problem(
        start=start,
        weeks=weeks,
        vehicles=vehicles,
        jobs=jobs,
        capacity=there,
        floats=floats(start, weeks, on=on),
        needs=lines,
        rate=rate,
    )
    unfit = unfit_weeks(start, weeks, [v.key for v in vehicles if v.pools])
    found = absent(found, _out(pools, unfit))
    found = replace(found, pins=engine_pins(found), published=published(found))
    return supposing(found, supposed)


def _refuse_empty(jobs: tuple[Job, ...], *, anything: bool) -> None:
    if not JobPlanVersion.objects.current().exists():
        raise refusing(
            "No job plan is recorded. Say on the forecast what the work of each "
            "requirement takes: hours, weeks, place.",
            code="no_job_plans",
        )
    if not anything:
        raise refusing(
            "No hours are recorded for these weeks. Enter what the workshop has under "
            "Capacity.",
            code="no_capacity",
        )
    if not jobs:
        raise refusing(
            "Nothing that has a job plan falls due in these weeks. Plan for longer, or "
            "give the requirements that fall due their job plans.",
            code="nothing_due",
        )


def _vehicles(pools: Pools, jobs: Iterable[Job]) -> tuple[Vehicle, ...]:
    """Return every vehicle that has work or can fill a line, in order of number."""
    held = {key: frozenset().union(*by.values()) for key, by in pools.items()}
    keys = {key for key, can_fill in held.items() if can_fill}
    keys |= {job.vehicle for job in jobs}
    numbers = numbers_of(map(int, keys))
    rows = VehicleVersion.objects.current().filter(vehicle__in=list(map(int, keys)))
    about = {
        str(key): (kind, depot or "")
        for key, kind, depot in rows.order_by("since_key").values_list(
            "vehicle", "type__code", "depot__name"
        )
    }
    ordered = sorted(keys, key=lambda key: (numbers.get(int(key), ""), int(key)))
    return tuple(
        Vehicle(
            key,
            numbers.get(int(key), key),
            held.get(key, frozenset()),
            *about.get(key, ("", "")),
        )
        for key in ordered
    )


def _out(pools: Pools, unfit: Unfit) -> dict[tuple[str, str], frozenset[int]]:
    """Return the weeks in which a vehicle is not fit for a line, on any system it fills it on."""
    found: dict[tuple[str, str], frozenset[int]] = {}
    for (vehicle, system), weeks in unfit.items():
        for pool in pools.get(vehicle, {}).get(system, ()):
            found[vehicle, pool] = found.get((vehicle, pool), frozenset()) | weeks
    return found


def published(found: Problem) -> dict[Turn, int]:
    """Return where the newest published programme has the work that is not done yet."""
    newest = Programme.objects.first()
    starts: dict[Turn, int] = {}
    if newest is None:
        return starts
    waiting: dict[str, int] = {}
    for row in followed(newest):
        key = key_of(row.job)
        if row.done_on is not None or key not in found.job:
            continue
        turn = key, waiting.get(key, 0)
        waiting[key] = turn[1] + 1
        week = found.day(row.job.visit.monday) // WEEK
        if 0 <= week < found.weeks:
            starts[turn] = week
    return starts
