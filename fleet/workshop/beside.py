"""Two programmes side by side: what each costs, and which visits stand elsewhere."""

import datetime as dt
from dataclasses import dataclass

from fleet.workshop.engine.problem import LATE, SHORTFALL, Problem, Programme
from fleet.workshop.engine.reasons import moved_visits
from fleet.workshop.telling import visit_lines

Answer = tuple[Problem, Programme]


Count = int | float


@dataclass(frozen=True, slots=True)
class Figure:
    """One thing counted in both."""

    title: str
    one: str
    other: str
    difference: str


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """Work that stands in another week, or in only one of the two."""

    number: str
    work: str
    one: dt.date | None
    other: dt.date | None


@dataclass(frozen=True, slots=True)
class Beside:
    """The figures of two programmes and what moved between them."""

    figures: list[Figure]
    moved: list[Elsewhere]


def beside(one: Answer, other: Answer) -> Beside:
    """Return two programmes side by side; jobs only one of them knows are left out."""
    counted = [_counted(*answer) for answer in (one, other)]
    figures = [
        Figure(title, _text(a), _text(b), _difference(b - a))
        for (title, a), (_, b) in zip(*counted, strict=True)
    ]
    problem, second = one[0], other[0]
    numbers = problem.label
    shared = problem.job.keys() & second.job.keys()
    moved = [
        Elsewhere(
            numbers.get(problem.job[key].vehicle, ""),
            problem.job[key].label,
            None if before is None else problem.monday(before),
            None if after is None else second.monday(after),
        )
        for key, _time, before, after in moved_visits(
            one[1].starts, other[1].starts, shared
        )
    ]
    moved.sort(key=lambda m: (m.one or m.other or dt.date.max, m.number, m.work))
    return Beside(figures, moved)


def _counted(problem: Problem, programme: Programme) -> list[tuple[str, Count]]:
    levels = {level.name: level.value for level in programme.levels}
    early = sum(
        max(0, -turn.days)
        for line in visit_lines(problem, programme)
        for turn in line.turns
    )
    return [
        ("Vehicle-days short of the running diary, by weight", levels[SHORTFALL]),
        ("Days late", levels[LATE]),
        ("Days of life thrown away by early work", early),
        ("Lives thrown away", programme.wasted_lives),
        ("Visits", len(programme.visits)),
    ]


def _text(value: Count) -> str:
    return f"{value:.2f}" if isinstance(value, float) else f"{value}"


def _difference(value: Count) -> str:
    if abs(value) < 0.005:  # noqa: PLR2004  # what two decimals show
        return "the same"
    more = f"{abs(value):.2f}" if isinstance(value, float) else f"{abs(value)}"
    return f"{more} {'more' if value > 0 else 'less'}"
