"""A position on a pipe diagram: what it is, how its state is drawn, what it says."""

import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from fleet.ui.drawing import NO_PEN, Circle, Group, Item, Line, Path, Pen, Rect, Text
from fleet.ui.level_shapes import Box
from fleet.ui.palette import (
    CONDITIONAL_TINT,
    INK,
    INK_SOFT,
    PIPED_TINT,
    SHEET,
    STOPPED_TINT,
)

STATES = {
    "sound": "nothing outstanding",
    "empty": "nothing fitted",
    "attention": "outstanding",
    "stopped": "not to run",
    "isolated": "isolated",
}
TAP = 44.0  # points across the smallest area a gloved finger finds
SMALL = 11.5
PLAIN = 13.0

_FILLS = {
    "sound": SHEET,
    "empty": SHEET,
    "attention": CONDITIONAL_TINT,
    "stopped": STOPPED_TINT,
    "isolated": PIPED_TINT,
}
_EM_PER_LETTER = 0.54  # mean advance of the wide sans serifs in use


@dataclass(frozen=True, slots=True)
class Part:
    """
    One position of a vehicle, as the diagram needs it.

    `kind` is a code of the equipment kinds; `state` one of `STATES`; `number` the
    number of its finding on the page; `cock` "open", "closed" or "". `system`, "air" or
    "vacuum", says where a kind belongs that either brake may have (a gauge).
    """

    position: str
    kind: str
    label: str
    end: int | None = None
    state: str = "sound"
    note: str = ""
    number: int | None = None
    href: str = ""
    cock: str = ""
    system: str = ""

    def __post_init__(self) -> None:
        if self.state not in STATES:
            raise ValueError(f"not a state of a position: {self.state}")

    @property
    def words(self) -> str:
        """Return all the diagram knows of the position, as a sentence or two."""
        cock = f" ({self.cock})" if self.cock else ""
        said = [f"{self.label}{cock}: {STATES[self.state]}."]
        if self.note:
            said.append(self.note.rstrip(".") + ".")
        if self.number is not None:
            said.append(f"Finding {self.number}.")
        return " ".join(said)


class Pool:
    """The positions still to be drawn, in order; whatever is left is drawn as a list."""

    def __init__(self, parts: Iterable[Part]) -> None:
        """Hold the parts."""
        self._parts = list(parts)

    def take(self, *kinds: str, end: int | None = None) -> Part | None:
        """Take the first part of these kinds; at an end, one that is at no other."""
        ends = (end,) if end is None else (end, None)
        for wanted in ends:
            for part in self._parts:
                if part.kind in kinds and (end is None or part.end == wanted):
                    self._parts.remove(part)
                    return part
        return None

    def take_up_to(self, count: int, *kinds: str) -> tuple[Part, ...]:
        """Take at most `count` parts of these kinds."""
        taken = [part for part in self._parts if part.kind in kinds][:count]
        for part in taken:
            self._parts.remove(part)
        return tuple(taken)

    def count(self, *kinds: str) -> int:
        """Return how many parts of these kinds are still to be drawn."""
        return sum(part.kind in kinds for part in self._parts)

    def rest(self) -> tuple[Part, ...]:
        """Take all that is left."""
        left, self._parts = tuple(self._parts), []
        return left


def outline(state: str, width: float = 2.0) -> Pen:
    """Return the outline of a state: dashed where empty, heavy where outstanding."""
    if state == "empty":
        return Pen(INK_SOFT, width, (5, 4))
    heavy = width * 2 if state in {"attention", "stopped"} else width
    return Pen(INK, heavy)


def filling(state: str) -> str:
    """Return the tone inside a position's outline."""
    return _FILLS[state]


def part_group(
    part: Part,
    shapes: Iterable[Item],
    bounds: Box,
    hit: Box | None = None,
    *,
    mark: Box | None = None,
) -> Group:
    """
    Return a position ready to draw: shapes, the mark of its state, its finding's number.

    `bounds` is the symbol, `mark` the part of it that is crossed where it is not the
    whole; `hit` what answers to a finger, never less than TAP.
    """
    area = _at_least_tap(hit or bounds)
    marks = (*_mark(part.state, mark or bounds), *_badge(part.number, bounds))
    return Group(
        (*shapes, *marks),
        title=part.words,
        href=part.href,
        code=part.position,
        hit=Rect(area.x, area.y, area.width, area.height),
    )


def box_part(part: Part, box: Box, name: str, *, round_: bool = False) -> Group:
    """Return a position drawn as a box with its name, and its note where there is room."""
    middle = box.x + box.width / 2
    pen = outline(part.state)
    radius = box.height / 2 if round_ else 0
    room = box.width - (24 if round_ else 8)
    note = part.note or ("empty" if part.state == "empty" else "")
    y = box.middle - 2 if note else box.middle + 4.5
    shapes: list[Item] = [
        Rect(box.x, box.y, box.width, box.height, pen, filling(part.state), radius),
        Text(middle, y, fit(name, room, PLAIN), PLAIN, "middle"),
    ]
    if note:
        words = fit(note, room, SMALL)
        shapes.append(Text(middle, y + 15, words, SMALL, "middle", INK_SOFT))
    return part_group(part, shapes, box)


def cock_part(
    part: Part, x: float, y: float, *, upright: bool, name: str = "", below: float = 0
) -> Group:
    """
    Return a cock: its handle along the pipe when open, across it when closed.

    `upright`: the pipe runs up the sheet. The name stands at the right, or, with
    `below`, centred that far below (above where negative).
    """
    radius = 12.0
    shapes: list[Item] = [
        Circle(x, y, radius, outline(part.state), filling(part.state)),
        *_handle(part, x, y, upright=upright),
        *_name(name, x, y, radius, below),
    ]
    bounds = Box(x - radius, y - radius, 2 * radius, 2 * radius)
    return part_group(part, shapes, bounds, _cock_hit(x, y, name, below))


def small_part(
    part: Part, shapes: Iterable[Item], x: float, y: float, name: str
) -> Group:
    """Return a small symbol about (x, y) with its name at the right."""
    words = Text(x + 20, y + 4, name, SMALL)
    bounds = Box(x - 12, y - 12, 24, 24)
    hit = Box(x - 22, y - 22, 44 + width_of(name, SMALL), TAP)
    return part_group(part, (*shapes, words), bounds, hit)


def check_valve(part: Part, x: float, y: float) -> tuple[Item, ...]:
    """Return the sign of a valve that lets air pass downwards only."""
    pen = outline(part.state)
    cone = ((x - 11, y - 10), (x + 11, y - 10), (x, y + 8))
    seat = Line(x - 12, y + 10, x + 12, y + 10, pen)
    return (Path((cone,), pen, filling(part.state), closed=True), seat)


def drain(part: Part, x: float, y: float) -> tuple[Item, ...]:
    """Return the sign of a drain: a funnel that opens downwards."""
    cone = ((x - 9, y - 6), (x + 9, y - 6), (x, y + 9))
    return (Path((cone,), outline(part.state), filling(part.state), closed=True),)


def square(part: Part, x: float, y: float) -> tuple[Item, ...]:
    """Return a small box."""
    return (Rect(x - 12, y - 9, 24, 18, outline(part.state), filling(part.state)),)


def width_of(words: str, size: float) -> float:
    """Return about how wide a line of text is, in points."""
    return len(words) * size * _EM_PER_LETTER


def fit(words: str, width: float, size: float) -> str:
    """Return the words, cut short where they would be wider than `width` points."""
    room = max(int(width / (size * _EM_PER_LETTER)), 1)
    return words if len(words) <= room else words[: room - 1].rstrip(" ,") + "…"


def lines_of(words: str, width: float, size: float, most: int) -> list[str]:
    """Return the words broken into at most `most` lines of `width` points."""
    room = max(int(width / (size * _EM_PER_LETTER)), 4)
    return textwrap.wrap(words, room, max_lines=most, placeholder="…")


def _handle(part: Part, x: float, y: float, *, upright: bool) -> Iterator[Item]:
    if not part.cock or part.state == "empty":
        return
    along = part.cock == "open"
    if along == upright:
        yield Line(x, y - 13, x, y + 13, Pen(INK, 5))
    else:
        yield Line(x - 13, y, x + 13, y, Pen(INK, 5))


def _name(name: str, x: float, y: float, radius: float, below: float) -> Iterator[Item]:
    if name and below:
        yield Text(x, y + below, name, SMALL, "middle")
    elif name:
        yield Text(x + radius + 8, y + 4, name, SMALL)


def _cock_hit(x: float, y: float, name: str, below: float) -> Box:
    if below:
        half = max(width_of(name, SMALL) / 2, TAP / 2)
        top = y - 22 if below > 0 else y + below - 12
        return Box(x - half, top, 2 * half, 22 + abs(below) + (6 if below > 0 else 12))
    right = 30 + width_of(name, SMALL) if name else TAP / 2
    return Box(x - 22, y - 22, 22 + right, TAP)


def _at_least_tap(box: Box) -> Box:
    wide, high = max(TAP - box.width, 0), max(TAP - box.height, 0)
    x, y = box.x - wide / 2, box.y - high / 2
    return Box(x, y, box.width + wide, box.height + high)


def _mark(state: str, box: Box) -> Iterator[Item]:
    if state == "stopped":
        yield Path(tuple(_cross(box)), Pen(INK, 2.5))
    elif state == "isolated":
        y = box.bottom - min(6, box.height / 4)
        yield Line(box.x - 10, y, box.right + 10, y, Pen(INK, 1.5))
        yield Line(box.x - 10, y + 3.5, box.right + 10, y + 3.5, Pen(INK, 1.5))


def _cross(box: Box) -> Iterator[tuple[tuple[float, float], ...]]:
    """Yield a cross over a small symbol, or one at each end of a wide one."""
    wide = box.width > 60
    spans = (
        ((box.x + 4, box.x + 20), (box.right - 20, box.right - 4))
        if wide
        else ((box.x - 3, box.right + 3),)
    )
    grow = -6 if wide else 3
    for left, right in spans:
        yield ((left, box.y - grow), (right, box.bottom + grow))
        yield ((right, box.y - grow), (left, box.bottom + grow))


def _badge(number: int | None, box: Box) -> Iterator[Item]:
    if number is None:
        return
    x, y = box.right + 2, box.y - 2
    yield Circle(x, y, 12, Pen(SHEET, 2), INK)
    yield Text(x, y + 4.5, str(number), PLAIN, "middle", SHEET, bold=True)


def tube(
    runs: tuple[tuple[tuple[float, float], ...], ...], part: Part, colour: str
) -> tuple[Item, ...]:
    """Return a hose: its pipe's colour in an ink skin, thick where outstanding."""
    if part.state == "empty":
        return (Path(runs, outline("empty"), curved=True),)
    skin = 13.0 if part.state in {"attention", "stopped"} else 9.0
    return (
        Path(runs, Pen(INK, skin), curved=True),
        Path(runs, Pen(colour, 5), curved=True),
    )


def plain_line(
    points: tuple[tuple[float, float], ...], colour: str = INK, width: float = 3
) -> Path:
    """Return a pipe between parts."""
    return Path((points,), Pen(colour, width), NO_PEN.colour)
