"""A programme improved step by step: a few jobs lifted, and laid anew where they cost least.

The jobs of a step lie near one another in time, so that one can take the place of
another. Two things keep it from ending where no small step helps. What a place is worth
to those who wait (its price) counts at first in full, later less, in the end not at all:
so a vehicle gives up a pit that many wait for. And now and then a step to something
worse is kept, at first often, in the end never.
"""

import math
from collections.abc import Callable, Sequence
from random import Random

import numpy as np

from fleet.workshop.engine.desk import Desk
from fleet.workshop.engine.fleet import Fleet, Order, starts_of
from fleet.workshop.engine.guide import Guide, Price
from fleet.workshop.engine.problem import Starts
from fleet.workshop.engine.work import Marks, Work

MOST = 8  # jobs lifted at once, their companions in the same visit not counted
SPANS = (1, 3, 6, 12)  # weeks
WARM, COLD = 20.0, 0.5  # days later that are kept easily, at first and in the end
FULL, NONE = (
    0.45,
    0.85,
)  # parts of the time: until when prices count in full, from when not
ROUND = 100  # steps between two looks at the clock's part of the prices
GLANCE = 5  # steps between two looks at the clock


class Search:
    """Steps from a programme, and the best that was met on the way."""

    def __init__(
        self, fleet: Fleet, start: Starts, price: Price | None = None, *, seed: int = 1
    ) -> None:
        self.fleet, self.chance = fleet, Random(seed)  # noqa: S311  # no secret
        fleet.load(start)
        _without_use(fleet)
        self.price = price
        self.order: Order = fleet.order
        self.worth = 0.0  # of what is left of the shop
        self.best: Order = self.order
        self._found = dict(fleet.chains)
        self.works = [w for works in fleet.works.useful.values() for w in works]
        self.steps = 0

    @property
    def found(self) -> Starts:
        return starts_of(self._found)

    def begin_anew(self) -> None:
        """Lay everything by the prices, most urgent vehicle first; what was found is kept."""
        fleet = self.fleet
        self._guide(0.0)
        by_due = sorted(self.works, key=lambda work: work.job.due)
        vehicles = dict.fromkeys(work.job.vehicle for work in by_due)
        for again in (False, True):
            for vehicle in vehicles:
                desk, works = fleet.desks[vehicle], fleet.works.useful[vehicle]
                fleet.count_in(desk)
                for work in works:
                    fleet.lift(work)
                if again:
                    fleet.set_prices([desk])
                    works = sorted(works, key=lambda work: work.job.due)
                    self._lay_vehicle(desk, works, None)
                else:
                    for work in works:
                        fleet.lay(work, ())
                fleet.count_out(desk)
        self.order, self.worth = fleet.order, self._worth()

    def run(self, spent: Callable[[], float]) -> None:
        """Take steps until the part of the time that is spent reaches one."""
        heat = 0.0
        while self.works:
            if self.steps % GLANCE == 0:
                part = spent()
                if part >= 1:
                    break
                heat = WARM * (COLD / WARM) ** (part / NONE) if part < NONE else 0.0
                if self.steps % ROUND == 0:
                    self._guide(part)
            self.step(heat)

    def _guide(self, part: float) -> None:
        """How much the prices count."""
        shop = self.fleet.shop
        counts = min(1.0, (NONE - part) / (NONE - FULL))
        if self.price is None or counts <= 0:
            shop.guide = None
        else:
            shop.guide = Guide(self.price, counts, shop.away)
        self.worth = self._worth()

    def _worth(self) -> float:
        guide = self.fleet.shop.guide
        return 0.0 if guide is None else guide.worth(self.fleet.shop.left)

    def step(self, heat: float) -> None:
        """Lift some jobs, lay them anew, and keep it or not."""
        fleet = self.fleet
        chosen = self._chosen()
        desks = [fleet.desks[v] for v in dict.fromkeys(w.job.vehicle for w in chosen)]
        for desk in desks:
            fleet.count_in(desk)
        outs = [desk.out for desk in desks]
        before = [(work, fleet.lift(work)) for work in chosen]
        fleet.set_prices(desks)
        self._lay_anew(chosen)
        for desk in desks:
            fleet.count_out(desk)
        self.steps += 1
        if self._kept(heat):
            return
        for desk, out in zip(desks, outs, strict=True):
            fleet.count_in(desk)
            fleet.count_out_as(desk, out)
        for work, _ in before:
            fleet.lift(work)
        for work, chain in before:
            fleet.lay(work, chain)

    def _kept(self, heat: float) -> bool:
        """Whether the programme as it stands now is taken on."""
        order, worth = self.fleet.order, self._worth()
        was, later = self.order, order[2] - worth - (self.order[2] - self.worth)
        if order[:2] != was[:2]:
            better = order[:2] < was[:2]
        elif later:
            better = later < -heat * math.log(1 - self.chance.random())
        else:
            better = order[3:] <= was[3:]
        if not better or not self.fleet.shop.within():
            return False
        self.order, self.worth = order, worth
        if order < self.best:
            self.best, self._found = order, dict(self.fleet.chains)
        return True

    def _now_and_then(self, part: float) -> bool:
        return self.chance.random() < part

    def _lay_anew(self, works: list[Work]) -> None:
        """Vehicle by vehicle, each in its turn."""
        avoid: Marks | None = None
        self.chance.shuffle(works)
        if self._now_and_then(0.3):
            works.sort(key=lambda work: work.job.due)
        elif self._now_and_then(0.3):
            works.sort(key=lambda work: -work.rank)
        if self._now_and_then(0.5):
            weeks = self.fleet.problem.weeks
            avoid = np.array([self._now_and_then(0.1) for _ in range(weeks)])
        for vehicle in dict.fromkeys(work.job.vehicle for work in works):
            own = [work for work in works if work.job.vehicle == vehicle]
            self._lay_vehicle(self.fleet.desks[vehicle], own, avoid)

    def _lay_vehicle(
        self, desk: Desk, works: Sequence[Work], avoid: Marks | None
    ) -> None:
        """One after the other; the first, as a rule, with an eye to those that may join it."""
        if len(works) > 1 and self._now_and_then(0.8):
            leader = max(works, key=lambda work: (work.rank, work.times))
            others = [work for work in works if work is not leader]
            joining = [work for work in others if work.times == 1]
            self.fleet.lay(leader, desk.best(leader, avoid, joining))
            works = others
        for work in works:
            self.fleet.lay(work, desk.best(work, avoid))

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
        others = sorted(near - {seed}, key=lambda work: work.number)
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


def _without_use(fleet: Fleet) -> None:
    """Work that falls due after the horizon is left out, unless another stands in its place."""
    for works in fleet.works.of.values():
        for work in works:
            chain = fleet.chain(work)
            if len(chain) > work.times:
                desk = fleet.desks[work.job.vehicle]
                fleet.count_in(desk)
                fleet.lift(work)
                fleet.lay(work, chain[: work.times])
                if not fleet.shop.within():
                    fleet.lift(work)
                    fleet.lay(work, chain)
                fleet.count_out(desk)
