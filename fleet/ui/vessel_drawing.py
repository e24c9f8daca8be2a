"""A pressure vessel in outline with the points at which its wall was measured."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

from fleet.ui.drawing import Circle, Drawing, Item, Line, Path, Pen, Rect, Text
from fleet.ui.palette import INK, INK_SOFT, SHEET

WIDTH = 520.0
NOT_TO_SCALE = "Not to scale: each point stands where its name puts it"
_SHELL = (112.0, 408.0)  # left and right of the straight part
_END = 88.0  # how far a dished end reaches beyond it
_ROW = 34.0
_A_ROW = 7  # points side by side on the shell
_TOP, _FOOT = 16.0, 30.0
_WALL = Pen(INK, 2.4)
_SEAM = Pen(INK_SOFT, 0.7, (3.0, 2.0))
_THIN = Pen(INK, 1.6)
_CURVE = 0.5523  # of a quarter circle as one cubic curve


class Part(Enum):
    """Where on a vessel a point lies."""

    END_1 = "end 1"
    TOP = "top"
    MIDDLE = "middle"
    BOTTOM = "bottom"
    END_2 = "end 2"


@dataclass(frozen=True, slots=True)
class VesselPoint:
    """A measured point: its number on the sketch, its name, its thickness in mm."""

    number: int
    name: str
    thickness: str
    thinnest: bool = False


_SHELL_WORDS = re.compile(r"\b(shell|barrel|seam)\b")
_ENDS = re.compile(r"\b(ends?|dome|dished|head)\b")
_SECOND = re.compile(r"\b(2|two|second|right|rear|b)\b")
_LOW = re.compile(r"\b(bottom|underside|lowest|low|invert|belly|drain)\b")
_HIGH = re.compile(r"\b(top|crown|upper)\b")


def part_of(name: str) -> Part:
    """Return the part of the vessel a point's name speaks of; else the middle."""
    words = name.lower()
    if _ENDS.search(words) and not _SHELL_WORDS.search(words):
        return Part.END_2 if _SECOND.search(words) else Part.END_1
    if _LOW.search(words):
        return Part.BOTTOM
    return Part.TOP if _HIGH.search(words) else Part.MIDDLE


def vessel_drawing(points: Sequence[VesselPoint]) -> Drawing:
    """
    Return the sketch: a lying vessel, every point numbered where its name puts it.

    The thinnest has a ring of its own; the sketch is not to scale and says so.
    """
    placed = {part: [p for p in points if part_of(p.name) is part] for part in Part}
    rows = [
        row
        for part in (Part.TOP, Part.MIDDLE, Part.BOTTOM)
        for row in _rows(placed[part])
    ]
    # A dished end is narrow at the top and the bottom: one more row than it has points.
    ends = max(len(placed[Part.END_1]), len(placed[Part.END_2])) + 1
    longest = max(len(rows), ends, 3)
    inside = longest * _ROW
    items: list[Item] = list(_outline(_TOP, _TOP + inside))
    items += _shell(rows, inside)
    items += _end(placed[Part.END_1], _SHELL[0] - _END * 0.36, inside)
    items += _end(placed[Part.END_2], _SHELL[1] + _END * 0.36, inside)
    height = _TOP + inside + _FOOT
    items.append(_words(_SHELL[0] - _END, height - 8, "End 1", "start"))
    items.append(_words(_SHELL[1] + _END, height - 8, "End 2", "end"))
    said = f"Thickness in mm; ringed: thinnest. {NOT_TO_SCALE}"
    items.append(_words(WIDTH / 2, height - 8, said, "middle"))
    return Drawing(WIDTH, height, tuple(items))


def _rows(points: Sequence[VesselPoint]) -> list[Sequence[VesselPoint]]:
    return [points[at : at + _A_ROW] for at in range(0, len(points), _A_ROW)] or [()]


def _outline(top: float, low: float) -> Iterator[Item]:
    left, right = _SHELL
    yield Line(left, top, right, top, _WALL)
    yield Line(left, low, right, low, _WALL)
    for x in _SHELL:
        yield Line(x, top, x, low, _SEAM)
    yield _dished(left, -_END, top, low)
    yield _dished(right, _END, top, low)


def _dished(x: float, reach: float, top: float, low: float) -> Path:
    middle, half = (top + low) / 2, (low - top) / 2
    tip, pull = x + reach, _CURVE * half
    upper = ((x + _CURVE * reach, top), (tip, middle - pull), (tip, middle))
    lower = ((tip, middle + pull), (x + _CURVE * reach, low), (x, low))
    return Path((((x, top), *upper, *lower),), pen=_WALL, curved=True)


def _shell(rows: Sequence[Sequence[VesselPoint]], inside: float) -> Iterator[Item]:
    left, right = _SHELL
    step = inside / len(rows)
    for number, row in enumerate(rows):
        y = _TOP + step * (number + 0.5) - 3
        for at, point in enumerate(row, start=1):
            x = left + (right - left) * at / (len(row) + 1)
            yield from _point(point, x, y)


def _end(points: Sequence[VesselPoint], x: float, inside: float) -> Iterator[Item]:
    for at, point in enumerate(points, start=1):
        yield from _point(point, x, _TOP + inside * at / (len(points) + 1) - 3)


def _point(point: VesselPoint, x: float, y: float) -> Iterator[Item]:
    if point.thinnest:
        yield Circle(x, y - 4, 10.5, _THIN, SHEET)
    yield Circle(x, y - 4, 8, fill=INK)
    yield Text(x, y - 1, str(point.number), 8, "middle", SHEET, bold=True)
    half = 2.6 * len(point.thickness)
    yield Rect(x - half, y + 7, 2 * half, 9, fill=SHEET)
    yield Text(x, y + 14.5, point.thickness, 8, "middle", INK, bold=point.thinnest)


def _words(x: float, y: float, words: str, anchor: str) -> Text:
    return Text(x, y, words, 8, anchor, INK_SOFT)
