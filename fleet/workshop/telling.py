"""A programme in words and figures: its levels with bound and gap, and each visit."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from fleet.people.models import Skill
from fleet.upkeep.due import written
from fleet.workshop.engine.problem import (
    EFFORT,
    LATE,
    MOVES,
    POINTS,
    SHORTFALL,
    WEEK,
    Job,
    Level,
    Problem,
    Programme,
    Visit,
)
from fleet.workshop.engine.score import play
from fleet.workshop.vocabulary import Place, many

SKILLS: dict[str, str] = dict(Skill.choices)  # names by key
TITLES = {
    SHORTFALL: "Vehicle-days short of the running diary, by weight",
    LATE: "Days late",
    EFFORT: "Lives thrown away, and visits at their rate",
    MOVES: "Moved against the published programme",
}
FOUND_BY = {
    "plain": "Earliest due date first",
    "grouped": "The same, grouped by vehicle",
}
_FINE = 0.005  # a gap below half a per cent is written with two decimals


@dataclass(frozen=True, slots=True)
class TurnLine:
    """A job of a visit: when it was due, and how far from that it is done."""

    key: str
    occurrence: int
    job: Job
    due: date
    last_good: date
    done: date

    @property
    def days(self) -> int:
        """Return the days after the due date; early is below nought."""
        return (self.done - self.due).days

    @property
    def words(self) -> str:
        """Return how it stands to its due date."""
        if self.done > self.last_good:
            return f"{many(self.days, 'day')} late, past its last good day"
        if self.days > 0:
            return f"{many(self.days, 'day')} late, within tolerance"
        return f"{many(-self.days, 'day')} early" if self.days else "on its day"


@dataclass(frozen=True, slots=True)
class VisitLine:
    """A visit with names instead of keys."""

    visit: Visit
    number: str
    monday: date
    friday: date
    turns: tuple[TurnLine, ...]
    hours: dict[str, int]
    place: str

    @property
    def late(self) -> int:
        """Return the days late of its jobs together."""
        return sum(max(0, turn.days) for turn in self.turns)

    @property
    def wasted_lives(self) -> float:
        """Return the lives its early jobs throw away."""
        points = sum(max(0, -t.days) * t.job.waste for t in self.turns)
        return points / POINTS

    @property
    def driver(self) -> TurnLine:
        """Return the job whose due date drives the visit: the first to fall due."""
        return min(self.turns, key=lambda turn: turn.due)


def visit_lines(problem: Problem, programme: Programme) -> list[VisitLine]:
    """Return the visits of a programme in order of week and number."""
    numbers = problem.label
    turns = {
        (turn.job.key, turn.occurrence): TurnLine(
            turn.job.key,
            turn.occurrence,
            turn.job,
            problem.date_of(turn.due),
            problem.date_of(turn.last_good),
            problem.date_of(turn.done(problem.weeks)),
        )
        for job in problem.jobs
        for turn in play(job, programme.starts, problem.weeks)
        if turn.start is not None
    }
    lines = [_line(problem, visit, turns, numbers) for visit in programme.visits]
    return sorted(lines, key=lambda line: (line.visit.week, line.number))


def _line(
    problem: Problem,
    visit: Visit,
    turns: dict[tuple[str, int], TurnLine],
    numbers: dict[str, str],
) -> VisitLine:
    mine = tuple(turns[turn] for turn in visit.turns if turn in turns)
    hours: dict[str, int] = {}
    for turn in mine:
        for skill, number in turn.job.hours.items():
            hours[skill] = hours.get(skill, 0) + number
    places = [place for place in Place if any(t.job.place is place for t in mine)]
    monday = problem.monday(visit.week)
    return VisitLine(
        visit,
        numbers.get(visit.vehicle, visit.vehicle),
        monday,
        problem.date_of(WEEK * (visit.week + visit.weeks - 1) + 4),
        tuple(sorted(mine, key=lambda t: (t.due, t.job.label))),
        {skill_name(skill): number for skill, number in sorted(hours.items())},
        places[-1].label if places else "",
    )


def skill_name(skill: str) -> str:
    """Return what a skill is called; one that is not of the register stays as it is."""
    return SKILLS.get(skill, skill)


def level_value(level: Level) -> str:
    """Return the value of a level as it is written: days, lives, visits."""
    return _amount(level.name, level.value)


def level_bound(level: Level) -> str:
    """Return what no programme as good before can go below."""
    return "\N{EN DASH}" if level.bound is None else _amount(level.name, level.bound)


def _amount(name: str, value: int) -> str:
    return f"{value / POINTS:.2f}" if name == EFFORT else f"{value}"


def gap_words(level: Level) -> str:
    """Return how far the value may be from the best, in words."""
    gap = level.gap
    if gap is None:
        return "no bound known"
    if gap <= 0:
        return "proved: none is better"
    if level.bound == 0:
        return f"at most {_amount(level.name, level.value)} too many; nought is not excluded"
    return f"at most {100 * gap:.{1 if gap > _FINE else 2}f} % of it could be saved"


def told(problem: Problem, programme: Programme) -> dict[str, Any]:
    """Return a programme for other programs: levels, bounds, gaps, visits."""
    named = {level.name: level for level in programme.levels}
    return {
        "start": problem.start.isoformat(),
        "weeks": problem.weeks,
        "found_by": programme.found_by,
        "shortfall": named[SHORTFALL].value,
        "late_days": named[LATE].value,
        "wasted_lives": round(programme.wasted_lives, 5),
        "visits": len(programme.visits),
        "levels": [
            {
                "name": level.name,
                "value": level.value,
                "bound": level.bound,
                "gap": level.gap,
            }
            for level in programme.levels
        ],
        "programme": [_told(line) for line in visit_lines(problem, programme)],
    }


def _told(line: VisitLine) -> dict[str, Any]:
    return {
        "vehicle": line.number,
        "monday": line.monday.isoformat(),
        "week": line.visit.week,
        "weeks": line.visit.weeks,
        "jobs": [
            {
                "job": turn.key,
                "time": turn.occurrence,
                "work": turn.job.label,
                "due": turn.due.isoformat(),
                "done_by": turn.done.isoformat(),
            }
            for turn in line.turns
        ],
    }


def text(problem: Problem, programme: Programme) -> Iterator[str]:
    """Yield the lines of a programme for a terminal."""
    last = problem.date_of(WEEK * problem.weeks - 1)
    yield f"Programme from {written(problem.start)} to {written(last)}."
    yield "It is a plan. The brake status is what the records show."
    yield ""
    for level in programme.levels:
        bound = f"bound {level_bound(level)}, {gap_words(level)}"
        yield f"{TITLES[level.name]}: {level_value(level)} ({bound})"
    wasted = f"{programme.wasted_lives:.2f} lives thrown away"
    yield f"{len(programme.visits)} visits, {wasted}."
    for line in visit_lines(problem, programme):
        weeks = f"{line.visit.weeks} week{'s' if line.visit.weeks > 1 else ''}"
        yield ""
        yield f"{written(line.monday)}  {line.number}  {weeks}"
        for turn in line.turns:
            yield f"    {turn.job.label}: due {written(turn.due)}, {turn.words}"
