"""What every pipe diagram shares: through pipes with their ends, the body, the rows."""

from collections.abc import Iterator, Sequence

from fleet.ui.drawing import Circle, Item, Line, Path, Pen, Rect, Text
from fleet.ui.level_shapes import Box
from fleet.ui.palette import INK, INK_SOFT, RULE
from fleet.ui.pipe_parts import (
    PLAIN,
    SMALL,
    Part,
    Pool,
    cock_part,
    filling,
    fit,
    lines_of,
    outline,
    part_group,
    tube,
)

WIDTH = 1160.0
BODY = 104.0  # from the edge of the sheet to the headstock
PIPE_END = 84.0
END_COCK = 142.0

_ROW = 5
_GAP = 12.0
_CELL = 60.0
_MARGIN = 4.0


def at_end(end: int, x: float) -> float:
    """Return an x counted from an end of the vehicle; No. 1 end is at the left."""
    return x if end == 1 else WIDTH - x


def body(top: float, bottom: float) -> Iterator[Item]:
    """Yield the outline of the vehicle and the names of its ends."""
    pen = Pen(INK_SOFT, 1.2)
    yield Rect(BODY, top, WIDTH - 2 * BODY, bottom - top, pen)
    yield Text(BODY + 2, top - 8, "No. 1 end", PLAIN, fill=INK_SOFT)
    yield Text(WIDTH - BODY - 2, top - 8, "No. 2 end", PLAIN, "end", INK_SOFT)


def through_pipe(y: float, colour: str) -> Item:
    """Return a pipe that runs through the vehicle."""
    return Line(PIPE_END, y, WIDTH - PIPE_END, y, Pen(colour, 6))


def hose(part: Part, end: int, y: float, colour: str, name: str) -> Item:
    """Return the hose at an end of a pipe, hanging down from it."""
    reach = ((84, y), (44, y), (34, y + 24), (52, y + 44))
    run = tuple((at_end(end, x), level) for x, level in reach)
    head = at_end(end, 53)
    shapes = (
        *tube((run,), part, colour),
        Circle(head, y + 46, 6, outline(part.state), filling(part.state)),
        Text(at_end(end, 48), y + 68, name, SMALL, "middle"),
    )
    left = min(at_end(end, 34), at_end(end, 84))
    bounds = Box(left, y - 6, 50, 58)
    return part_group(part, shapes, bounds, Box(_outer(end), y - 14, 96, 88))


def _outer(end: int) -> float:
    return 2.0 if end == 1 else WIDTH - 98.0


def pipe_ends(
    pool: Pool, y: float, colour: str, kinds: tuple[str, str], short: str, below: float
) -> Iterator[Item]:
    """Yield hoses and end cocks of one pipe; `kinds` are the codes of hose and cock."""
    for end in (1, 2):
        if part := pool.take(kinds[0], end=end):
            yield hose(part, end, y, colour, f"{short} hose")
        if part := pool.take(kinds[1], end=end):
            x = at_end(end, END_COCK)
            yield cock_part(
                part, x, y, upright=False, name=f"{short} cock", below=below
            )


def row_of_parts(title: str, parts: Sequence[Part], y: float) -> Iterator[Item]:
    """Yield a titled row, or rows, of positions that hang on no pipe."""
    if not parts:
        return
    yield Line(_MARGIN, y, WIDTH - _MARGIN, y, Pen(RULE, 1))
    yield Text(_MARGIN, y + 18, title, PLAIN, fill=INK_SOFT)
    width = (WIDTH - 2 * _MARGIN - (_ROW - 1) * _GAP) / _ROW
    for number, part in enumerate(parts):
        down, across = divmod(number, _ROW)
        x = _MARGIN + across * (width + _GAP)
        yield _cell(part, Box(x, y + 28 + down * (_CELL + _GAP), width, _CELL))


def row_height(count: int) -> float:
    """Return the height that a row of so many positions takes, 0 for none."""
    return 28 + -(-count // _ROW) * (_CELL + _GAP) + 4 if count else 0.0


def _cell(part: Part, box: Box) -> Item:
    x, room = box.x + 50, box.width - 62
    note = part.note or ("empty" if part.state == "empty" else "")
    names = lines_of(part.label, room, 12, 2)
    height = 15 * len(names) + (14 if note else 0)
    y = box.middle - height / 2 + 12
    shapes: list[Item] = [
        Rect(
            box.x,
            box.y,
            box.width,
            box.height,
            outline(part.state),
            filling(part.state),
        ),
        *_glyph(part.kind, box.x + 27, box.middle),
    ]
    for number, name in enumerate(names):
        shapes.append(Text(x, y + 15 * number, name, 12))
    if note:
        words = fit(note, room, SMALL)
        shapes.append(Text(x, y + 15 * len(names), words, SMALL, fill=INK_SOFT))
    inner = Box(box.x, box.y, box.width - 16, box.height)
    glyph = Box(box.x + 8, box.middle - 18, 38, 36)
    return part_group(part, shapes, inner, box, mark=glyph)


def _glyph(kind: str, x: float, y: float) -> tuple[Item, ...]:
    pen = Pen(INK, 1.8)
    match kind:
        case "slack_adjuster":
            rod = Line(x - 17, y, x + 17, y, pen)
            return (rod, Rect(x - 9, y - 6, 18, 12, pen, "#ffffff"))
        case "brake_rigging":
            lever = Path((((x - 14, y - 9), (x, y + 9), (x + 14, y - 9)),), pen)
            pins = ((x - 14, y - 9), (x, y + 9), (x + 14, y - 9))
            return (lever, *(Circle(px, py, 3.5, pen, "#ffffff") for px, py in pins))
        case "brake_block":
            left = ((x - 13, y - 9), (x - 18, y - 3), (x - 18, y + 3), (x - 13, y + 9))
            right = tuple((2 * x - px, py) for px, py in left)
            blocks = Path((left, right), Pen(INK, 4), curved=True)
            return (Circle(x, y, 11, pen), blocks)
        case "handbrake":
            spokes = Path((((x - 13, y), (x + 13, y)), ((x, y - 13), (x, y + 13))), pen)
            return (Circle(x, y, 13, pen), spokes, Circle(x, y, 3.5, pen, "#ffffff"))
        case "changeover":
            ways = Path((((x - 14, y - 8), (x, y), (x - 14, y + 8)),), pen)
            return (ways, Line(x, y, x + 15, y, pen), Circle(x, y, 5, pen, "#ffffff"))
        case _:
            return (Rect(x - 9, y - 9, 18, 18, pen), Circle(x, y, 3, pen))
