"""The literals of a constraint model: times that begin, stays, and what follows from them."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from fleet.workshop.engine.desk import Desk
from fleet.workshop.engine.work import Work

Linear = cp_model.LinearExpr
Limit = tuple[str, str | int, int]  # hours of a skill, places or units; the week
Literal = cp_model.IntVar
Holds = cp_model.BoundedLinearExpression | bool
Values = dict[int, int]  # of variables, by index
Worked = Callable[[Values], int]  # a variable that follows from those before it


@dataclass(slots=True, eq=False)
class Time:
    """One time of a job: a literal for each week, and one for being left undone."""

    work: Work
    time: int
    begins: dict[int, Literal]
    undone: Literal
    start: Linear  # the week; the first after the horizon where undone
    weeks: int  # of the horizon

    def week(self, values: Values) -> int:
        return next((w for w, x in self.begins.items() if values[x.index]), self.weeks)


Standing = dict[tuple[str, int], list[Literal]]  # by job and time, one of which can be


def standing() -> Standing:
    return defaultdict(list)


@dataclass(slots=True)
class Stay:
    """What stands for one vehicle in its weeks."""

    desk: Desk
    turns: list[list[Time]] = field(default_factory=list)
    visit: dict[int, Literal] = field(default_factory=dict)
    begins: dict[int, list[Literal]] = field(default_factory=dict)
    pit: dict[int, Standing] = field(default_factory=lambda: defaultdict(standing))
    road: dict[int, Standing] = field(default_factory=lambda: defaultdict(standing))


def total(terms: Iterable[Linear]) -> Linear:
    return cp_model.LinearExpr.sum(list(terms))


def any_of(literals: list[Literal], others: list[Worked]) -> Worked:
    return lambda v: int(any(v[x.index] for x in literals) or any(o(v) for o in others))


def any_but(literals: list[Literal], but: list[Literal]) -> Worked:
    """Whether any holds; not, where the vehicle stands on a pit."""
    return lambda v: int(
        any(v[x.index] for x in literals) and not any(v[x.index] for x in but)
    )


def begun(turn: Time, week: int) -> Linear:
    return total([x for w, x in turn.begins.items() if w <= week])


def overdue_by(past: list[Literal], turn: Time | None, week: int) -> Worked:
    return lambda v: int(
        any(v[x.index] for x in past) and (turn is None or turn.week(v) > week)
    )
