"""The pipe diagram of a vacuum brake, drawn from the positions a vehicle has."""

from collections.abc import Iterator

from fleet.ui.air_diagram import hung_row
from fleet.ui.drawing import Circle, Item, Line, Path, Pen, Rect, Text
from fleet.ui.level_shapes import Box
from fleet.ui.palette import INK, TRAIN_PIPE
from fleet.ui.pipe_frame import END_COCK, WIDTH, at_end, body, hose, through_pipe
from fleet.ui.pipe_parts import (
    SMALL,
    Part,
    Pool,
    box_part,
    drain,
    filling,
    fit,
    outline,
    part_group,
    plain_line,
    tube,
)

TOP = 40.0
HUNG = ("drivers_valve", "guards_valve", "gauge", "passenger_alarm")
KINDS = frozenset(
    {
        "vacuum_hose",
        "vacuum_dummy",
        "swan_neck",
        "drip_trap",
        "vacuum_cylinder",
        "vacuum_reservoir",
        "vacuum_release_valve",
        "da_valve",
    }
)

_GROUP = 248.0  # a cylinder with its release valve and reservoir
_HUNG_CELL = 84.0
_LEFT = 196.0


def draw_vacuum(pool: Pool) -> tuple[list[Item], float]:
    """
    Draw what belongs to the vacuum brake, taking it from the pool.

    Returns the shapes and the y below which the sheet is free.
    """
    standing = pool.count(*HUNG) > 0
    y = 146.0 if standing else 86.0
    name = Text(WIDTH - 188, y + 22, "Train pipe (vacuum)", anchor="end", bold=True)
    items: list[Item] = [through_pipe(y, TRAIN_PIPE), name]
    for end in (1, 2):
        items.extend(_end(pool, end, y))
    items.extend(hung_row(pool, y, TRAIN_PIPE, HUNG, up=True))
    hung = list(_hung(pool, y))
    braked = pool.count("vacuum_cylinder") > 0
    items.extend(hung)
    items.extend(_cylinders(pool, y, _LEFT + _HUNG_CELL * len(hung)))
    bottom = y + (216 if braked else 104 if hung else 60)
    return [*body(TOP, bottom), *items], max(bottom, y + 132) + 18


def _end(pool: Pool, end: int, y: float) -> Iterator[Item]:
    if part := pool.take("vacuum_hose", end=end):
        yield hose(part, end, y, TRAIN_PIPE, "hose")
    if part := pool.take("vacuum_dummy", end=end):
        yield _dummy(part, at_end(end, 53), y + 90)
    if part := pool.take("swan_neck", end=end):
        yield _swan_neck(part, end, y)


def _dummy(part: Part, x: float, y: float) -> Item:
    pen, inside = outline(part.state), filling(part.state)
    shapes = (
        Rect(x - 12, y, 24, 8, pen, inside),
        Rect(x - 6, y + 8, 12, 9, pen, inside),
        Text(x, y + 32, "dummy", SMALL, "middle"),
    )
    return part_group(part, shapes, Box(x - 12, y, 24, 18), Box(x - 46, y - 10, 92, 48))


def _swan_neck(part: Part, end: int, y: float) -> Item:
    bend = ((104, y), (104, y - 30), (132, y - 30), (132, y))
    run = tuple((at_end(end, x), level) for x, level in bend)
    pen = outline(part.state)
    x = at_end(end, END_COCK)
    shapes = (
        *tube((run,), part, TRAIN_PIPE),
        Circle(at_end(end, 104), y, 6, pen, filling(part.state)),
        Text(x - 8 if end == 1 else x + 8, y + 26, "swan neck", SMALL, "middle"),
    )
    left = min(at_end(end, 104), at_end(end, 132))
    hit = Box(min(at_end(end, 100), at_end(end, 172)), y - 30, 72, 62)
    return part_group(part, shapes, Box(left, y - 22, 28, 26), hit)


def _hung(pool: Pool, y: float) -> Iterator[Item]:
    parts = pool.take_up_to(5, "drip_trap", "da_valve")
    for number, part in enumerate(parts):
        x = _LEFT + _HUNG_CELL * (number + 0.5)
        yield _hung_valve(part, x, y)


def _hung_valve(part: Part, x: float, y: float) -> Item:
    low = y + 46
    stem = Line(x, y + 3, x, low - 8, Pen(TRAIN_PIPE, 4))
    if part.kind == "drip_trap":
        sign, name = drain(part, x, low), "drip trap"
    else:
        sign, name = _da_sign(part, x, low), "DA valve"
    words = Text(x, low + 34, name, SMALL, "middle")
    bounds = Box(x - 14, low - 14, 28, 28)
    return part_group(part, (stem, *sign, words), bounds, Box(x - 40, y + 14, 80, 72))


def _da_sign(part: Part, x: float, y: float) -> tuple[Item, ...]:
    pen = outline(part.state)
    disc = Circle(x, y, 14, pen, filling(part.state))
    arrow = (((x, y + 9), (x, y - 8)), ((x - 5, y - 2), (x, y - 8), (x + 5, y - 2)))
    return (disc, Path(arrow, Pen(INK, 2)))


def _cylinders(pool: Pool, y: float, left: float) -> Iterator[Item]:
    cylinders = pool.take_up_to(2, "vacuum_cylinder")
    room = WIDTH - 118 - left
    for number, part in enumerate(cylinders):
        x = left + room * (number + 0.5) / len(cylinders) - _GROUP / 2
        name = f"Cylinder {number + 1}" if len(cylinders) > 1 else "Cylinder"
        yield plain_line(((x + 55, y + 3), (x + 55, y + 44)), TRAIN_PIPE, 4)
        if valve := pool.take("vacuum_release_valve"):
            yield plain_line(((x + 110, y + 68), (x + 136, y + 68)))
            yield _release(valve, x + 146, y + 68)
        if reservoir := pool.take("vacuum_reservoir"):
            yield plain_line(((x + 110, y + 124), (x + 132, y + 124)))
            box = Box(x + 128, y + 102, 118, 44)
            yield box_part(reservoir, box, "Vacuum res.", round_=True)
        yield _cylinder(part, x, y + 44, name)


def _cylinder(part: Part, x: float, y: float, name: str) -> Item:
    pen = outline(part.state)
    note = part.note or ("empty" if part.state == "empty" else "")
    shapes: list[Item] = [
        Line(x + 55, y + 108, x + 55, y + 148, Pen(INK, 5)),
        Rect(x, y, 110, 108, pen, filling(part.state), 10),
        Line(x + 6, y + 76, x + 104, y + 76, Pen(INK, 4)),
        Text(x + 55, y + 32, name, 13, "middle"),
    ]
    if note:
        shapes.append(Text(x + 55, y + 50, fit(note, 100, SMALL), SMALL, "middle"))
    return part_group(part, shapes, Box(x, y, 110, 108), Box(x, y, 110, 148))


def _release(part: Part, x: float, y: float) -> Item:
    shapes = (
        Line(x + 10, y, x + 34, y, Pen(INK, 2, (3, 3))),
        Circle(x + 38, y, 4, Pen(INK, 2)),
        Circle(x, y, 10, outline(part.state), filling(part.state)),
        Text(x + 46, y + 4, "release", SMALL),
    )
    hit = Box(x - 22, y - 22, 124, 44)
    return part_group(part, shapes, Box(x - 10, y - 10, 20, 20), hit)
