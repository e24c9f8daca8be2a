"""A wall chart: bars in rows over weeks; and beside it what is taken of what there is."""

import datetime as dt
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from fleet.ui.drawing import Drawing, Group, Item, Line, Path, Pen, Rect, Text
from fleet.ui.palette import INK, INK_SOFT, PIPED, RULE, SHEET, STOPPED_TINT

HEAD, PITCH, BAR = 26.0, 20.0, 14.0
LETTER = 7.2
SMALL = 11.0
FRAME, GRID = Pen(INK, 1.4), Pen(RULE, 0.8)
WEEK = dt.timedelta(days=7)


@dataclass(frozen=True, slots=True)
class WallBar:
    """A stay of so many weeks; `marked` is drawn open with a cross, `kept` with a point."""

    week: int
    weeks: int
    title: str
    marked: bool = False
    kept: bool = False


@dataclass(frozen=True, slots=True)
class WallRow:
    """A row and its name."""

    name: str
    bars: tuple[WallBar, ...]


@dataclass(frozen=True, slots=True)
class _Sheet:
    first: dt.date
    weeks: int
    left: float
    width: float

    @property
    def pitch(self) -> float:
        return (self.width - self.left) / self.weeks

    def x(self, week: float) -> float:
        return self.left + self.pitch * week


def wall_drawing(
    rows: Sequence[WallRow],
    *,
    first: dt.date,
    weeks: int,
    shut: Collection[int] = (),
    width: float = 1160.0,
) -> Drawing:
    """
    Return the chart: a row for each name, a column for each week, months named above.

    `first` is the Monday of the first week. Weeks in `shut` are shaded from top to foot.
    """
    left = max((LETTER * len(row.name) + 10 for row in rows), default=40.0)
    sheet = _Sheet(first, weeks, left, width)
    foot = HEAD + PITCH * max(len(rows), 1) + 4
    items: list[Item] = [*_shade(sheet, shut, foot), *_months(sheet, foot)]
    for number, row in enumerate(rows):
        top = HEAD + PITCH * number
        items.append(Line(0, top, width, top, GRID))
        items.append(Text(0, top + 14.5, row.name, 12.5, fill=INK))
        items.extend(
            Group((*_bar(sheet, bar, top + 3),), title=bar.title) for bar in row.bars
        )
    return Drawing(width, foot, tuple(items))


def load_drawing(
    taken: Sequence[int],
    there: Sequence[int],
    *,
    first: dt.date,
    width: float = 1160.0,
    height: float = 70.0,
) -> Drawing:
    """Return bars of what is taken each week under the line of what there is."""
    sheet = _Sheet(first, len(taken), 40.0, width)
    most = max([*taken, *there, 1])
    foot = HEAD + height

    def y(value: float) -> float:
        return foot - height * value / most

    items: list[Item] = [*_months(sheet, foot)]
    for week, value in enumerate(taken):
        if value:
            bar = Rect(sheet.x(week), y(value), sheet.pitch - 0.6, foot - y(value))
            over = value > there[week]
            items.append(
                Rect(bar.x, bar.y, bar.width, bar.height, FRAME, SHEET)
                if over
                else Rect(bar.x, bar.y, bar.width, bar.height, fill=PIPED)
            )
    steps = [
        point
        for week, value in enumerate(there)
        for point in ((sheet.x(week), y(value)), (sheet.x(week + 1), y(value)))
    ]
    items.append(Path((tuple(steps),), Pen(INK, 1.4)))
    items.append(Line(sheet.left, foot, width, foot, Pen(INK, 1.0)))
    items.append(Text(sheet.left - 6, y(most) + 8, str(most), SMALL, "end", INK_SOFT))
    items.append(Text(sheet.left - 6, foot, "0", SMALL, "end", INK_SOFT))
    return Drawing(width, foot + 3, tuple(items))


def _shade(sheet: _Sheet, shut: Collection[int], foot: float) -> Iterator[Item]:
    for week in sorted(shut):
        x = sheet.x(week)
        yield Rect(x, HEAD, sheet.pitch, foot - HEAD, fill=STOPPED_TINT)


def _months(sheet: _Sheet, foot: float) -> Iterator[Item]:
    """Yield a line where a month's first week begins, and its name where there is room."""
    before, free = None, 0.0
    for week in range(sheet.weeks):
        day = sheet.first + WEEK * week
        if before is not None and day.month == before:
            continue
        before, x = day.month, sheet.x(week)
        yield Line(x, HEAD - 6, x, foot, GRID)
        name = f"{day:%b} {day.year}" if day.month == 1 or week == 0 else f"{day:%b}"
        if x >= free:
            yield Text(x + 2, HEAD - 9, name, SMALL, fill=INK_SOFT)
            free = x + 7.0 * len(name) + 4


def _bar(sheet: _Sheet, bar: WallBar, top: float) -> Iterator[Item]:
    x, width = sheet.x(bar.week) + 0.5, max(sheet.pitch * bar.weeks - 1, 3.0)
    if not bar.marked:
        yield Rect(x, top, width, BAR, fill=PIPED)
    else:
        yield Rect(x, top, width, BAR, FRAME, SHEET)
        yield Line(x, top, x + width, top + BAR, Pen(INK, 1.2))
        yield Line(x, top + BAR, x + width, top, Pen(INK, 1.2))
    if bar.kept:
        side = min(width, 6.0)
        middle = x + (width - side) / 2
        yield Rect(middle, top + BAR / 2 - side / 2, side, side, Pen(INK, 1.0), SHEET)
