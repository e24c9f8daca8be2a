"""A problem in which every demand and every limit is an assumption that may be dropped."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from ortools.sat.python import cp_model

from fleet.workshop.engine.fleet import Fleet
from fleet.workshop.engine.literals import Holds, Limit, Literal, Stay
from fleet.workshop.engine.model import Model
from fleet.workshop.engine.problem import Float, Pin, Problem
from fleet.workshop.engine.work import Marks, Work, Works
from fleet.workshop.vocabulary import Wish

SECONDS = 5.0  # for one question


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the diary: so many vehicles of a pool in one week."""

    pool: str
    week: int
    vehicles: int


@dataclass(frozen=True, slots=True)
class Held:
    """A job that keeps its vehicle from the diary once it is overdue."""

    job: str


Asked = Pin | Line | Held | Limit
CLOSED, UNITS = "closed", "units"


class Demands(Model):
    """Asked whether some of them can all hold."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.asked: dict[Asked, Literal] = {}
        open_always = replace(problem.capacity, closed=frozenset())
        anywhere = frozenset(range(problem.weeks))
        pins = [
            replace(pin, weeks=anywhere) for pin in problem.pins if pin.wish is Wish.AT
        ]
        known = {stock.group for stock in problem.floats}
        bare_groups = {job.group for job in problem.jobs if job.group} - known
        none = tuple(Float(group, group, 0) for group in sorted(bare_groups))
        bare = replace(
            problem,
            capacity=open_always,
            floats=(*problem.floats, *none),
            pins=tuple(pins),
            published={},
        )
        fleet = Fleet(bare, Works(bare, hopeless=True))
        works = [work for works in fleet.works.useful.values() for work in works]
        for vehicle in dict.fromkeys(work.job.vehicle for work in works):
            fleet.count_in(fleet.desks[vehicle])
        for work in works:
            fleet.lift(work)
        super().__init__(fleet, works)
        for pin in problem.pins:
            self._pin(pin)
        for week in sorted(problem.capacity.closed):
            self._keep_out(self._literal((CLOSED, "", week)), frozenset({week}), None)

    def possible(self, work: Work, stay: Stay) -> Marks:  # noqa: ARG002
        """Every week, whatever there is: what there is may be dropped."""
        return np.ones(len(work.own), dtype=bool)

    def limit(self, of: Limit, holds: Holds) -> None:
        kind, name, week = of
        of = (kind, name, 0 if kind == UNITS else week)
        self.model.add(holds).only_enforce_if(self._literal(of))

    def overdue(self, work: Work, holds: Holds) -> None:
        self.model.add(holds).only_enforce_if(self._literal(Held(work.job.key)))

    def need(self, row: int, week: int, met: Holds) -> bool:
        diary = self.fleet.diary
        vehicles = diary.in_pool(row) - int(diary.spare[row, week])
        line = Line(diary.pools[row], week, vehicles)
        self.model.add(met).only_enforce_if(self._literal(line))
        return True

    def _literal(self, asked: Asked) -> Literal:
        if asked not in self.asked:
            self.asked[asked] = self.model.new_bool_var("")
        return self.asked[asked]

    def _pin(self, pin: Pin) -> None:
        literal = self._literal(pin)
        if pin.wish is Wish.NOT_IN:
            self._keep_out(literal, pin.weeks, pin)
            return
        begins = [x for _, w, x in self._of(pin) if w in pin.weeks]
        self.model.add_bool_or([*begins, literal.negated()])

    def _of(self, pin: Pin | None) -> Iterable[tuple[Work, int, Literal]]:
        """What a pin speaks of: a time of a job, all of a vehicle; None: of all."""
        for turns in self.turns.values():
            for turn in turns:
                job = turn.work.job
                if pin is None or (
                    (job.key, turn.time) == (pin.job, pin.occurrence)
                    if pin.job is not None
                    else job.vehicle == pin.vehicle
                ):
                    for week, literal in turn.begins.items():
                        yield turn.work, week, literal

    def _keep_out(
        self, literal: Literal, weeks: frozenset[int], pin: Pin | None
    ) -> None:
        for work, week, begins in self._of(pin):
            if not weeks.isdisjoint(range(week, week + work.job.weeks)):
                self.model.add_implication(literal, begins.negated())

    def clash(self, asked: Sequence[Asked]) -> list[Asked] | None:
        """Some of these that cannot all hold; None: they can, or it was not settled."""
        known = {self.asked[each].index: each for each in asked}
        self.model.clear_assumptions()
        self.model.add_assumptions([self.asked[each] for each in asked])
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1  # else no part of them is named
        solver.parameters.max_time_in_seconds = SECONDS
        if solver.solve(self.model) != cp_model.INFEASIBLE:
            return None
        named = solver.sufficient_assumptions_for_infeasibility()
        return [known[index] for index in named if index in known] or list(asked)
