"""When work may be done, along a time axis: windows and due marks over the status strip."""

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from fleet.ui.drawing import Drawing, Group, Item, Line, Path, Pen, Rect, Text, moved
from fleet.ui.palette import INK, INK_SOFT, PIPED, PIPED_TINT, RULE
from fleet.ui.strip import StripRow, Window, status_strip

LANE = 22.0
HIGH = 12.0


@dataclass(frozen=True, slots=True)
class DueWindow:
    """From the first sensible day over the due date to the last good one."""

    earliest: dt.date
    due: dt.date
    last_good: dt.date
    conceded: dt.date | None = None  # to when a concession goes, or could go
    title: str = ""


@dataclass(frozen=True, slots=True)
class Lane:
    """The windows of one requirement, and what stands before them."""

    label: str
    windows: tuple[DueWindow, ...]


def window_strip(
    lanes: Sequence[Lane],
    levels: Sequence[StripRow],
    *,
    first: dt.date,
    last: dt.date,
    today: dt.date,
    width: float = 1120.0,
) -> Drawing:
    """
    Return a lane for each requirement, and the levels of the brake systems under them.

    A window is an outlined bar; it ends in a solid mark at the due date, then runs thin
    to the last good day and dotted as far as a concession goes or could go. One that was
    over before the first day is a solid mark at the edge, pointing back.
    """
    names = [*(lane.label for lane in lanes), *(row.label for row in levels)]
    left = max((8.0 * len(name) + 8 for name in names), default=0.0)
    below = status_strip(
        levels, first=first, last=last, today=today, width=width, labels=True, left=left
    )
    window = Window(first, last, left, width - 2)
    items: list[Item] = []
    for number, lane in enumerate(lanes):
        items.extend(_lane(lane, window, LANE * number + 2))
    high = LANE * len(lanes) + 4
    items.extend(moved(item, 0, high) for item in below.items)
    return Drawing(width, high + below.height, tuple(items))


def window_words(lanes: Iterable[Lane]) -> str:
    """Return the lanes told in words, for those who cannot see them."""
    return " ".join(
        f"{lane.label}: {'; '.join(w.title for w in lane.windows) or 'nothing due'}."
        for lane in lanes
    )


def _lane(lane: Lane, window: Window, y: float) -> Iterator[Item]:
    yield Text(0, y + HIGH, lane.label, 12.5, fill=INK_SOFT)
    yield Line(window.left, y + LANE - 4, window.right, y + LANE - 4, Pen(RULE, 1))
    for one in lane.windows:
        if one.earliest <= window.last:
            yield Group(tuple(_window(one, window, y)), title=one.title)


def _window(one: DueWindow, window: Window, y: float) -> Iterator[Item]:
    left, due = window.x(one.earliest), window.x(one.due)
    good, far = window.x(one.last_good), window.x(one.conceded or one.last_good)
    middle = y + HIGH / 2
    if due > left:
        yield Rect(left, y, due - left, HIGH, pen=Pen(PIPED, 1), fill=PIPED_TINT)
    if far > good:
        yield Line(good, middle, far, middle, Pen(INK_SOFT, 1.5, (2, 3)))
    if good > due:
        yield Line(due, middle, good, middle, Pen(INK, 3))
        yield Line(good, y + 1, good, y + HIGH - 1, Pen(INK, 1.5))
    if one.last_good < window.first:
        edge = window.left
        back = ((edge, middle), (edge + 9, y - 1), (edge + 9, y + HIGH + 1))
        yield Path((back,), fill=INK, closed=True)
    elif window.first <= one.due <= window.last:
        mark = ((due - 5, middle), (due, y - 1), (due + 5, middle), (due, y + HIGH + 1))
        yield Path((mark,), fill=INK, closed=True)
