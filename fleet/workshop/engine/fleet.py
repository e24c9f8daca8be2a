"""The whole programme while it is being improved: jobs are lifted and laid anew."""

from collections.abc import Iterable, Mapping

import numpy as np

from fleet.workshop.engine.desk import Chain, Desk, held_weeks
from fleet.workshop.engine.problem import Problem, Starts, Turn
from fleet.workshop.engine.shop import Diary, Shop
from fleet.workshop.engine.work import Marks, Work, Works

Order = tuple[int, ...]  # pins broken, shortfall, late, effort, moves
Cost = tuple[int, int, int, int]  # of a job: pins broken, late, wasted, moves


class Fleet:
    """Every vehicle's desk over one shop."""

    def __init__(self, problem: Problem, works: Works) -> None:
        self.problem, self.works = problem, works
        self.shop, self.diary = Shop(problem), Diary(problem)
        self.desks = {v: Desk(problem, self.shop, self.diary, v) for v in works.of}
        self.cost: dict[str, Cost] = {}
        self.chains: dict[str, Chain] = {}
        self._visits = 0
        self._total = [0, 0, 0, 0]  # pins of jobs broken, late, wasted, moves
        self.in_week: list[set[Work]] = [set() for _ in range(problem.weeks)]
        self._pinned = [desk for desk in self.desks.values() if desk.pins]
        for works_of in works.of.values():
            for work in works_of:
                self.lay(work, ())
        for desk in self.desks.values():
            self.count_out(desk)

    def load(self, starts: Starts) -> None:
        """Take over a programme that keeps the rules."""
        for vehicle, works in self.works.of.items():
            self.count_in(self.desks[vehicle])
            for work in works:
                self.lift(work)
        for vehicle, works in self.works.of.items():
            for work in works:
                self.lay(work, chain_in(starts, work))
            self.count_out(self.desks[vehicle])

    def starts(self) -> dict[Turn, int]:
        """The programme as it stands."""
        return starts_of(self.chains)

    @property
    def order(self) -> Order:
        """What is compared: less is better, the first first."""
        pins, late, wasted, moves = self._total
        pins += sum(desk.pins_broken() for desk in self._pinned)
        effort = wasted + self._visits * self.problem.visit_points
        return pins, self.diary.shortfall(), late, effort, moves

    def chain(self, work: Work) -> Chain:
        return self.chains[work.job.key]

    def lift(self, work: Work) -> Chain:
        """Take a job off the programme; the caller counts its vehicle in and out."""
        desk, key = self.desks[work.job.vehicle], work.job.key
        self._visits -= len(desk.visits)
        chain = desk.lift(work)
        self._visits += len(desk.visits)
        cost = self.cost.pop(key)
        self._total = [a - b for a, b in zip(self._total, cost, strict=True)]
        for week in chain:
            self.in_week[week].discard(work)
        return chain

    def lay(self, work: Work, chain: Chain) -> None:
        """Write a job down."""
        desk, key = self.desks[work.job.vehicle], work.job.key
        self._visits -= len(desk.visits)
        desk.lay(work, chain)
        self._visits += len(desk.visits)
        self.chains[key] = chain
        cost = self.cost[key] = self._cost(work, chain)
        self._total = [a + b for a, b in zip(self._total, cost, strict=True)]
        for week in chain:
            self.in_week[week].add(work)

    def count_in(self, desk: Desk) -> None:
        """While it is laid anew, a vehicle counts as fit in every week."""
        if self.diary.any:
            self.diary.spare += desk.out

    def set_prices(self, desks: Iterable[Desk]) -> None:
        """What it costs the season's cover where one of these is out."""
        tight = self.diary.tight()
        for desk in desks:
            desk.price = self.diary.price(desk.vehicle) if tight else None

    def count_out(self, desk: Desk) -> None:
        """Count it out of the diary where it is in the shop or overdue."""
        if self.diary.any:
            desk.out = self.out(desk)
            self.diary.spare -= desk.out

    def count_out_as(self, desk: Desk, out: Marks) -> None:
        """The same, where it is known."""
        if self.diary.any:
            desk.out = out
            self.diary.spare -= out

    def out(self, desk: Desk) -> Marks:
        """Lines and weeks that it is out of, by what is laid."""
        diary = self.diary
        out = np.zeros(diary.spare.shape, dtype=bool)
        out[diary.rows_of[desk.vehicle]] = desk.begun >= 0
        for work, chain in desk.laid.values():
            if work.job.holds:
                lines = diary.held(work)
                for begin, end in held_weeks(work, chain, self.problem.weeks):
                    out[lines, begin:end] = True
        return out

    def _cost(self, work: Work, chain: Chain) -> Cost:
        job, due = work.job, work.job.due
        late = wasted = 0
        for week in chain:
            done = job.done(week)
            late += max(0, done - due)
            wasted += max(0, due - done) * job.waste
            due = done + (job.interval or 0)
        if not chain or job.interval is not None:
            late += max(0, job.done(self.problem.weeks) - due)
        pins, moves = self.works.wishes_unmet(job.key, chain)
        return pins, late, wasted, moves


def least_short(works: Works) -> int:
    """Vehicle-days short, by weight, of any programme.

    A line that asks for more vehicles than could fill it stays short; so does one whose
    vehicles are overdue with work that can never be done.
    """
    diary = Diary(works.problem)
    for jobs in works.of.values():
        out = np.zeros(diary.spare.shape, dtype=bool)
        for work in jobs:
            if work.job.holds and not work.times:
                out[diary.held(work), work.held_from :] = True
        diary.spare -= out
    return diary.shortfall()


def starts_of(chains: Mapping[str, Chain]) -> dict[Turn, int]:
    """A programme from the weeks of each job."""
    return {
        (key, time): week
        for key, chain in chains.items()
        for time, week in enumerate(chain)
    }


def chain_in(starts: Starts, work: Work) -> Chain:
    """A job's weeks in a programme."""
    weeks: list[int] = []
    while (week := starts.get((work.job.key, len(weeks)))) is not None:
        weeks.append(week)
    return tuple(weeks)
