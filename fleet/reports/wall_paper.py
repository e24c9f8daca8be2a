"""The programme as a wall sheet, A4 or A3: weeks across, vehicles down, then the list."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from reportlab.lib.pagesizes import A3
from reportlab.platypus import Flowable, PageBreak, Spacer

from fleet.reports.document import LANDSCAPE, build, text_width
from fleet.reports.drawing import Picture
from fleet.reports.sheet import Head, Printed
from fleet.reports.typesetting import (
    CELL_STRONG,
    SMALL,
    STRONG,
    boxed,
    heading,
    ledger,
    paragraph,
)
from fleet.ui.drawing import Drawing, Item, Line, Path, Pen, Rect, Text
from fleet.ui.palette import INK, INK_SOFT, PIPED_TINT, RULE, STOPPED_TINT
from fleet.upkeep.due import written
from fleet.workshop.engine.problem import WEEK
from fleet.workshop.telling import VisitLine
from fleet.workshop.wall import WallSheet, WallSheetRow

CAUTION = (
    "A plan, as published. It says when work is meant to be done, not how a vehicle "
    "stands: the brake status is what the records show, and the operator's own rules "
    "and competent persons decide."
)
LEGEND = (
    "A box is a stay in the shop, the figure in it the number of jobs; ! where one is "
    "late against its due date; a black corner where work is pinned. Grey weeks: shut."
)
_LETTERS = 14  # of a type
_NAMES, _ROW, _HEAD = 92.0, 17.0, 34.0  # points
_EDGE, _GRID, _MONTH = Pen(INK, 1.1), Pen(RULE, 0.5), Pen(INK_SOFT, 0.9)
_MONTH_AND_YEAR, _MONTH_ALONE = 46.0, 19.0  # points that a name takes
_WIDE_ENOUGH = 17.0  # points a week, for the day of its Monday to be written


@dataclass(frozen=True, slots=True)
class Paper:
    """A size of paper, and what goes on one sheet of it."""

    size: tuple[float, float]
    weeks: int
    rows: int

    @property
    def width(self) -> float:
        """Return the width of what is set on it, in points."""
        return text_width(self.size)


PAPERS = {
    "a4": Paper(LANDSCAPE, weeks=26, rows=20),
    "a3": Paper((A3[1], A3[0]), weeks=53, rows=34),
}


@dataclass(frozen=True, slots=True)
class WallPaper:
    """What is printed: a wall sheet and what stands at its head."""

    number: int
    title: str
    published: str  # when and by whom
    note: str
    sheet: WallSheet


def draw_wall_sheet(wall: WallPaper, printed: Printed, paper: Paper) -> bytes:
    """Return the wall sheet as PDF; the same programme and size give the same bytes."""
    return build(list(_story(wall, paper)), _head(wall, printed), size=paper.size)


def _head(wall: WallPaper, printed: Printed) -> Head:
    weeks = f"{written(wall.sheet.start)} to {written(wall.sheet.last)}"
    return Head(
        f"Workshop programme {wall.number}",
        wall.title,
        weeks,
        "",
        f"Generated {printed.time}. {wall.published}",
        printed.records,
        CAUTION,
    )


def _story(wall: WallPaper, paper: Paper) -> Iterator[Flowable]:
    sheet = wall.sheet
    if wall.note:
        yield boxed([paragraph(wall.note, STRONG)], paper.width)
        yield Spacer(0, 6)
    if not sheet.rows:
        yield paragraph("No vehicle comes in.", STRONG)
        return
    charts = [
        _chart(sheet, rows, first, paper)
        for first in range(0, sheet.weeks, paper.weeks)
        for rows in _pages(_coming_in(sheet, first, paper.weeks), paper.rows)
    ]
    for chart in charts:
        yield Picture(chart, paper.width)
        yield Spacer(0, 3)
        yield paragraph(LEGEND, SMALL)
        yield PageBreak()
    yield from _list(sheet, paper)


def _coming_in(sheet: WallSheet, first: int, weeks: int) -> list[WallSheetRow]:
    """Return the vehicles that stand in the shop in some of these weeks."""
    return [
        row
        for row in sheet.rows
        if any(_meets(line, first, first + weeks) for line in row.visits)
    ]


def _meets(line: VisitLine, first: int, end: int) -> bool:
    return line.visit.week < end and line.visit.week + line.visit.weeks > first


def _pages(rows: list[WallSheetRow], most: int) -> Iterator[list[WallSheetRow]]:
    for n in range(0, len(rows), most):
        yield rows[n : n + most]


def _chart(
    sheet: WallSheet, rows: list[WallSheetRow], first: int, paper: Paper
) -> Drawing:
    weeks = min(paper.weeks, sheet.weeks - first)
    # A short last sheet keeps the scale of the others.
    week = (paper.width - _NAMES) / min(paper.weeks, sheet.weeks)
    low = _HEAD + _ROW * len(rows)
    span = range(first, first + weeks)
    items: list[Item] = [*_grid(sheet, span, week, low)]
    for n, row in enumerate(rows):
        items += _row(sheet, row, span, week, _HEAD + _ROW * n)
    items.append(Line(0, low, _NAMES + week * weeks, low, _MONTH))
    return Drawing(paper.width, low + 1, tuple(items))


def _grid(sheet: WallSheet, span: range, week: float, low: float) -> Iterator[Item]:
    """Yield shut weeks, the lines between weeks, and the names of months and Mondays."""
    for n, number in enumerate(span):
        x, monday = _NAMES + week * n, _monday(sheet, number)
        if number in sheet.shut:
            yield Rect(x, _HEAD, week, low - _HEAD, fill=STOPPED_TINT)
        new_month = n == 0 or monday.month != _monday(sheet, number - 1).month
        yield Line(
            x, 0.0 if new_month else 18.0, x, low, _MONTH if new_month else _GRID
        )
        if new_month and (name := _month_name(sheet, span[n:], week)):
            yield Text(x + 3, 11, name, 8, bold=True)
        if week >= _WIDE_ENOUGH or n % 2 == 0:
            yield Text(
                x + week / 2, 28, str(monday.day), 7, anchor="middle", fill=INK_SOFT
            )
    yield Line(0, _HEAD, _NAMES + week * len(span), _HEAD, _MONTH)


def _month_name(sheet: WallSheet, span: range, week: float) -> str:
    """Return the month in which some weeks begin, as long as there is room for it."""
    month = _monday(sheet, span[0]).month
    room = week * sum(_monday(sheet, number).month == month for number in span[:6])
    if room >= _MONTH_AND_YEAR:
        return f"{_monday(sheet, span[0]):%b %Y}"
    return f"{_monday(sheet, span[0]):%b}" if room >= _MONTH_ALONE else ""


def _monday(sheet: WallSheet, week: int) -> dt.date:
    return sheet.start + dt.timedelta(days=WEEK * week)


def _short(kind: str) -> str:
    """Return a type as the names' column holds it."""
    return (
        kind
        if len(kind) <= _LETTERS
        else f"{kind[: _LETTERS - 1]}\N{HORIZONTAL ELLIPSIS}"
    )


def _row(
    sheet: WallSheet, row: WallSheetRow, span: range, week: float, top: float
) -> Iterator[Item]:
    base = top + _ROW - 5
    yield Text(0, base, row.number, 9.5, bold=True)
    yield Text(_NAMES - 4, base, _short(row.kind), 6.5, anchor="end", fill=INK_SOFT)
    yield Line(0, top + _ROW, _NAMES + week * len(span), top + _ROW, _GRID)
    for line in row.visits:
        if _meets(line, span.start, span.stop):
            yield from _stay(sheet, line, span, week, top)


def _stay(
    sheet: WallSheet, line: VisitLine, span: range, week: float, top: float
) -> Iterator[Item]:
    begins = max(line.visit.week, span.start)
    ends = min(line.visit.week + line.visit.weeks, span.stop)
    x, width = _NAMES + week * (begins - span.start), week * (ends - begins)
    yield Rect(x + 1, top + 2, width - 2, _ROW - 4, _EDGE, PIPED_TINT)
    if (line.visit.vehicle, line.visit.week) in sheet.pinned:
        corner = ((x + 1, top + 2), (x + 6, top + 2), (x + 1, top + 7))
        yield Path((corner,), fill=INK, closed=True)
    said = f"{len(line.turns)}{'!' if line.late else ''}"
    yield Text(
        x + width / 2, top + _ROW - 5.5, said, 8, anchor="middle", bold=bool(line.late)
    )


def _list(sheet: WallSheet, paper: Paper) -> Iterator[Flowable]:
    yield from heading("Visits in order")
    lines = sorted(
        (line for row in sheet.rows for line in row.visits),
        key=lambda line: (line.visit.week, line.number),
    )
    widths = (74.0, 62.0, 120.0, 150.0)
    rows = [
        [
            written(line.monday),
            paragraph(line.number, CELL_STRONG),
            _where(line),
            ", ".join(f"{n} h {skill}" for skill, n in line.hours.items()),
            "\n".join(f"{turn.job.label}: {turn.words}" for turn in line.turns),
        ]
        for line in lines
    ]
    columns = ("Week of", "Vehicle", "Where", "Hours", "Work, against its due date")
    yield from ledger(columns, rows, (*widths, paper.width - sum(widths)))


def _where(line: VisitLine) -> str:
    weeks = line.visit.weeks
    return f"{line.place}, {weeks} week{'s' if weeks > 1 else ''}"
