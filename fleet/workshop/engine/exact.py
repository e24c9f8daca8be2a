"""The best programme of all, level by level, for as many vehicles as CP-SAT can settle."""

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from fleet.workshop.engine.desk import Chain, Desk
from fleet.workshop.engine.fleet import Fleet
from fleet.workshop.engine.model import LEVELS, Model
from fleet.workshop.engine.problem import SHORTFALL
from fleet.workshop.engine.work import Work

WORKERS = 8  # even on two cores: with two, the bounds stay far off
LOOK = 0.2  # seconds between two looks at whether to stop


@dataclass(frozen=True, slots=True)
class Settled:
    """What was found, and what no programme as good on the levels before has less of."""

    chains: dict[str, Chain]
    bounds: dict[str, int]


def settle(
    fleet: Fleet, seconds: Callable[[], float], stopped: Callable[[], bool]
) -> Settled:
    """Minimise one level after the other, what was reached on those before held fixed."""
    works = [w for works in fleet.works.useful.values() for w in works]
    had = dict(zip(LEVELS, fleet.order, strict=True))
    desks = _counted_in(fleet, works)
    chains = {work.job.key: fleet.lift(work) for work in works}
    fixed = dict(zip(LEVELS, fleet.order, strict=True))
    fixed[SHORTFALL] = 0  # all of it is in the model
    model = Model(fleet, works)
    values = {level: had[level] - fixed[level] for level in LEVELS}
    bounds: dict[str, int] = {}
    for n, level in enumerate(LEVELS):
        left = seconds()
        if left <= 0 or stopped():
            break
        if not values[level]:  # nothing is less than nothing
            bounds[level] = fixed[level]
            model.model.add(model.cost(level) <= 0)
            continue
        share = left / 2 if n < len(LEVELS) - 1 else left
        model.hint(chains)
        solver, status = _minimised(model, level, share, stopped)
        if status not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
            break
        chains = model.chains(solver)
        values = {each: solver.value(model.cost(each)) for each in LEVELS}
        value = values[level]
        bounds[level] = -(-round(solver.best_objective_bound * 1000) // 1000)
        bounds[level] = min(value, bounds[level]) + fixed[level]
        model.model.add(model.cost(level) <= value)
    _lay_back(fleet, works, chains)
    for desk in desks:
        fleet.count_out(desk)
    return Settled(chains, bounds)


def _counted_in(fleet: Fleet, works: Sequence[Work]) -> list[Desk]:
    """The desks of the vehicles worked on, each counted for every day in the diary."""
    keys = dict.fromkeys(work.job.vehicle for work in works)
    desks = [fleet.desks[vehicle] for vehicle in keys]
    for desk in desks:
        fleet.count_in(desk)
    return desks


def _lay_back(fleet: Fleet, works: Sequence[Work], chains: dict[str, Chain]) -> None:
    for work in works:
        fleet.lay(work, chains[work.job.key])


def _minimised(
    model: Model, level: str, seconds: float, stopped: Callable[[], bool]
) -> tuple[cp_model.CpSolver, cp_model.CpSolverStatus]:
    """In a thread of its own, so that the one who asked can be asked whether to stop."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.max_time_in_seconds = seconds
    model.model.minimize(model.cost(level))
    found: list[cp_model.CpSolverStatus] = []
    thread = threading.Thread(target=lambda: found.append(solver.solve(model.model)))
    thread.start()
    while thread.is_alive():
        thread.join(LOOK)
        if thread.is_alive() and stopped():
            solver.stop_search()
    return solver, found[0]
