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
WARM, COLD = 3.0, 0.5  # days later that are kept easily, at first and in the end
WEIGHT = 1e-4  # late days that a point of effort counts for, while lateness leads
EASE = 2_000  # points of effort more that are kept easily, at first; none in the end
FULL, NONE = 0.25, 0.55  # parts of the time until which prices count in full, or at all
ROUND = 100  # steps between two looks at the clock's part of the prices
ALONE = 0.4  # of the steps that go by effort: all work of one vehicle
LED = 0.8  # of the vehicles laid, with a job that leads
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
        self.ease = 0.0  # effort more that is easily kept

    @property
    def found(self) -> Starts:
        return starts_of(self._found)

    def run(self, spent: Callable[[], float]) -> None:
        """Take steps until the part of the time that is spent reaches one.

        Lateness first; then, from the best that was met, fewer visits and less thrown
        away, without a late day more.
        """
        heat, late = 0.0, True
        while self.works:
            if self.steps % GLANCE == 0:
                part = spent()
                if part >= 1:
                    break
                if part < NONE:
                    heat = WARM * (COLD / WARM) ** (part / NONE)
                else:
                    heat = 0.0
                    self.ease = EASE * (1 - part)
                if self.steps % ROUND == 0:
                    self._guide(part)
                if late and part >= NONE:
                    late = False
                    self._begin_from_the_best()
            self.step(heat)

    def _begin_from_the_best(self) -> None:
        self._guide(1.0)
        self.fleet.load(self.found)
        self.order, self.worth = self.fleet.order, 0.0

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
            later += (order[3] - was[3]) * WEIGHT if heat else 0
            better = later < -heat * math.log(1 - self.chance.random())
        elif order[3] != was[3]:
            better = order[3] - was[3] < -self.ease * math.log(1 - self.chance.random())
        else:
            better = order[4:] <= was[4:]
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
            lay_vehicle(self.fleet, self.fleet.desks[vehicle], own, self.chance, avoid)

    def _chosen(self) -> list[Work]:
        """A job, rather a late one; others near one of its times; those in their visits.

        Once it goes by effort, now and then all of one vehicle.
        """
        fleet, chance = self.fleet, self.chance
        if self.ease and self._now_and_then(ALONE):
            return list(fleet.works.useful[chance.choice(self.works).job.vehicle])
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


def lay_vehicle(
    fleet: Fleet,
    desk: Desk,
    works: Sequence[Work],
    chance: Random,
    avoid: Marks | None = None,
) -> None:
    """One after the other; the first, as a rule, with an eye to those that may join it."""
    if len(works) > 1 and chance.random() < LED:
        leader = max(works, key=lambda work: (work.rank, work.times))
        others = [work for work in works if work is not leader]
        joining = [work for work in others if work.times == 1]
        fleet.lay(leader, desk.best(leader, avoid, joining))
        works = others
    for work in works:
        fleet.lay(work, desk.best(work, avoid))


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
