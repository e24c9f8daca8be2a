"""What a programme costs, played through week by week. Knows nothing of how it was found."""

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from fleet.workshop.engine.problem import (
    EFFORT,
    LATE,
    MOVES,
    SHORTFALL,
    WEEK,
    Job,
    Level,
    Need,
    Problem,
    Programme,
    Starts,
    Turn,
    Visit,
)

LAST_DAY = WEEK - 1


@dataclass(frozen=True, slots=True)
class Played:
    """One time a job falls due, and when it is done."""

    job: Job
    occurrence: int
    due: int
    last_good: int
    start: int | None  # week; None: not within the horizon

    def done(self, horizon: int) -> int:
        """The day it is done; the first week after the horizon where it is left undone."""
        return self.job.done(horizon if self.start is None else self.start)


def play(job: Job, starts: Starts, horizon: int) -> Iterator[Played]:
    """Each time this job falls due, up to the first that is left undone."""
    due, last_good, occurrence = job.due, job.last_good, 0
    while True:
        start = starts.get((job.key, occurrence))
        yield Played(job, occurrence, due, last_good, start)
        if start is None or job.interval is None:
            return
        due = job.done(start) + job.interval
        last_good = due + job.tolerance
        occurrence += 1
        if due > job.done(horizon) and (job.key, occurrence) not in starts:
            return


def visits_of(problem: Problem, starts: Starts) -> tuple[Visit, ...]:
    """Jobs that begin on one vehicle in one week are one visit."""
    together: dict[tuple[int, str], list[Turn]] = defaultdict(list)
    for turn, week in sorted(starts.items()):
        together[week, problem.job[turn[0]].vehicle].append(turn)
    return tuple(
        Visit(
            vehicle, week, max(problem.job[key].weeks for key, _ in turns), tuple(turns)
        )
        for (week, vehicle), turns in sorted(together.items())
    )


def _kept_out(problem: Problem, played: list[Played]) -> set[tuple[str, str, int]]:
    """Vehicle, line of the diary and week: where overdue work keeps it from that line."""
    out = set()
    for turn in played:
        until = problem.weeks if turn.start is None else turn.start
        first = max(0, (turn.last_good - LAST_DAY) // WEEK + 1)
        for week in range(first, until):
            out |= {(turn.job.vehicle, pool, week) for pool in turn.job.holds}
    return out


def fit_vehicles(problem: Problem, starts: Starts) -> dict[Need, frozenset[str]]:
    """For each line of the diary, the vehicles that are fit for it and not in the shop."""
    played = [turn for job in problem.jobs for turn in play(job, starts, problem.weeks)]
    out = _kept_out(problem, played)
    visits = visits_of(problem, starts)
    inside = {(v.vehicle, v.week + n) for v in visits for n in range(v.weeks)}
    return {
        need: frozenset(
            v.key
            for v in problem.vehicles
            if need.pool in v.pools
            and (v.key, need.week) not in inside
            and (v.key, need.pool, need.week) not in out
        )
        for need in problem.needs
    }


def _shortfall(problem: Problem, starts: Starts) -> int:
    """Vehicle-days short of the diary, by weight."""
    return sum(
        max(0, need.vehicles - len(fit)) * need.days * need.weight
        for need, fit in fit_vehicles(problem, starts).items()
    )


def score(problem: Problem, starts: Starts, found_by: str) -> Programme:
    """The programme with its four levels, none of them with a bound yet."""
    horizon = problem.weeks
    played = [turn for job in problem.jobs for turn in play(job, starts, horizon)]
    visits = visits_of(problem, starts)
    wasted = sum(
        max(0, turn.due - turn.done(horizon)) * turn.job.waste
        for turn in played
        if turn.start is not None
    )
    counted = Counter(
        {
            SHORTFALL: _shortfall(problem, starts),
            LATE: sum(max(0, turn.done(horizon) - turn.due) for turn in played),
            EFFORT: wasted + len(visits) * problem.visit_points,
            MOVES: sum(
                starts.get(turn) != week for turn, week in problem.published.items()
            ),
        }
    )
    levels = tuple(
        Level(name, counted[name]) for name in (SHORTFALL, LATE, EFFORT, MOVES)
    )
    return Programme(dict(starts), visits, levels, wasted, found_by)
