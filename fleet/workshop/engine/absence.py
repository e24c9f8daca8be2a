"""Vehicles that fill no line of the diary in given weeks, whatever is planned for them."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace

from fleet.workshop.engine.problem import Job, Problem, Vehicle

MARK = "·"  # between a line of the diary and which vehicles it is without
Absence = Mapping[tuple[str, str], frozenset[int]]  # vehicle, line of the diary: weeks
_Without = Mapping[tuple[str, frozenset[str]], str]


def absent(problem: Problem, out: Absence) -> Problem:
    """
    Return the problem with vehicles kept from lines of the diary in given weeks.

    The engine knows who can fill a line, not when. So a line becomes another one in weeks
    in which somebody is missing, and those who are there can fill that one too. Whoever
    is missing in every week of a line can no longer fill it.
    """
    weeks_of: dict[str, set[int]] = defaultdict(set)
    for need in problem.needs:
        weeks_of[need.pool].add(need.week)
    never = {who for who, weeks in out.items() if weeks_of[who[1]] <= weeks}
    by_turn: dict[tuple[str, int], set[str]] = defaultdict(set)
    for (vehicle, pool), weeks in out.items():
        for week in weeks if (vehicle, pool) not in never else ():
            by_turn[pool, week].add(vehicle)
    missing = {n: frozenset(by_turn[n.pool, n.week]) for n in problem.needs}
    without = _named({(n.pool, gone) for n, gone in missing.items() if gone})
    return replace(
        problem,
        vehicles=tuple(_filling(v, without, never) for v in problem.vehicles),
        jobs=tuple(_holding(j, without) for j in problem.jobs),
        needs=tuple(
            replace(n, pool=without[n.pool, gone]) if gone else n
            for n, gone in missing.items()
        ),
    )


def line_of(pool: str) -> str:
    """Return the line of the diary that a pool stands for."""
    return pool.partition(MARK)[0]


def _named(kinds: set[tuple[str, frozenset[str]]]) -> _Without:
    ordered = sorted(kinds, key=lambda kind: (kind[0], sorted(kind[1])))
    return {kind: f"{kind[0]}{MARK}{n}" for n, kind in enumerate(ordered, 1)}


def _filling(
    vehicle: Vehicle, without: _Without, never: set[tuple[str, str]]
) -> Vehicle:
    kept = {pool for pool in vehicle.pools if (vehicle.key, pool) not in never}
    other = {
        name
        for (pool, gone), name in without.items()
        if pool in kept and vehicle.key not in gone
    }
    return replace(vehicle, pools=frozenset(kept | other))


def _holding(job: Job, without: _Without) -> Job:
    other = {name for (pool, _), name in without.items() if pool in job.holds}
    return replace(job, holds=job.holds | other) if other else job
