"""A programme improved step by step: a few jobs lifted, and laid anew where they cost least.

The jobs of a step lie near one another in time, so that one can take the place of
another. Now and then a step that makes the programme somewhat later is kept, at first
often and in the end never: small steps alone end where no small step helps.
"""

import math
from collections.abc import Callable
from random import Random

import numpy as np

from fleet.workshop.engine.desk import Chain
from fleet.workshop.engine.fleet import Fleet, Order
from fleet.workshop.engine.problem import Starts
from fleet.workshop.engine.work import Work

MOST = 8  # jobs lifted at once, their companions in the same visit not counted
SPANS = (1, 3, 6, 12)  # weeks
WARM, COLD = 10.0, 0.5  # days later that are kept easily, at first and in the end
CALM = 0.8  # of the time; after it nothing worse is kept


class Search:
    """Steps from a programme, and the best that was met on the way."""

    def __init__(self, fleet: Fleet, start: Starts, *, seed: int = 1) -> None:
        self.fleet, self.chance = fleet, Random(seed)  # noqa: S311  # no secret
        fleet.load(start)
        self.order: Order = fleet.order
        self.best: Order = self.order
        self.found: Starts = fleet.starts()
        self.works = [w for works in fleet.works.useful.values() for w in works]
        self.steps = 0

    def run(self, spent: Callable[[], float]) -> None:
        """Take steps until the part of the time that is spent reaches one."""
        while self.works and (part := spent()) < 1:
            heat = WARM * (COLD / WARM) ** (part / CALM) if part < CALM else 0.0
            self.step(heat)

    def step(self, heat: float) -> None:
        """Lift some jobs, lay them anew, and keep it or not."""
        fleet = self.fleet
        chosen = self._chosen()
        desks = [fleet.desks[v] for v in dict.fromkeys(w.job.vehicle for w in chosen)]
        for desk in desks:
            fleet.count_in(desk)
        before = [(work, fleet.lift(work)) for work in chosen]
        fleet.set_prices(desks)
        self._lay_anew(chosen)
        for desk in desks:
            fleet.count_out(desk)
        self.steps += 1
        order = fleet.order
        if fleet.shop.within() and self._kept(order, heat):
            self.order = order
            if order < self.best:
                self.best, self.found = order, fleet.starts()
            return
        for desk in desks:
            fleet.count_in(desk)
        self._put_back(before)
        for desk in desks:
            fleet.count_out(desk)

    def _put_back(self, before: list[tuple[Work, Chain]]) -> None:
        for work, _ in before:
            self.fleet.lift(work)
        for work, chain in before:
            self.fleet.lay(work, chain)

    def _kept(self, order: Order, heat: float) -> bool:
        if order <= self.order:
            return True
        later = order[2] - self.order[2]
        if not heat or order[:2] > self.order[:2]:
            return False
        return later < -heat * math.log(1 - self.chance.random())

    def _now_and_then(self, part: float) -> bool:
        return self.chance.random() < part

    def _lay_anew(self, works: list[Work]) -> None:
        chance, avoid = self.chance, None
        chance.shuffle(works)
        if self._now_and_then(0.3):
            works.sort(key=lambda work: work.job.due)
        elif self._now_and_then(0.3):
            works.sort(key=lambda work: -work.rank)
        if self._now_and_then(0.5):
            weeks = self.fleet.problem.weeks
            avoid = np.array([self._now_and_then(0.1) for _ in range(weeks)])
        for work in works:
            chain = self.fleet.desks[work.job.vehicle].best(work, avoid)
            self.fleet.lay(work, chain)

    def _chosen(self) -> list[Work]:
        """A job, rather a late one; others near one of its times; those in their visits."""
        fleet, chance = self.fleet, self.chance
        seed = max(
            chance.choice(self.works),
            chance.choice(self.works),
            key=lambda work: fleet.cost[work.job.key][1],
        )
        chain, weeks = fleet.chain(seed), fleet.problem.weeks
        week, span = chance.choice(chain or range(weeks)), chance.choice(SPANS)
        around = range(max(0, week - span), min(weeks, week + span // 2 + 1))
        near = {work for w in around for work in fleet.in_week[w] if work.times}
        others = sorted(near - {seed}, key=lambda work: work.job.key)
        number = chance.randint(1, MOST - 1)
        alike = [work for work in others if work.rank == seed.rank]
        if len(alike) > number and self._now_and_then(0.6):
            others = alike
        chosen = [seed, *chance.sample(others, min(number, len(others)))]
        if self._now_and_then(0.6):
            chosen = self._with_companions(chosen)
        return chosen

    def _with_companions(self, works: list[Work]) -> list[Work]:
        together = dict.fromkeys(works)
        for work in works:
            weeks = set(self.fleet.chain(work))
            desk = self.fleet.desks[work.job.vehicle]
            for other, chain in desk.laid.values():
                if other.times and weeks.intersection(chain):
                    together[other] = None
        return list(together)
