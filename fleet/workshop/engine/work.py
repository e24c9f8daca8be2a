"""Each job as numbers: what every week it may begin in costs, worked out once."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fleet.workshop.engine.problem import WEEK, Job, Problem
from fleet.workshop.vocabulary import Place, Wish

Numbers = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]

# One whole number holds a job's part of all levels, the first level highest.
MOVE, EFFORT, LATE, SHORT, PIN = 1, 2**6, 2**30, 2**45, 2**58
MOST_SHORT = 2**12 * SHORT  # of one job; more would run over into the pins
NEVER = 2**60
RANK = {place: n for n, place in enumerate(Place)}


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """A job, and tables over the weeks in which a turn of it may begin."""

    job: Job
    number: int  # in the order of the problem
    rank: int  # of the place it needs
    times: int  # how often it can usefully be begun
    own: Numbers  # 0, 1, 2 ...: the weeks themselves
    first: Numbers  # late and wasted, of the first time
    undone: int  # late, where it is never begun
    after: Numbers  # late, where it is begun here and not again
    pair: Numbers | None  # late and wasted of the next time: row this, column next
    gap: int  # weeks from one time to the first sensible week of the next
    hours: tuple[tuple[str, tuple[int, ...]], ...]  # by skill, by week of the stay
    extra: tuple[Numbers, ...]  # closures, moves and pins, of each time
    missing: tuple[int, ...]  # moves and pins, where it ends before this time
    held_from: int  # first week in which it keeps the vehicle from the diary
    held_again: Numbers  # the same of the next time


class Works:
    """All jobs of a problem that it makes sense to begin."""

    def __init__(self, problem: Problem, *, hopeless: bool = False) -> None:
        """`hopeless`: also jobs for which no exchange unit is there or comes."""
        self.problem, self._hopeless = problem, hopeless
        self._pairs: dict[tuple[int, ...], Numbers] = {}
        self._at, self._not_in = _pins_of_jobs(problem)
        self._visit_pins = {
            p.vehicle for p in problem.pins if p.job is None and p.wish is Wish.AT
        }
        self._at_of: dict[str, list[tuple[int, frozenset[int]]]] = {}
        for (key, time), pinned in self._at.items():
            self._at_of.setdefault(key, []).extend((time, weeks) for weeks in pinned)
        self._published_of: dict[str, list[tuple[int, int]]] = {}
        for (key, time), week in problem.published.items():
            self._published_of.setdefault(key, []).append((time, week))
        self._groups = {
            stock.group for stock in problem.floats if stock.stock or stock.returns
        }
        self._numbers = {job.key: n for n, job in enumerate(problem.jobs)}
        self.of: dict[str, list[Work]] = {
            key: [self._work(job) for job in jobs]
            for key, jobs in problem.jobs_of.items()
        }
        self.useful = {
            key: [work for work in works if work.times]
            for key, works in self.of.items()
        }

    @property
    def size(self) -> int:
        """Weeks in which some turn could begin, over all turns."""
        return sum(
            work.times * len(work.own)
            for works in self.useful.values()
            for work in works
        )

    def wishes_unmet(self, key: str, chain: tuple[int, ...]) -> tuple[int, int]:
        """Pins that a job's weeks break, and moves from the published programme."""
        pins, published = self._at_of.get(key), self._published_of.get(key)
        broken = moved = 0
        if pins:
            broken = sum(
                (chain[t] if t < len(chain) else None) not in weeks for t, weeks in pins
            )
        if published:
            moved = sum(
                (chain[t] if t < len(chain) else None) != week for t, week in published
            )
        return broken, moved

    def wishes_of(self, key: str, time: int) -> tuple[list[frozenset[int]], list[int]]:
        """Pins on a time of a job, and where it was published."""
        week = self.problem.published.get((key, time))
        return self._at.get((key, time), []), [] if week is None else [week]

    def _work(self, job: Job) -> Work:
        horizon = self.problem.weeks
        weeks = np.arange(max(0, horizon - job.weeks + 1), dtype=np.int64)
        done = WEEK * (weeks + job.weeks - 1) + job.done(0) % WEEK
        late = np.maximum(0, done - job.due) * LATE
        wasted = np.maximum(0, job.due - done) * (job.waste * EFFORT)
        end = job.done(horizon)
        again = job.interval is not None
        times = self._times(job)
        return Work(
            job=job,
            number=self._numbers[job.key],
            rank=RANK[job.place],
            times=times,
            own=weeks,
            first=np.where(weeks < job.earliest, NEVER, late + wasted),
            undone=max(0, end - job.due) * LATE,
            after=np.maximum(0, end - done - job.interval) * LATE
            if job.interval is not None
            else 0 * done,
            pair=self._pair(job) if again and times > 1 else None,
            gap=apart(job),
            hours=tuple(
                (skill, tuple(job.hours_in(skill, n) for n in range(job.weeks)))
                for skill in job.hours
            ),
            extra=tuple(self._extra(job, t, weeks) for t in range(times)),
            missing=self._missing(job, times),
            held_from=first_held(job.last_good),
            held_again=(done + (job.interval or 0) + job.tolerance - (WEEK - 1)) // WEEK
            + 1,
        )

    def _times(self, job: Job) -> int:
        """Once more, as long as it falls due before it would count as done anyway."""
        horizon, end = self.problem.weeks, job.done(self.problem.weeks)
        if (
            job.group is not None
            and job.group not in self._groups
            and not self._hopeless
        ):
            return 0  # there is no unit, nor will there be one
        wanted = max(
            (k + 1 for key, k in self._at if key == job.key),
            default=int(job.vehicle in self._visit_pins),
        )
        week, due, times = job.earliest, job.due, 0
        while week <= horizon - job.weeks and (due < end or times < wanted):
            times += 1
            if job.interval is None:
                break
            due = job.done(week) + job.interval
            week += apart(job)
        return times

    def _pair(self, job: Job) -> Numbers:
        """From this time to the next, which follows from when this one is done."""
        interval = job.interval or 0
        key = (job.weeks, interval, job.early, job.waste)
        if key not in self._pairs:
            weeks = np.arange(self.problem.weeks - job.weeks + 1, dtype=np.int64)
            between = weeks[None, :] - weeks[:, None]
            days = WEEK * between - interval
            cost = np.maximum(0, days) * LATE
            cost += np.maximum(0, -days) * (job.waste * EFFORT)
            self._pairs[key] = np.where(between < apart(job), NEVER, cost)
        return self._pairs[key]

    def _open(self, job: Job, occurrence: int) -> Marks:
        """Weeks in which the whole stay is free of closures and of pins against it."""
        shut = (
            self.problem.capacity.closed
            | self._not_in.get(job.vehicle, frozenset())
            | self._not_in.get((job.key, occurrence), frozenset())
        )
        return np.array(
            [
                shut.isdisjoint(range(week, week + job.weeks))
                for week in range(max(0, self.problem.weeks - job.weeks + 1))
            ],
            dtype=bool,
        )

    def _extra(self, job: Job, occurrence: int, weeks: Numbers) -> Numbers:
        turn = (job.key, occurrence)
        cost = np.where(self._open(job, occurrence), 0, NEVER)
        if turn in self.problem.published:
            cost += np.where(weeks == self.problem.published[turn], 0, MOVE)
        for pin in self._at.get(turn, []):
            cost += np.where(np.isin(weeks, list(pin)), 0, PIN)
        return cost

    def _missing(self, job: Job, times: int) -> tuple[int, ...]:
        turns = [(job.key, t) for t in range(times)]
        each = [
            PIN * len(self._at.get(turn, [])) + MOVE * (turn in self.problem.published)
            for turn in turns
        ]
        return tuple(sum(each[t:]) for t in range(times + 1))


def apart(job: Job) -> int:
    """Weeks from the beginning of one time to the first sensible week of the next."""
    sensible = job.done(0) + (job.interval or 0) - job.early
    return max(job.weeks, -(-sensible // WEEK))


def first_held(last_good: int) -> int:
    """The first week that is not good to its end."""
    return max(0, (last_good - (WEEK - 1)) // WEEK + 1)


def _pins_of_jobs(
    problem: Problem,
) -> tuple[
    dict[tuple[str, int], list[frozenset[int]]],
    dict[str | tuple[str, int], frozenset[int]],
]:
    """Weeks in which a time must begin; and weeks in which a time or a vehicle must not stand."""
    at: dict[tuple[str, int], list[frozenset[int]]] = {}
    not_in: dict[str | tuple[str, int], frozenset[int]] = {}
    for pin in problem.pins:
        what = pin.vehicle or "" if pin.job is None else (pin.job, pin.occurrence)
        if pin.wish is Wish.NOT_IN:
            not_in[what] = not_in.get(what, frozenset()) | pin.weeks
        elif isinstance(what, tuple):
            at.setdefault(what, []).append(pin.weeks)
    return at, not_in
