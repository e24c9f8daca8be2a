"""One vehicle's work, laid into what is left of the shop, job by job, each at its best.

A job's times are chosen together (each follows from when the one before is done), by
working backwards from the last: exact for one job, all else standing as it is.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from fleet.workshop.engine.problem import Problem
from fleet.workshop.engine.shop import Diary, Shop
from fleet.workshop.engine.work import (
    EFFORT,
    MOST_SHORT,
    NEVER,
    PIN,
    Marks,
    Numbers,
    Work,
    first_held,
)
from fleet.workshop.vocabulary import Wish

Chain = tuple[int, ...]  # the weeks in which a job begins, time after time


class Desk:
    """A vehicle's jobs and when they begin; what is laid here is taken of the shop."""

    def __init__(
        self, problem: Problem, shop: Shop, diary: Diary, vehicle: str
    ) -> None:
        self.weeks, self.shop, self.diary = problem.weeks, shop, diary
        self.vehicle = vehicle
        self.visit_cost = problem.visit_points * EFFORT
        self.laid: dict[str, tuple[Work, Chain]] = {}
        self.begun = np.full(problem.weeks, -1, dtype=np.int64)  # the visit that stands
        self.rank = np.zeros(problem.weeks, dtype=np.int64)
        self.visits: dict[int, int] = {}  # week it begins, number of jobs
        self.pins = [
            np.isin(np.arange(problem.weeks), list(p.weeks))
            for p in problem.pins
            if p.wish is Wish.AT and p.job is None and p.vehicle == vehicle
        ]
        self.out = np.zeros(diary.spare.shape, dtype=bool)
        self.price: Numbers | None = None  # of being out, in the numbers of `work`

    def lay(self, work: Work, chain: Chain) -> None:
        """Write a job's times down."""
        self.laid[work.job.key] = (work, chain)
        for week in chain:
            self.shop.take(work, week)
            self.visits[week] = self.visits.get(week, 0) + 1
            for w in range(week, week + work.job.weeks):
                self.begun[w] = week
                if work.rank > self.rank[w]:
                    self._stand(w, work.rank)

    def lift(self, work: Work) -> Chain:
        """Rub them out again."""
        _, chain = self.laid.pop(work.job.key)
        for week in chain:
            self.shop.take(work, week, -1)
            if self.visits[week] > 1:
                self.visits[week] -= 1
            else:
                del self.visits[week]
            self._draw(range(week, week + work.job.weeks))
        return chain

    def _draw(self, weeks: range) -> None:
        """Where the vehicle stands in these weeks, from what is laid."""
        standing = dict.fromkeys(weeks, (-1, 0))
        for work, chain in self.laid.values():
            for week in chain:
                for w in range(
                    max(week, weeks.start), min(week + work.job.weeks, weeks.stop)
                ):
                    standing[w] = (week, max(work.rank, standing[w][1]))
        for w, (begun, rank) in standing.items():
            self.begun[w] = begun
            self._stand(w, rank)

    def _stand(self, week: int, rank: int) -> None:
        before = int(self.rank[week])
        if rank == before:
            return
        if before in self.shop.places:
            self.shop.places[before][week] += 1
        if rank in self.shop.places:
            self.shop.places[rank][week] -= 1
        self.rank[week] = rank

    def pins_broken(self) -> int:
        """Wishes that the vehicle come in certain weeks, where it does not."""
        weeks = list(self.visits)
        return sum(not pin[weeks].any() for pin in self.pins)

    def best(
        self, work: Work, avoid: Marks | None = None, others: Sequence[Work] = ()
    ) -> Chain:
        """The weeks for a job that cost least, with all else as it is.

        Others of the vehicle that are still to be laid may join it in one visit.
        """
        fits = self.fits(work)
        if avoid is not None:
            fits &= ~avoid[: len(fits)]
        visit = self._visit(work, fits)
        for other in others:
            gain = self._gain(other)
            weeks = min(len(visit), len(gain))
            visit[:weeks] += gain[:weeks]
        chain = self._best(work, visit)
        if len(chain) > 1 and work.job.group is not None:
            return self._with_units(work, chain)
        return chain

    def _gain(self, work: Work) -> Numbers:
        """What a job would save by joining a visit in each week, rather than coming alone."""
        guide = self.shop.guide
        cost = work.first + work.after + work.extra[0]
        alone = cost + self._visit(work, self.fits(work))
        least = min(int(alone.min()), work.undone + work.missing[0])
        joined = np.where(self.fits(work, share=True), cost, NEVER)
        if guide is not None:
            joined = joined + guide.turn(work)
        gain: Numbers = np.minimum(0, joined - least)
        return gain

    def _with_units(self, work: Work, chain: Chain) -> Chain:
        """Cut off where the units of the times before are missing for the next."""
        kept: list[int] = []
        for week in chain:
            if not self.shop.fits(work)[week]:
                break
            self.shop.take(work, week)
            kept.append(week)
        for week in kept:
            self.shop.take(work, week, -1)
        return tuple(kept)

    def fits(self, work: Work, *, share: bool = False) -> Marks:
        """Weeks in which one turn can begin beside all that is laid.

        With `share`, also where only a better place is free: other work to be laid may
        bring the vehicle there.
        """
        marks = self.shop.fits(work)
        weeks = len(marks)
        for n in range(work.job.weeks):
            begun = self.begun[n : n + weeks]
            marks &= (begun < 0) | (begun == work.own)
            if work.rank:
                free = self.rank[n : n + weeks] >= work.rank
                for rank, there in self.shop.places.items():
                    if rank == work.rank or (share and rank > work.rank):
                        free = free | (there[n : n + weeks] > 0)
                marks &= free
        return marks

    def _visit(self, work: Work, fits: Marks) -> Numbers:
        """What beginning in each week costs besides the job's own late and wasted days."""
        weeks = len(fits)
        cost = np.where(fits, self.visit_cost, NEVER)
        for week in self.visits:
            if week < weeks and fits[week]:
                cost[week] = 0
        for pin in self.pins:
            if not pin[list(self.visits)].any():
                cost -= PIN * pin[:weeks]
        if self.price is not None:
            inside = np.where(self.begun >= 0, 0, self.price.sum(axis=0))
            for n in range(work.job.weeks):
                cost += np.minimum(inside[n : n + weeks], MOST_SHORT)
        if self.shop.guide is not None:
            cost += self.shop.guide.turn(work)
            cost += self.shop.guide.place(work, self.rank)
        return cost

    def _best(self, work: Work, visit: Numbers) -> Chain:
        """Worked out from the last time to the first."""
        first, undone, after, pair = work.first, work.undone, work.after, work.pair
        if self.price is not None and work.job.holds:
            held = _Held(self, work)
            if held.any:
                first, undone = first + held.first, undone + held.undone
                after = after + held.after
                pair = None if pair is None else pair + held.pair
        ahead: list[Numbers] = []  # cost from each time on, by its week; last first
        for time in reversed(range(work.times)):
            rest = after + work.missing[time + 1]
            if ahead and pair is not None:
                gap = work.gap  # nothing of the table's corner can be chosen
                again = (pair[:-gap, gap:] + ahead[-1][gap:]).min(axis=1)
                rest[:-gap] = np.minimum(rest[:-gap], again)
            ahead.append(rest + visit + work.extra[time])
        ahead.reverse()
        return tuple(_walk(work, ahead, first, undone, after, pair))


def _walk(
    work: Work,
    ahead: Sequence[Numbers],
    first: Numbers,
    undone: int,
    after: Numbers,
    pair: Numbers | None,
) -> Iterator[int]:
    """Forward again, always along the cheapest."""
    costs, stop = first + ahead[0], undone + work.missing[0]
    for time in range(work.times):
        week = int(costs.argmin())
        if costs[week] >= min(stop, NEVER // 2):
            return
        yield week
        if pair is None or time + 1 == work.times:
            return
        costs = pair[week] + ahead[time + 1]
        stop = int(after[week]) + work.missing[time + 1]


class _Held:
    """What overdue work costs the season's cover, by the week in which it is done."""

    def __init__(self, desk: Desk, work: Work) -> None:
        assert desk.price is not None
        lines = desk.price[desk.diary.held(work)].sum(axis=0)
        for other, chain in desk.laid.values():  # out already: it costs nothing more
            if other.job.holds & work.job.holds:
                for begin, end in held_weeks(other, chain, desk.weeks):
                    lines[begin:end] = 0
        lines[desk.begun >= 0] = 0
        self.any = bool(lines.any())
        if not self.any:
            return
        sums = np.concatenate(([0], np.cumsum(lines)))
        weeks, end = np.arange(len(work.first)), desk.weeks

        def cost(begin: Numbers | int, until: Numbers | int) -> Numbers:
            days = sums[np.maximum(begin, until)] - sums[begin]
            return np.asarray(np.minimum(days, MOST_SHORT))

        self.first = cost(min(work.held_from, end), weeks)
        self.undone = int(cost(min(work.held_from, end), end))
        again = np.clip(work.held_again, 0, end)
        recurs = work.job.interval is not None
        self.after = cost(again, end) if recurs else 0 * weeks
        self.pair = cost(again[:, None], weeks[None, :])


def held_weeks(work: Work, chain: Chain, weeks: int) -> Iterator[tuple[int, int]]:
    """From and until which weeks overdue work keeps the vehicle from the diary."""
    job, begin = work.job, work.held_from
    for week in chain:
        if begin < week:
            yield begin, week
        if job.interval is None:
            return
        begin = first_held(job.done(week) + job.interval + job.tolerance)
    if begin < weeks:
        yield begin, weeks
