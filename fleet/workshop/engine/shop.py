"""What is left of the workshop and of the season's cover, week by week, in arrays."""

from collections import defaultdict

import numpy as np

from fleet.workshop.engine.guide import Guide, Key
from fleet.workshop.engine.problem import Problem
from fleet.workshop.engine.work import SHORT, Marks, Numbers, Work
from fleet.workshop.vocabulary import Place

DEAR = 2**7  # days by weight of one week: more is as dear, or sums would run over
ROAD, PIT = list(Place).index(Place.ROAD), list(Place).index(Place.PIT)


class Shop:
    """Nothing below zero here: every hard rule of the shop holds of what it holds."""

    def __init__(self, problem: Problem) -> None:
        self.weeks = problem.weeks
        self.guide: Guide | None = None
        capacity = problem.capacity
        self.hours = {
            s: _weekly(there, self.weeks) for s, there in capacity.hours.items()
        }
        self.nothing = np.zeros(self.weeks, dtype=np.int64)
        self.places = {
            ROAD: _weekly(capacity.roads, self.weeks),
            PIT: _weekly(capacity.pits, self.weeks),
        }
        self.units: dict[str, Numbers] = {}
        self.away: dict[str, int] = {}  # weeks for which a unit is missing once fitted
        for stock in problem.floats:
            there = np.full(self.weeks, stock.stock, dtype=np.int64)
            for week, number in stock.returns:
                there[max(0, week) :] += number
            self.units[stock.group] = there
            back = stock.turnaround
            self.away[stock.group] = self.weeks if back is None else back

    @property
    def left(self) -> dict[Key, Numbers]:
        """All that is left, by what prices are put on."""
        return {
            **{("hours", skill): there for skill, there in self.hours.items()},
            **{("place", rank): there for rank, there in self.places.items()},
            **{("units", group): there for group, there in self.units.items()},
        }

    def fits(self, work: Work) -> Marks:
        """Weeks with hours and units left for one turn; roads and pits are the vehicle's."""
        weeks = len(work.first)
        marks = np.ones(weeks, dtype=bool)
        for skill, each in work.hours:
            there = self.hours.get(skill, self.nothing)
            for n, hours in enumerate(each):
                marks &= there[n : n + weeks] >= hours
        if work.job.group is not None:
            marks &= self._unit_there(work)
        return marks

    def _unit_there(self, work: Work) -> Marks:
        """Weeks from which one can be taken without missing it where it is planned."""
        group = work.job.group or ""
        weeks = len(work.first)
        there = self.units.get(group)
        if there is None:
            return np.zeros(weeks, dtype=bool)
        enough = there >= work.job.units
        # the next week in which there are too few, seen from each week
        short = np.where(enough, 2 * self.weeks, np.arange(self.weeks))
        next_short = np.minimum.accumulate(short[::-1])[::-1]
        until = np.arange(weeks) + self.away[group]
        return np.asarray(next_short[:weeks] >= until, dtype=bool)

    def within(self) -> bool:
        """Whether no more stand on the roads than there are."""
        return all(there.min(initial=0) >= 0 for there in self.places.values())

    def take(self, work: Work, week: int, sign: int = 1) -> None:
        """Write a turn down; with a minus sign, rub it out."""
        for skill, each in work.hours:
            there = self.hours.get(skill, self.nothing)
            for n, hours in enumerate(each):
                there[week + n] -= sign * hours
        group = work.job.group
        if group is not None and group in self.units:
            back = week + self.away[group]
            self.units[group][week:back] -= sign * work.job.units


class Diary:
    """How many vehicles more than needed are fit, on each line and in each week."""

    def __init__(self, problem: Problem) -> None:
        lines: dict[str, list[dict[int, tuple[int, int]]]] = defaultdict(list)
        for need in problem.needs:
            if not 0 <= need.week < problem.weeks:
                continue
            row = next((r for r in lines[need.pool] if need.week not in r), None)
            if row is None:
                row = {}
                lines[need.pool].append(row)
            row[need.week] = (need.vehicles, need.days * need.weight)
        self.pools = [pool for pool, rows in lines.items() for _ in rows]
        shape = (len(self.pools), problem.weeks)
        self.spare = np.zeros(shape, dtype=np.int64)
        self.cost = np.zeros(shape, dtype=np.int64)
        self._in_pool = {
            pool: sum(pool in v.pools for v in problem.vehicles) for pool in self.pools
        }
        rows = [row for found in lines.values() for row in found]
        for n, row in enumerate(rows):
            in_pool = self._in_pool[self.pools[n]]
            for week, (vehicles, cost) in row.items():
                self.spare[n, week] = in_pool - vehicles
                self.cost[n, week] = cost
        self.rows_of = {
            v.key: np.array([pool in v.pools for pool in self.pools], dtype=bool)
            for v in problem.vehicles
        }
        self.any = bool(self.pools)
        self._held: dict[str, Marks] = {}

    def in_pool(self, row: int) -> int:
        """Vehicles that could fill a line."""
        return self._in_pool[self.pools[row]]

    def shortfall(self) -> int:
        """Vehicle-days short, by weight."""
        if not self.any:
            return 0
        return int((np.maximum(0, -self.spare) * self.cost).sum())

    def tight(self) -> bool:
        """Whether anything would be short if one vehicle more were out."""
        return self.any and bool(((self.spare <= 0) & (self.cost > 0)).any())

    def price(self, vehicle: str) -> Numbers | None:
        """What it costs where this vehicle is out, by line and week; None: nothing.

        In the numbers of `work`. The vehicle counts as in while this is asked.
        """
        price = np.where(self.spare <= 0, np.minimum(self.cost, DEAR) * SHORT, 0)
        price[~self.rows_of[vehicle]] = 0
        return price if price.any() else None

    def held(self, work: Work) -> Marks:
        """Which lines the job keeps its vehicle from."""
        job = work.job
        if job.key not in self._held:
            kept_from = [pool in job.holds for pool in self.pools]
            self._held[job.key] = self.rows_of[job.vehicle] & np.array(
                kept_from, dtype=bool
            )
        return self._held[job.key]


def _weekly(there: tuple[int, ...], weeks: int) -> Numbers:
    given = np.array(there[:weeks], dtype=np.int64)
    return np.pad(given, (0, weeks - len(given)))
