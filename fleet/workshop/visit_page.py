"""Why a visit stands where it stands, and what each other week would cost, in words."""

import datetime as dt
from dataclasses import dataclass

from fleet.upkeep.due import written
from fleet.workshop.engine.problem import (
    EFFORT,
    LATE,
    MOVES,
    POINTS,
    SHORTFALL,
    Problem,
    Programme,
)
from fleet.workshop.engine.reasons import Choice, choices, visit_at
from fleet.workshop.telling import SKILLS, VisitLine, visit_lines

_UNITS = {
    SHORTFALL: "vehicle-days short",
    LATE: "days late",
    MOVES: "moved against the published programme",
}


@dataclass(frozen=True, slots=True)
class WeekRow:
    """A week the visit could begin in, in words."""

    week: int
    monday: dt.date
    here: bool
    lacks: tuple[str, ...]
    costs: tuple[str, ...]
    better: bool  # by the order of the levels


@dataclass(frozen=True, slots=True)
class VisitPage:
    """A visit of a found programme and the weeks about it."""

    start: dt.date
    line: VisitLine
    why: str
    rows: tuple[WeekRow, ...]

    def monday_of(self, week: int) -> dt.date:
        """Return the Monday of a week of the programme."""
        return self.start + dt.timedelta(weeks=week)


def visit_page(
    problem: Problem, programme: Programme, vehicle: str, week: int
) -> VisitPage | None:
    """Return the page of the visit of a vehicle that begins in a week; None: there is none."""
    visit = visit_at(problem, programme.starts, vehicle, week)
    if visit is None:
        return None
    line = next(
        line
        for line in visit_lines(problem, programme)
        if line.visit.turns == visit.turns
    )
    rows = tuple(
        _row(problem, choice, week)
        for choice in choices(problem, programme.starts, visit, SKILLS)
    )
    return VisitPage(problem.start, line, _why(line, rows, week), rows)


def _row(problem: Problem, choice: Choice, here: int) -> WeekRow:
    return WeekRow(
        choice.week,
        problem.monday(choice.week),
        choice.week == here,
        choice.lacks,
        tuple(_costs(choice.cost)),
        not choice.lacks and choice.cost < (0,) * len(choice.cost),
    )


def _costs(cost: tuple[int, ...]) -> list[str]:
    found = []
    for name, value in zip((SHORTFALL, LATE, EFFORT, MOVES), cost, strict=False):
        if not value:
            continue
        more = "more" if value > 0 else "less"
        if name == EFFORT:
            found.append(f"{abs(value) / POINTS:.2f} {more} lives and visits")
        else:
            found.append(f"{abs(value)} {more} {_UNITS[name]}")
    return found


def _why(line: VisitLine, rows: tuple[WeekRow, ...], here: int) -> str:
    """Return which due date drives the visit, and what the weeks nearer to it lacked."""
    driver = line.driver
    said = f"{driver.job.label} falls due on {written(driver.due)}; it is done {driver.words}."
    if driver.days <= 0:
        later = [row for row in rows if here < row.week and not row.lacks]
        if not later:
            return f"{said} No week after it has room."
        return f"{said} Later weeks with room cost more where the table says so."
    earlier = [row for row in rows if row.week < here]
    lacking = [row for row in earlier if row.lacks]
    if earlier and len(lacking) == len(earlier):
        return f"{said} Every earlier week from there on lacks something."
    return f"{said} Earlier weeks with room cost more where the table says so."
