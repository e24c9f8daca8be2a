"""All that the page of a found programme shows, worked out from problem and result."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.core.paginator import Page, Paginator
from django.utils.safestring import SafeString

from fleet.ui.drawing import to_svg
from fleet.ui.wall_drawing import WallBar, WallRow, load_drawing, wall_drawing
from fleet.workshop.engine.absence import line_of
from fleet.workshop.engine.load import Load, Units, hours, units
from fleet.workshop.engine.problem import Level, Problem, Programme
from fleet.workshop.engine.reasons import Short, short_lines
from fleet.workshop.engine.rules import earliest_due
from fleet.workshop.telling import (
    FOUND_BY,
    TITLES,
    VisitLine,
    gap_words,
    level_bound,
    level_value,
    skill_name,
)
from fleet.workshop.wall import WallSheet, WallSheetRow, wall_sheet

VISITS_A_PAGE, VEHICLES_A_PAGE = 50, 80


@dataclass(frozen=True, slots=True)
class LevelRow:
    """A level of the programme with bound and gap, and what each rule of thumb has."""

    title: str
    value: str
    bound: str
    gap: str
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LoadPart:
    """Hours of a skill, week by week: drawn, and as figures of the weeks with any."""

    skill: str
    drawing: SafeString
    taken: int
    there: int
    rows: tuple[tuple[dt.date, int, int], ...]


@dataclass(frozen=True, slots=True)
class UnitsMonth:
    """Exchange units of a group in one month: fitted, back, fewest left."""

    month: dt.date
    fitted: int
    back: int
    fewest: int


@dataclass(frozen=True, slots=True)
class ShortRow:
    """A line of the diary over weeks on end in which so many are lacking for one reason."""

    line: str
    first: dt.date
    last: dt.date
    wanted: int
    fit: int
    inside: str
    overdue: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FoundPage:
    """The page of a programme."""

    levels: list[LevelRow]
    other_names: list[str]
    sheet: WallSheet
    rows: Page[WallSheetRow]
    wall: SafeString
    visits: Page[VisitLine]
    wasted: str
    loads: list[LoadPart]
    units: list[tuple[Units, list[UnitsMonth]]]
    short: list[ShortRow]
    not_done: list[str]


def found_page(
    problem: Problem,
    programme: Programme,
    lines: Mapping[str, str],
    asked: Mapping[str, str],
) -> FoundPage:
    """
    Return the page; `lines` are the names of the lines of the diary.

    `asked` may name a `page` of the visits and a page of the `vehicles` on the wall.
    """
    sheet = wall_sheet(problem, programme)
    rules = [earliest_due(problem, grouped=grouped) for grouped in (False, True)]
    visits = [line for row in sheet.rows for line in row.visits]
    visits.sort(key=lambda line: (line.visit.week, line.number))
    rows = Paginator(sheet.rows, VEHICLES_A_PAGE).get_page(asked.get("vehicles"))
    return FoundPage(
        levels=level_rows(programme.levels, rules),
        other_names=[FOUND_BY[rule.found_by] for rule in rules],
        sheet=sheet,
        rows=rows,
        wall=wall_svg(sheet, rows),
        visits=Paginator(visits, VISITS_A_PAGE).get_page(asked.get("page")),
        wasted=f"{programme.wasted_lives:.2f}",
        loads=[_load(problem, load) for load in hours(problem, programme.starts)],
        units=[(u, _months(problem, u)) for u in units(problem, programme.starts)],
        short=_short(problem, short_lines(problem, programme.starts), lines),
        not_done=_not_done(problem, programme),
    )


def level_rows(
    levels: Sequence[Level], others: Sequence[Programme] = ()
) -> list[LevelRow]:
    """Return the levels of a programme beside those of others."""
    beside: list[tuple[Level, ...]] = [other.levels for other in others]
    return [
        LevelRow(
            TITLES[level.name],
            level_value(level),
            level_bound(level),
            gap_words(level),
            tuple(level_value(other[n]) for other in beside),
        )
        for n, level in enumerate(levels)
    ]


def wall_svg(sheet: WallSheet, shown: Iterable[WallSheetRow]) -> SafeString:
    """Return the wall chart of some vehicles drawn."""
    rows = [
        WallRow(
            row.number,
            tuple(
                WallBar(
                    line.visit.week,
                    line.visit.weeks,
                    f"{row.number}, week of {line.monday:%d %b %Y}",
                    marked=line.late > 0,
                    kept=(row.vehicle, line.visit.week) in sheet.pinned,
                )
                for line in row.visits
            ),
        )
        for row in shown
    ]
    drawn = wall_drawing(rows, first=sheet.start, weeks=sheet.weeks, shut=sheet.shut)
    title = f"Visits by vehicle and week from {sheet.start:%d %b %Y}"
    return to_svg(drawn, title=title, css="wall", fixed=True)


def _load(problem: Problem, load: Load) -> LoadPart:
    skill = skill_name(load.name)
    drawn = load_drawing(load.taken, load.there, first=problem.start)
    taken, there = sum(load.taken), sum(load.there)
    title = f"{skill}: {taken} hours taken of {there}, week by week"
    return LoadPart(
        skill,
        to_svg(drawn, title=title, css="wall", fixed=True),
        taken,
        there,
        tuple(
            (problem.monday(week), used, load.there[week])
            for week, used in enumerate(load.taken)
            if used
        ),
    )


def _months(problem: Problem, course: Units) -> list[UnitsMonth]:
    weeks: dict[dt.date, list[int]] = defaultdict(list)
    for week in range(problem.weeks):
        weeks[problem.monday(week).replace(day=1)].append(week)
    months = [
        UnitsMonth(
            month,
            sum(course.fitted[w] for w in held),
            sum(course.back[w] for w in held),
            min(course.left[w] for w in held),
        )
        for month, held in weeks.items()
    ]
    return [m for n, m in enumerate(months) if n == 0 or m.fitted or m.back]


def _short(
    problem: Problem, found: Iterable[Short], lines: Mapping[str, str]
) -> list[ShortRow]:
    """Join weeks on end in which the same is lacking for the same reasons."""
    numbers = problem.label
    last: dict[str, tuple[int, int]] = {}  # line: its row, and the week it reaches
    rows: list[ShortRow] = []
    for short in found:
        line, week = line_of(short.need.pool), short.need.week
        monday = problem.monday(week)
        row = ShortRow(
            lines.get(line, line),
            monday,
            monday + dt.timedelta(days=6),
            short.need.vehicles,
            short.fit,
            ", ".join(numbers[key] for key in short.inside),
            tuple(f"{numbers[key]} ({label})" for key, label in short.overdue),
        )
        at, reached = last.get(line, (-1, -9))
        if reached == week - 1 and _alike(rows[at], row):
            rows[at] = ShortRow(
                row.line,
                rows[at].first,
                row.last,
                row.wanted,
                row.fit,
                row.inside,
                row.overdue,
            )
        else:
            at = len(rows)
            rows.append(row)
        last[line] = (at, week)
    return rows


def _alike(one: ShortRow, other: ShortRow) -> bool:
    of = (one.wanted, one.fit, one.inside, one.overdue)
    return of == (other.wanted, other.fit, other.inside, other.overdue)


def _not_done(problem: Problem, programme: Programme) -> list[str]:
    """Return the work that falls due within the programme and is in no visit."""
    numbers = problem.label
    return [
        f"{numbers[job.vehicle]}: {job.label}"
        for job in problem.jobs
        if (job.key, 0) not in programme.starts and job.due < job.done(problem.weeks)
    ]
