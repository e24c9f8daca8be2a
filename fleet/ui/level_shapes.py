"""The shape of each level, for the mark beside its word and for the status strip."""

from collections.abc import Iterator
from dataclasses import dataclass

from fleet.ui.drawing import Circle, Drawing, Item, Line, Path, Pen, Rect, Text
from fleet.ui.palette import (
    BRAKED,
    CONDITIONAL,
    CONDITIONAL_TINT,
    INK_SOFT,
    PIPED,
    SHEET,
    STOPPED,
)

LEVELS = ("braked", "conditional", "piped", "stopped", "none", "stale")

_OUTLINE = 1.5


@dataclass(frozen=True, slots=True)
class Box:
    """Where a level is drawn."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Return the x of the right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """Return the y of the lower edge."""
        return self.y + self.height

    @property
    def middle(self) -> float:
        """Return the y half way down."""
        return self.y + self.height / 2


def level_shape(level: str, box: Box, *, overhang: float = 0.0) -> tuple[Item, ...]:
    """
    Return the shapes of a level's code inside a box.

    Solid, half filled from below, hollow with a pipe through, black with crosses, a
    dotted line for not fitted, hatched with a question mark for not yet reassessed.
    `overhang` lets the pipe stand out at both ends. Raises ValueError for other codes.
    """
    match level:
        case "braked":
            return (Rect(box.x, box.y, box.width, box.height, fill=BRAKED),)
        case "conditional":
            return _half_filled(box)
        case "piped":
            return _piped(box, overhang)
        case "stopped":
            return _crossed(box)
        case "none":
            return _not_fitted(box)
        case "stale":
            return _questioned(box)
        case _:
            raise ValueError(f"not a level: {level}")


def level_mark(level: str) -> Drawing:
    """Return the small drawing that stands beside the word for a level."""
    return Drawing(38, 20, level_shape(level, Box(4, 2, 30, 16), overhang=4))


def _frame(box: Box, colour: str, fill: str, dash: tuple[float, ...] = ()) -> Rect:
    inset = _OUTLINE / 2
    return Rect(
        box.x + inset,
        box.y + inset,
        max(box.width - _OUTLINE, 0),
        max(box.height - _OUTLINE, 0),
        Pen(colour, _OUTLINE, dash),
        fill,
    )


def _half_filled(box: Box) -> tuple[Item, ...]:
    lower = Rect(box.x, box.middle, box.width, box.height / 2, fill=CONDITIONAL)
    return (_frame(box, CONDITIONAL, CONDITIONAL_TINT), lower)


def _piped(box: Box, overhang: float) -> tuple[Item, ...]:
    left, right = box.x - overhang, box.right + overhang
    pipe = Line(left, box.middle, right, box.middle, Pen(PIPED, 2))
    return (_frame(box, PIPED, SHEET), pipe)


def _crossed(box: Box) -> tuple[Item, ...]:
    black = Rect(box.x, box.y, box.width, box.height, fill=STOPPED)
    size = box.height / 2
    runs = tuple(_crosses(box, size))
    return (black, Path(runs, Pen(SHEET, 1.6))) if runs else (black,)


def _crosses(box: Box, size: float) -> Iterator[tuple[tuple[float, float], ...]]:
    count = max(int(box.width // (size * 2)), 1 if box.width > size + 2 else 0)
    for number in range(count):
        x = box.x + box.width * (number + 0.5) / count
        left, right = x - size / 2, x + size / 2
        top, low = box.middle - size / 2, box.middle + size / 2
        yield ((left, top), (right, low))
        yield ((right, top), (left, low))


def _not_fitted(box: Box) -> tuple[Item, ...]:
    return (_frame(box, INK_SOFT, "", (1.5, 3)),)


def _questioned(box: Box) -> tuple[Item, ...]:
    hatch = Path(tuple(_slants(box)), Pen(INK_SOFT, 1))
    x = box.x + box.width / 2
    mark = (
        Circle(x, box.middle, box.height / 2 - 1, fill=SHEET),
        Text(x, box.middle + 4.5, "?", 13, "middle", bold=True),
    )
    room = box.width >= box.height
    return (
        _frame(box, INK_SOFT, SHEET, (4, 2)),
        *((hatch,) if hatch.runs else ()),
        *(mark if room else ()),
    )


def _slants(box: Box) -> Iterator[tuple[tuple[float, float], ...]]:
    x = box.x
    while x + box.height <= box.right:
        yield ((x, box.bottom), (x + box.height, box.y))
        x += 6
