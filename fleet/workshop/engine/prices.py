"""What an hour, a pit or a unit in each week is worth, and with it the least possible lateness.

Every demand on the shop is given a price in place of its limit. Then each vehicle has a
best plan of its own, and the sum of these, less the worth of all there is, cannot be
more than the least lateness of any programme, whatever the prices. They are raised where
more is asked than there is and lowered where less is (a Lagrangian relaxation).

A vehicle's jobs may share its stay: the most frequent job on a pit is its anchor, and
the others, where they join it, pay for no place.
"""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from fleet.workshop.engine.guide import Key, Reals, price_of_turn
from fleet.workshop.engine.shop import PIT, Shop
from fleet.workshop.engine.work import LATE, NEVER, Work, Works

HIGH = 1e9  # days, for a week in which it cannot begin


@dataclass(slots=True, eq=False)
class _Alike:
    """Jobs that differ only in when they fall due, so that they are priced together."""

    works: list[Work]
    anchor: bool
    share: float  # of a place's price, where one stands alone
    rows: npt.NDArray[np.int64]  # the vehicle of each
    first: Reals = field(init=False)  # late days, row by job, column by week
    undone: Reals = field(init=False)
    after: Reals = field(init=False)
    pair: Reals | None = field(init=False)

    def __post_init__(self) -> None:
        self.first = np.array([_days(w.first) + _shut(w) for w in self.works])
        self.undone = np.array([w.undone // LATE for w in self.works], dtype=float)
        self.after = _days(self.works[0].after)
        most = max(self.works, key=lambda work: work.times)
        self.pair = None if most.pair is None else _days(most.pair)

    @property
    def times(self) -> int:
        return max(work.times for work in self.works)


def _days(costs: npt.NDArray[np.int64]) -> Reals:
    return np.where(costs >= NEVER, HIGH, costs // LATE).astype(float)


def _shut(work: Work) -> Reals:
    """Only what is so for every time of it."""
    shut = np.min(list(work.extra), axis=0) >= NEVER
    return np.where(shut, HIGH, 0.0)


class Prices:
    """Prices by week, and the best bound they gave so far."""

    def __init__(self, works: Works) -> None:
        self.weeks = works.problem.weeks
        self.shop = Shop(works.problem)
        self.there = _there(self.shop, works)
        self.price = {key: np.zeros(self.weeks) for key in self.there}
        self.best = {key: np.zeros(self.weeks) for key in self.there}
        self.bound = 0.0
        self.vehicles = len(works.of)
        self.groups = _alike(works)
        self.settled = sum(
            work.undone // LATE
            for jobs in works.of.values()
            for work in jobs
            if not work.times
        )

    def improve(self, spent: Callable[[], float], rise: float = 30.0) -> None:
        """Follow the demand, in smaller and smaller steps (Adam)."""
        mean = {key: np.zeros(self.weeks) for key in self.there}
        square = {key: np.zeros(self.weeks) for key in self.there}
        size = {key: max(1.0, float(there.mean())) for key, there in self.there.items()}
        step = 0
        while (part := spent()) < 1:
            bound, asked = self._plan()
            if bound > self.bound:
                self.bound = bound
                self.best = {key: price.copy() for key, price in self.price.items()}
            step += 1
            for key, there in self.there.items():
                more = (asked[key] - there) / size[key]
                mean[key] = 0.9 * mean[key] + 0.1 * more
                square[key] = 0.99 * square[key] + 0.01 * more**2
                up = mean[key] / (1 - 0.9**step)
                up /= np.sqrt(square[key] / (1 - 0.99**step)) + 1e-3
                change = rise * 0.003**part * up / size[key]
                self.price[key] = np.maximum(0, self.price[key] + change)

    def of(self, work: Work) -> Reals:
        """Hours and units of one turn, by the week in which it begins."""
        return price_of_turn(self.price, self.shop.away, work)

    def place(self, work: Work) -> Reals:
        """The place of one turn."""
        weeks = len(work.first)
        price = np.zeros(weeks)
        if ("place", work.rank) in self.price:
            for n in range(work.job.weeks):
                price += self.price["place", work.rank][n : n + weeks]
        return price

    def _plan(self) -> tuple[float, dict[Key, Reals]]:
        """The worth of every vehicle's best plan, and what these plans ask for."""
        asked = {key: np.zeros(self.weeks) for key in self.there}
        worth = float(self.settled)
        worth -= sum(float(self.price[k] @ there) for k, there in self.there.items())
        weeks = self.weeks
        joins = np.zeros((self.vehicles, weeks))
        alone: list[tuple[_Alike, Reals, Reals, npt.NDArray[np.int64]]] = []
        for group in self.groups:
            if not group.anchor:
                costs = self._single(group)
                at = costs[1].argmin(axis=1)
                least = np.minimum(costs[1][np.arange(len(at)), at], group.undone)
                worth += float(least.sum())
                at = np.where(least < group.undone, at, -1)
                gain = np.minimum(0, costs[0] - least[:, None])
                if group.times > 1:
                    gain[:] = 0
                np.add.at(
                    joins,
                    group.rows,
                    np.pad(gain, ((0, 0), (0, weeks - gain.shape[1]))),
                )
                alone.append((group, costs[0], gain, at))
        visits = np.zeros((self.vehicles, weeks))
        for group in self.groups:
            if group.anchor:
                worth += self._anchored(group, joins, visits, asked)
        for group, _, gain, at in alone:
            self._ask_single(group, gain, at, visits, asked)
        return worth, asked

    def _single(self, group: _Alike) -> tuple[Reals, Reals]:
        """By week: joining the anchor, and alone with its place."""
        work = group.works[0]
        if group.times > 1:
            costs = self._chains(
                group, np.zeros((len(group.works), group.first.shape[1])), 1.0
            )[0]
            return costs, costs
        costs = group.first + group.after + self.of(work)
        return costs, costs + group.share * self.place(work)

    def _chains(
        self, group: _Alike, joins: Reals, share: float
    ) -> tuple[Reals, list[Reals]]:
        """The least cost from each first week on, and from each week of each later time."""
        work = group.works[0]
        here = self.of(work) + joins
        if group.anchor:
            here = here + share * self.place(work)
        ahead = [here + group.after]
        for _ in range(group.times - 1 if group.pair is not None else 0):
            assert group.pair is not None
            gap = work.gap  # nothing of the table's corner can be chosen
            again = group.pair[None, :-gap, gap:] + ahead[-1][:, None, gap:]
            rest = np.broadcast_to(group.after, here.shape).copy()
            rest[:, :-gap] = np.minimum(rest[:, :-gap], again.min(axis=2))
            ahead.append(here + rest)
        return group.first + ahead[-1], ahead

    def _anchored(
        self, group: _Alike, joins: Reals, visits: Reals, asked: dict[Key, Reals]
    ) -> float:
        """The anchors' best chains; where they begin is noted in visits."""
        weeks = group.first.shape[1]
        costs, ahead = self._chains(group, joins[group.rows, :weeks], 1.0)
        at = costs.argmin(axis=1)
        least = costs[np.arange(len(at)), at]
        begins = least < group.undone
        turns = np.zeros((len(at), weeks))
        rows, at = np.flatnonzero(begins), at[begins]
        for time in range(group.times):
            turns[rows, at] += 1
            if group.pair is None or time + 1 == group.times:
                break
            costs = group.pair[at] + ahead[-2 - time][rows]
            goes = costs.min(axis=1) < group.after[at]
            rows, at = rows[goes], costs.argmin(axis=1)[goes]
        visits[group.rows, :weeks] += turns
        self._ask(group.works[0], turns.sum(axis=0), turns.sum(axis=0), asked)
        return float(np.where(begins, least, group.undone).sum())

    def _ask_single(
        self,
        group: _Alike,
        gain: Reals,
        at: npt.NDArray[np.int64],
        visits: Reals,
        asked: dict[Key, Reals],
    ) -> None:
        weeks = gain.shape[1]
        joined = np.where(gain < 0, visits[group.rows, :weeks], 0)
        rest = 1 - joined.sum(axis=1)
        there = at >= 0
        alone = np.zeros(weeks)
        np.add.at(alone, at[there], rest[there])
        pays = alone * group.share if group.times == 1 else 0 * alone
        self._ask(group.works[0], alone + joined.sum(axis=0), pays, asked)

    def _ask(
        self, work: Work, turns: Reals, places: Reals, asked: dict[Key, Reals]
    ) -> None:
        weeks = len(turns)
        for skill, each in work.hours:
            if ("hours", skill) in asked:
                for n, hours in enumerate(each):
                    asked["hours", skill][n : n + weeks] += hours * turns
        if ("place", work.rank) in asked:
            for n in range(work.job.weeks):
                asked["place", work.rank][n : n + weeks] += places
        group = work.job.group or ""
        if ("units", group) in asked:
            taken = np.cumsum(np.pad(turns, (0, self.weeks - weeks)))
            away = min(self.shop.away[group], self.weeks)
            back = np.concatenate((np.zeros(away), taken))[: self.weeks]
            asked["units", group] += work.job.units * (taken - back)


def _there(shop: Shop, works: Works) -> dict[Key, Reals]:
    """What there is of everything; nothing while it is closed."""
    closed = [w for w in works.problem.capacity.closed if 0 <= w < shop.weeks]
    there: dict[Key, Reals] = {}
    for skill, hours in shop.hours.items():
        there["hours", skill] = hours.astype(float)
    for rank, places in shop.places.items():
        there["place", rank] = places.astype(float)
    for numbers in there.values():
        numbers[closed] = 0
    for group, units in shop.units.items():
        there["units", group] = units.astype(float)
    return there


def _alike(works: Works) -> list[_Alike]:
    found: dict[tuple[object, ...], list[tuple[int, Work]]] = defaultdict(list)
    for row, jobs in enumerate(works.useful.values()):
        pits = [work for work in jobs if work.rank == PIT]
        anchor = max(pits, key=lambda work: work.times, default=None)
        for work in jobs:
            among = sum(w.rank == work.rank and w is not anchor for w in jobs)
            share = 1.0 if work is anchor else 1 / among
            job = work.job
            kind = (job.weeks, job.interval, job.early, work.hours, job.group)
            key = (
                *kind,
                job.units,
                work.rank,
                work is anchor,
                share,
                _shut(work).tobytes(),
            )
            found[key].append((row, work))
    return [
        _Alike(
            [w for _, w in each],
            bool(key[-3]),
            float(str(key[-2])),
            np.array([r for r, _ in each]),
        )
        for key, each in found.items()
    ]
