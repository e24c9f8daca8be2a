"""A bar for each week, and a step for what there is: load against capacity, as a drawing."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

from fleet.ui.drawing import Drawing, Group, Item, Line, Pen, Rect, Text
from fleet.ui.palette import INK, INK_SOFT, PIPED, RULE, STOPPED

HIGH = 120.0
TOP = 14.0
LEFT = 34.0


@dataclass(frozen=True, slots=True)
class Week:
    """What a week asks for, and what it has; None: nobody said."""

    monday: dt.date
    asked: int
    there: int | None = None

    @property
    def over(self) -> bool:
        """Say whether more is asked for than is there."""
        return self.there is not None and self.asked > self.there

    @property
    def words(self) -> str:
        """Return the week in words."""
        asked = f"{self.asked} hour{'' if self.asked == 1 else 's'}"
        of = "" if self.there is None else f" of {self.there}"
        over = ", too many" if self.over else ""
        return f"Week of {self.monday.day} {self.monday:%b %Y}: {asked}{of}{over}"


def week_bars(weeks: Sequence[Week], *, width: float = 1120.0) -> Drawing:
    """
    Return bars for the hours of each week, a thick step where capacity is known.

    What goes beyond the capacity is crossed, not only darker.
    """
    most = max((max(w.asked, w.there or 0) for w in weeks), default=0)
    scale = _round_up(max(most, 1))
    each = (width - LEFT - 2) / max(len(weeks), 1)
    items: list[Item] = list(_axis(scale, width))
    for number, week in enumerate(weeks):
        items.extend(_week(week, LEFT + each * number, each, scale))
    items.extend(_months(weeks, each))
    return Drawing(width, TOP + HIGH + 20, tuple(items))


def _round_up(most: int) -> int:
    step = 10 if most <= 100 else 50
    return step * ceil(most / step)


def _axis(scale: int, width: float) -> Iterator[Item]:
    for part in (0, scale // 2, scale):
        y = TOP + HIGH * (1 - part / scale)
        yield Line(LEFT, y, width, y, Pen(RULE, 1))
        yield Text(LEFT - 6, y + 4, str(part), 11, anchor="end", fill=INK_SOFT)


def _week(week: Week, x: float, each: float, scale: int) -> Iterator[Item]:
    floor = TOP + HIGH
    high = HIGH * week.asked / scale
    bar = max(each - 2, 1.0)
    shapes: list[Item] = []
    if week.asked:
        shapes.append(Rect(x + 1, floor - high, bar, high, fill=PIPED))
    if week.there is not None:
        y = floor - HIGH * week.there / scale
        if week.over:
            shapes.append(
                Rect(x + 1, floor - high, bar, y - floor + high, fill=STOPPED)
            )
            pen = Pen("#ffffff", 1.2)
            shapes.append(Line(x + 1, y, x + 1 + bar, floor - high, pen))
        shapes.append(Line(x, y, x + each, y, Pen(INK, 2.5)))
    if shapes:
        yield Group(tuple(shapes), title=week.words)


def _months(weeks: Sequence[Week], each: float) -> Iterator[Item]:
    free = 0.0
    for number, week in enumerate(weeks):
        if week.monday.day > 7:
            continue
        x = LEFT + each * number
        yield Line(x, TOP + HIGH, x, TOP + HIGH + 5, Pen(INK_SOFT, 1))
        name = str(week.monday.year) if week.monday.month == 1 else f"{week.monday:%b}"
        if x >= free:
            yield Text(x + 2, TOP + HIGH + 16, name, 10.5, fill=INK_SOFT)
            free = x + 32
