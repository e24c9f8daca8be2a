"""Whole plans of single vehicles, combined by a linear programme into one for the fleet.

Each vehicle offers plans, laid at the prices of the workshop's weeks as if it were alone.
A linear programme takes of them what together costs least and fits the shop, and gives
new prices, for which new plans are offered, until hardly any is cheaper (column
generation). What it takes whole is written down; then the next surest, and the rest is
worked out anew, until every vehicle has its plan (diving). It is a place to begin from:
a search by small steps goes on from it.

Marco E. Lübbecke and Jacques Desrosiers, Selected Topics in Column Generation,
Operations Research 53 (2005), from memory.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from random import Random

import numpy as np
from ortools.linear_solver import pywraplp

from fleet.workshop.engine.desk import Chain, Desk
from fleet.workshop.engine.fleet import Fleet, Order
from fleet.workshop.engine.guide import Guide, Key, Price, Reals
from fleet.workshop.engine.problem import Starts
from fleet.workshop.engine.search import lay_vehicle
from fleet.workshop.engine.work import LATE, Numbers

# What one is worth in late days. The linear programme only guides: the strict order of
# the levels is kept by the search that follows.
PIN, SHORT, EFFORT = 1e6, 1e3, 1e-5
WHOLE = 0.999  # of a plan, taken whole
ENOUGH, TIMES = 0.002, 6  # a smaller part gained in so many rounds: offers enough
ROUNDS, ROUNDS_AGAIN = 40, 8  # of offers, before the first is written down, and after
AT_ONCE = 75  # one vehicle of so many is written down at once
KEPT = 30  # offers of one vehicle, once others are written down
BLUR = 0.2  # of prices, in every second round, so that offers differ


@dataclass(frozen=True, slots=True, eq=False)
class Offer:
    """A plan for all the work of one vehicle, what it costs and what it takes."""

    chains: dict[str, Chain]
    cost: float  # late days
    takes: tuple[tuple[Key, Numbers, Numbers], ...]
    out: Numbers  # lines and weeks of the diary it is out of, flat

    def fits(self, left: Mapping[Key, Numbers]) -> bool:
        """Whether what is left of the shop is enough."""
        return all((left[key][weeks] >= n).all() for key, weeks, n in self.takes)


class Combining:
    """Offers of all vehicles over an empty shop."""

    def __init__(self, fleet: Fleet, price: Price, *, seed: int = 1) -> None:
        self.fleet, self.price = fleet, dict(price)
        self.worth = self.price  # of the shop, while every plan is open
        self.works = {v: works for v, works in fleet.works.useful.items() if works}
        self._chance = Random(seed)  # noqa: S311  # no secret
        self._blur = np.random.default_rng(seed)
        fleet.load({})
        self._out = np.zeros(fleet.diary.spare.shape)
        # To do nothing is offered first, so that there always is a solution.
        self._master = self._ask(
            {
                vehicle: [
                    Offer(
                        {work.job.key: () for work in works},
                        0.0,
                        (),
                        np.flatnonzero(fleet.desks[vehicle].out),
                    )
                ]
                for vehicle, works in self.works.items()
            }
        )

    def run(self, spent: Callable[[], float]) -> bool:
        """Lay every vehicle; False where no programme that keeps the rules came of it.

        `spent` tells which part of the time is over: at most a third of it goes into the
        first offers. Chance has a hand in each dive, so there are as many as it allows.
        """
        self._collect(lambda: spent() * 3)
        root = {
            v: self._master.kept(v, self.fleet.shop.left, 2 * KEPT) for v in self.works
        }
        best: tuple[Order, Starts] | None = None
        part, took = spent(), 0.0
        while best is None or part + took < 1:
            self._dive(root, spent)
            if self.fleet.shop.within():
                found = self.fleet.order, self.fleet.starts()
                best = found if best is None else min(best, found, key=lambda f: f[0])
            took, part = spent() - part, spent()
            if part >= 1:
                break
        if best is not None:
            self.fleet.load(best[1])
        return best is not None

    def _dive(
        self, root: Mapping[str, Iterable[Offer]], spent: Callable[[], float]
    ) -> None:
        """Write down plan after plan; what is left when time is out, each at its best."""
        self.fleet.load({})
        self._master = self._ask(root)
        free = dict.fromkeys(self.works)
        while free and self._solved() and spent() < 1:
            if not self._write_down(free):
                break
            for _ in range(ROUNDS_AGAIN):
                if not self._solved() or self._offered(free) <= len(free) // 10:
                    break
        self._guide(blurred=False)
        by_due = {v: min(work.job.due for work in self.works[v]) for v in free}
        for vehicle in sorted(free, key=by_due.__getitem__):
            self._lay(vehicle, None)
        self.fleet.shop.guide = None

    def _collect(self, spent: Callable[[], float]) -> None:
        """Offers until prices hardly change."""
        reached: list[float] = []
        for number in range(ROUNDS):
            self._offered(self.works, blurred=number % 2 == 1)
            if not self._solved(steady=0.5):
                return
            self.worth = self.price
            reached.append(self._master.value)
            before = reached[-TIMES] if len(reached) > TIMES else np.inf
            if spent() >= 1 or before - reached[-1] < ENOUGH * abs(reached[-1]):
                return

    def _solved(self, *, steady: float = 0.0) -> bool:
        """Take the prices of the linear programme, in part those from before."""
        if not self._master.solve():
            return False
        price, self._out = self._master.prices()
        self.price = {
            key: steady * self.price.get(key, 0) + (1 - steady) * each
            for key, each in price.items()
        }
        return True

    def _guide(self, *, blurred: bool) -> None:
        price = self.price
        if blurred:
            price = {key: each * self._blurring(each) for key, each in price.items()}
        self.fleet.shop.guide = Guide(price, 1.0, self.fleet.shop.away)

    def _blurring(self, each: Reals) -> Reals:
        return self._blur.uniform(1 - BLUR, 1 + BLUR, each.shape)

    def _offered(self, free: Iterable[str], *, blurred: bool = True) -> int:
        """Have each vehicle offer the plan that is cheapest now; how many are new."""
        self._guide(blurred=blurred)
        return sum(self._master.add(v, self._offer(v)) for v in free)

    def _offer(self, vehicle: str) -> Offer:
        """What it would do alone in what is left of the shop."""
        fleet, works = self.fleet, self.works[vehicle]
        before = {key: each.copy() for key, each in fleet.shop.left.items()}
        without = self._cost()
        self._lay(vehicle, None)
        left = fleet.shop.left
        offer = Offer(
            chains={work.job.key: fleet.chain(work) for work in works},
            cost=self._cost() - without,
            takes=tuple(
                (key, weeks, (each - left[key])[weeks])
                for key, each in before.items()
                if len(weeks := np.flatnonzero(each - left[key]))
            ),
            out=np.flatnonzero(fleet.desks[vehicle].out),
        )
        self._lay(vehicle, {work.job.key: () for work in works})
        return offer

    def _cost(self) -> float:
        """Pins, lateness and effort as they stand: only differences mean anything."""
        pins, _, late, effort, _ = self.fleet.order
        return pins * PIN + late + effort * EFFORT

    def _lay(self, vehicle: str, chains: dict[str, Chain] | None) -> None:
        """Lay a vehicle's work where it is told, or where it costs least."""
        fleet, works = self.fleet, self.works[vehicle]
        desk = fleet.desks[vehicle]
        fleet.count_in(desk)
        for work in works:
            fleet.lift(work)
        if chains is None:
            desk.price = self._price_of_out(desk)
            lay_vehicle(fleet, desk, works, self._chance)
            desk.price = None
        else:
            for work in works:
                fleet.lay(work, chains[work.job.key])
        fleet.count_out(desk)

    def _price_of_out(self, desk: Desk) -> Numbers | None:
        mine = self.fleet.diary.rows_of[desk.vehicle]
        if not self._out[mine].any():
            return None
        price = (self._out * LATE).astype(np.int64)
        price[~mine] = 0
        return price

    def _ask(self, offers: Mapping[str, Iterable[Offer]]) -> "_Master":
        """A linear programme of these offers, within what the others have left."""
        diary = self.fleet.diary
        spare = diary.spare.copy()
        for vehicle in offers:  # were all of them fit
            spare += self.fleet.desks[vehicle].out
        master = _Master(self.fleet.shop.left, spare, diary.cost, offers)
        for vehicle, each in offers.items():
            for offer in each:
                master.add(vehicle, offer)
        return master

    def _write_down(self, free: dict[str, None]) -> bool:
        """Lay what is taken whole, and the next surest; False where nothing can be."""
        at_once, some = max(1, len(self.works) // AT_ONCE), False
        for part, vehicle, offer in self._master.surest(free):
            if part < WHOLE and at_once <= 0:
                break
            if not offer.fits(self.fleet.shop.left):
                continue
            self._lay(vehicle, offer.chains)
            del free[vehicle]
            some, at_once = True, at_once - (part < WHOLE)
        held, left = self._master, self.fleet.shop.left
        self._master = self._ask({v: held.kept(v, left, KEPT) for v in free})
        return some


class _Master:
    """The linear programme: one plan of each vehicle, within what there is."""

    def __init__(
        self,
        left: Mapping[Key, Numbers],
        spare: Numbers,
        cost: Numbers,
        vehicles: Iterable[str],
    ) -> None:
        # GLOP, CLP and HiGHS took as long; CLP crashed on a small programme, and HiGHS
        # writes on standard output.
        self._lp = pywraplp.Solver.CreateSolver("GLOP")
        self._goal = self._lp.Objective()
        self._goal.SetMinimization()
        endless = self._lp.infinity()
        self._rows = {
            key: [self._lp.Constraint(-endless, float(n)) for n in there]
            for key, there in left.items()
        }
        self._one = {vehicle: self._lp.Constraint(1, 1) for vehicle in vehicles}
        self._shape = spare.shape
        self._fit: dict[int, pywraplp.Constraint] = {}
        for at in np.flatnonzero(cost):
            row = self._lp.Constraint(-endless, float(spare.flat[at]))
            short = self._lp.NumVar(0, endless, "")
            row.SetCoefficient(short, -1)
            self._goal.SetCoefficient(short, float(cost.flat[at]) * SHORT)
            self._fit[int(at)] = row
        self._offers: dict[
            str, dict[tuple[Chain, ...], tuple[Offer, pywraplp.Variable]]
        ]
        self._offers = {vehicle: {} for vehicle in self._one}

    @property
    def value(self) -> float:
        return float(self._goal.Value())

    def add(self, vehicle: str, offer: Offer) -> bool:
        """Take an offer in; False where it is there already."""
        held, key = self._offers[vehicle], tuple(offer.chains.values())
        if key in held:
            return False
        part = self._lp.NumVar(0, self._lp.infinity(), "")
        self._goal.SetCoefficient(part, offer.cost)
        self._one[vehicle].SetCoefficient(part, 1)
        for what, weeks, numbers in offer.takes:
            rows = self._rows[what]
            for week, number in zip(weeks.tolist(), numbers.tolist(), strict=True):
                rows[week].SetCoefficient(part, number)
        for at in offer.out.tolist():
            if at in self._fit:
                self._fit[at].SetCoefficient(part, 1)
        held[key] = offer, part
        return True

    def solve(self) -> bool:
        """Whether it could be solved."""
        return bool(self._lp.Solve() == pywraplp.Solver.OPTIMAL)

    def prices(self) -> tuple[dict[Key, Reals], Reals]:
        """Of the shop by week, and of being out by line and week; in late days."""
        shop = {
            key: np.maximum(0.0, [-row.dual_value() for row in rows])
            for key, rows in self._rows.items()
        }
        out = np.zeros(self._shape)
        for at, row in self._fit.items():
            out.flat[at] = max(0.0, -row.dual_value())
        return shop, out

    def surest(self, free: Iterable[str]) -> list[tuple[float, str, Offer]]:
        """For each vehicle what most of it is taken of, the surest first."""
        found = []
        for vehicle in free:
            parts = self._offers[vehicle].values()
            offer, part = max(parts, key=lambda each: each[1].solution_value())
            found.append((part.solution_value(), vehicle, offer))
        return sorted(found, key=lambda each: (-each[0], each[1]))

    def kept(self, vehicle: str, left: Mapping[Key, Numbers], most: int) -> list[Offer]:
        """The offers nearest to being taken, of those for which enough is left."""
        nearest = sorted(
            self._offers[vehicle].values(), key=lambda each: each[1].reduced_cost()
        )
        able = [offer for offer, _ in nearest if offer.fits(left)]
        nothing = [offer for offer in able if not offer.takes]
        return nothing + [offer for offer in able if offer.takes][:most]
