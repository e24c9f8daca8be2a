"""The status strip: what a vehicle may do, along a time axis, as a drawing."""

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from fleet.ui.drawing import Drawing, Group, Item, Line, Pen, Rect, Text
from fleet.ui.level_shapes import Box, level_shape
from fleet.ui.palette import INK, INK_SOFT, SHEET

BAR = 16.0
PITCH = 24.0
TOP = 6.0
GUTTER = 2.0  # room at the right for the last tick


@dataclass(frozen=True, slots=True)
class StripSpan:
    """
    A level from `since` up to, not including, `until` (None: as far as is known).

    `level` is a code of `level_shapes.LEVELS`. `forecast`: its first day rests on a
    forecast, and is drawn as a broken edge.
    """

    since: dt.date
    until: dt.date | None
    level: str
    title: str = ""
    forecast: bool = False


@dataclass(frozen=True, slots=True)
class StripRow:
    """The spans of one brake system, in order, and the word that stands before them."""

    label: str
    spans: tuple[StripSpan, ...]


@dataclass(frozen=True, slots=True)
class Window:
    """The days a strip shows, both included, and the places they have on the paper."""

    first: dt.date
    last: dt.date
    left: float
    right: float

    def __post_init__(self) -> None:
        if self.first > self.last:
            raise ValueError(f"{self.first} is after {self.last}")

    def x(self, day: dt.date) -> float:
        """Return where a day begins, kept inside the window."""
        whole = (self.last - self.first).days + 1
        part = min(max((day - self.first).days, 0), whole)
        return self.left + (self.right - self.left) * part / whole


def status_strip(
    rows: Sequence[StripRow],
    *,
    first: dt.date,
    last: dt.date,
    today: dt.date,
    width: float = 360.0,
    labels: bool = False,
    left: float | None = None,
) -> Drawing:
    """
    Return the strip of one vehicle: a bar for each row, month ticks and a line for today.

    `first` to `last` is the window, both days included. With `labels` the months are
    named, otherwise only each January. Rows are named where there are two or more, or
    where `left` says how much room the names have.
    """
    named = len(rows) > 1 or left is not None
    if left is None:
        left = max((8.0 * len(row.label) + 8 for row in rows), default=0)
    window = Window(first, last, left if named else 1.0, width - GUTTER)
    low = TOP + PITCH * max(len(rows), 1) - (PITCH - BAR)
    items: list[Item] = []
    for number, row in enumerate(rows):
        items.extend(_row(row, window, TOP + PITCH * number, named=named))
    items.extend(_ticks(window, low + 2, labels=labels))
    items.extend(_today(window, today, low))
    return Drawing(width, low + 22, tuple(items))


def strip_words(rows: Iterable[StripRow]) -> str:
    """Return the strip told in words, for those who cannot see it."""
    return " ".join(_row_words(row) for row in rows)


def _row_words(row: StripRow) -> str:
    spans = "; ".join(_span_words(span) for span in row.spans) or "nothing recorded"
    return f"{row.label}: {spans}." if row.label else f"{spans}."


def _span_words(span: StripSpan) -> str:
    until = f" until {span.until - dt.timedelta(days=1)}" if span.until else " onwards"
    forecast = " (forecast)" if span.forecast else ""
    return f"{span.title or span.level} from {span.since}{forecast}{until}"


def _row(row: StripRow, window: Window, y: float, *, named: bool) -> Iterator[Item]:
    if named:
        yield Text(0, y + 12.5, row.label, 12.5, fill=INK_SOFT)
    for span in _filled(row.spans, window):
        yield from _bar(span, window, y)


def _filled(spans: Sequence[StripSpan], window: Window) -> Iterator[StripSpan]:
    """Yield the spans that touch the window; days that none covers are not fitted."""
    end = window.last + dt.timedelta(days=1)
    day = window.first
    for span in sorted(spans, key=lambda s: s.since):
        until = min(span.until or end, end)
        if until <= day or span.since >= end:
            continue
        if span.since > day:
            yield StripSpan(day, span.since, "none", "Not fitted")
        yield span
        day = until
    if day < end:
        yield StripSpan(day, end, "none", "Not fitted")


def _bar(span: StripSpan, window: Window, y: float) -> Iterator[Item]:
    left = window.x(span.since)
    right = window.x(span.until) if span.until else window.right
    # A hair between neighbours, so that two spans of one level read as two.
    box = Box(left, y, max(right - left - 1, 1.0), BAR)
    yield Group(level_shape(span.level, box), title=_span_words(span))
    if span.forecast and span.since > window.first:
        yield Rect(left - 1.5, y - 3, 3, BAR + 6, fill=SHEET)
        yield Line(left, y - 3, left, y + BAR + 3, Pen(INK, 1.5, (3, 2)))


def _ticks(window: Window, y: float, *, labels: bool) -> Iterator[Item]:
    for day in _month_starts(window):
        x = window.x(day)
        length = {1: 8.0}.get(day.month, 5.0 if day.month % 3 == 1 else 3.0)
        yield Line(x, y, x, y + length, Pen(INK_SOFT, 1))
        name = _tick_name(day, labels=labels)
        if name and x < window.right - 24:
            yield Text(x + 3, y + 13, name, 10.5, fill=INK_SOFT)


def _tick_name(day: dt.date, *, labels: bool) -> str:
    if day.month == 1:
        return str(day.year)
    return f"{day:%b}" if labels and day.month % 3 == 1 else ""


def _month_starts(window: Window) -> Iterator[dt.date]:
    year, month = window.first.year, window.first.month
    while (day := dt.date(year, month, 1)) <= window.last:
        if day >= window.first:
            yield day
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)


def _today(window: Window, today: dt.date, low: float) -> Iterator[Item]:
    if window.first <= today <= window.last:
        # The level of a day holds at its close: the line stands at the day's end.
        x = window.x(today + dt.timedelta(days=1))
        yield Line(x, 0, x, low + 9, Pen(SHEET, 5))
        yield Line(x, 0, x, low + 9, Pen(INK, 2))
