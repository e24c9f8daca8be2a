"""The pipe diagram of an air brake, drawn from the positions a vehicle has."""

from collections.abc import Iterator

from fleet.ui.drawing import Circle, Item, Line, Path, Pen, Text, moved
from fleet.ui.level_shapes import Box
from fleet.ui.palette import (
    BRAKE_PIPE,
    INK,
    INK_SOFT,
    MAIN_RESERVOIR_PIPE,
)
from fleet.ui.pipe_frame import body, pipe_ends, through_pipe
from fleet.ui.pipe_parts import (
    SMALL,
    Part,
    Pool,
    box_part,
    check_valve,
    cock_part,
    drain,
    filling,
    outline,
    part_group,
    plain_line,
    small_part,
    square,
)

TOP = 40.0
MR_Y = 82.0
AXIS = 214.0  # the line on which air flows from reservoir to cylinders
FULL_Y = 386.0  # of the brake pipe, where equipment stands above it
FEED_X = 250.0
BRANCH_X = 650.0
SPLIT_X = 872.0

VALVES = ("distributor", "triple_valve")
RESERVOIRS = ("main_reservoir", "equipment_reservoir")
HUNG = ("drivers_valve", "guards_valve", "passenger_alarm", "gauge")
_INNER = (
    *VALVES,
    "relay_valve",
    "auxiliary_reservoir",
    "control_reservoir",
    *RESERVOIRS,
    "brake_cylinder",
    "distributor_isolating_cock",
    "mr_isolating_cock",
    "cylinder_isolating_cock",
    "dirt_collector",
    "check_valve",
    "release_valve",
    "drain_cock",
    "empty_load_gear",
)
_MR_PARTS = ("mr_hose", "mr_end_cock")
KINDS = frozenset({*_INNER, *_MR_PARTS, "bp_hose", "bp_end_cock"})
NAMES = {
    "distributor": "Distributor",
    "triple_valve": "Triple valve",
    "main_reservoir": "Main reservoir",
    "equipment_reservoir": "Equipment res.",
    "drivers_valve": "Driver's valve",
    "guards_valve": "Guard's valve",
    "passenger_alarm": "Passenger comm.",
    "gauge": "Gauge",
}


def draw_air(pool: Pool, *, mr_pipe: bool, feeding: bool) -> tuple[list[Item], float]:
    """
    Draw what belongs to the air brake, taking it from the pool.

    `feeding`: the reservoirs are fed from the main reservoir pipe, otherwise through
    the distributor. Returns the shapes and the y below which the sheet is free.
    """
    mr_pipe = mr_pipe or pool.count(*_MR_PARTS) > 0
    y = _brake_pipe_y(pool, mr_pipe=mr_pipe)
    # Without the upper pipe the room it would take is cut from the sheet.
    lift = -62.0 if y == FULL_Y and not mr_pipe else 0.0
    items = list(_main_reservoir_pipe(pool)) if mr_pipe else []
    items.append(through_pipe(y, BRAKE_PIPE))
    items.append(Text(188, y - 10, "Brake pipe (BP)", bold=True))
    ends = ("bp_hose", "bp_end_cock")
    items.extend(pipe_ends(pool, y, BRAKE_PIPE, ends, "BP", below=30))
    items.extend(_equipment(pool, y, feeding=mr_pipe and feeding))
    hung = list(hung_row(pool, y, BRAKE_PIPE, HUNG))
    bottom = y + (108 if hung else 46)
    shapes = [moved(item, 0, lift) for item in (*items, *hung)]
    free = max(bottom, y + 84) + 18 + lift
    return [*body(TOP, bottom + lift), *shapes], free


def _main_reservoir_pipe(pool: Pool) -> Iterator[Item]:
    yield through_pipe(MR_Y, MAIN_RESERVOIR_PIPE)
    yield Text(188, MR_Y - 10, "Main reservoir pipe (MR)", bold=True)
    kinds = ("mr_hose", "mr_end_cock")
    yield from pipe_ends(pool, MR_Y, MAIN_RESERVOIR_PIPE, kinds, "MR", below=-18)
    yield from _hung_reservoirs(pool)


def _brake_pipe_y(pool: Pool, *, mr_pipe: bool) -> float:
    if pool.count(*_INNER):
        return FULL_Y
    return MR_Y + 112 if mr_pipe else MR_Y + 10


def hung_row(
    pool: Pool, y: float, colour: str, kinds: tuple[str, ...], *, up: bool = False
) -> Iterator[Item]:
    """Yield the positions that hang from a through pipe side by side, at most five."""
    for number, part in enumerate(pool.take_up_to(5, *kinds)):
        x = 200 + 162 * number
        near, far = (y - 26, y - 70) if up else (y + 40, y + 40)
        yield Line(x + 75, y, x + 75, near, Pen(colour, 4))
        yield box_part(part, Box(x, far, 150, 44), NAMES.get(part.kind, part.label))


def _hung_reservoirs(pool: Pool) -> Iterator[Item]:
    for number, part in enumerate(pool.take_up_to(3, *RESERVOIRS)):
        x = 440 + 146 * number
        yield Line(x + 66, MR_Y, x + 66, MR_Y + 26, Pen(MAIN_RESERVOIR_PIPE, 4))
        yield box_part(part, Box(x, MR_Y + 26, 132, 44), NAMES[part.kind], round_=True)


def _equipment(pool: Pool, brake_pipe_y: float, *, feeding: bool) -> Iterator[Item]:
    valve = pool.take(*VALVES)
    reservoirs = pool.take_up_to(2, "auxiliary_reservoir")
    if feeding and reservoirs:
        yield from _feed(pool)
    if valve and reservoirs:
        yield from _charging(feeding=feeding)
    yield from _release(pool, valve)
    yield from _reservoirs(pool, reservoirs)
    if valve or pool.count("distributor_isolating_cock", "dirt_collector"):
        yield from _branch(pool, brake_pipe_y)
    yield from _cylinders(pool, valve)
    if valve:
        box = Box(580, AXIS - 40, 130, 80)
        yield box_part(valve, box, NAMES[valve.kind])


def _feed(pool: Pool) -> Iterator[Item]:
    yield Line(FEED_X, MR_Y, FEED_X, AXIS - 24, Pen(MAIN_RESERVOIR_PIPE, 4))
    if part := pool.take("mr_isolating_cock"):
        yield cock_part(part, FEED_X, MR_Y + 38, upright=True, name="MR isolating cock")
    if part := pool.take("check_valve"):
        signs = check_valve(part, FEED_X, MR_Y + 82)
        yield small_part(part, signs, FEED_X, MR_Y + 82, "check valve, choke")


def _charging(*, feeding: bool) -> Iterator[Item]:
    yield plain_line(((360, AXIS), (580, AXIS)))
    if not feeding:
        arrow = ((482, AXIS - 7), (468, AXIS), (482, AXIS + 7))
        yield Path((arrow,), Pen(INK, 2), INK, closed=True)
        words = "charged through it"
        yield Text(470, AXIS - 14, words, SMALL, "middle", INK_SOFT)


def _reservoirs(pool: Pool, reservoirs: tuple[Part, ...]) -> Iterator[Item]:
    if not reservoirs:
        return
    drains = pool.take_up_to(2, "drain_cock")
    for number, part in enumerate(drains):
        x = 214 + 84 * number
        yield plain_line(((x, AXIS + 24), (x, AXIS + 44)))
        yield small_part(part, drain(part, x, AXIS + 50), x, AXIS + 50, "drain")
    if len(reservoirs) > 1:
        yield plain_line(
            ((186, AXIS), (176, AXIS), (176, AXIS + 108), (186, AXIS + 108))
        )
    for number, part in enumerate(reservoirs):
        box = Box(180, AXIS - 24 + 108 * number, 180, 48)
        name = "Auxiliary res." if len(reservoirs) > 1 else "Auxiliary reservoir"
        yield box_part(part, box, name, round_=True)


def _release(pool: Pool, valve: Part | None) -> Iterator[Item]:
    y = AXIS + 76
    control = pool.take("control_reservoir")
    cord = pool.take("release_valve")
    if control and valve:
        yield plain_line(((564, y), (604, y), (604, AXIS + 40)))
    if cord:
        yield plain_line(((400, y), (440, y)) if control else ((400, y), (400, AXIS)))
        yield _cord(cord, 400, y)
    if control:
        box = Box(432, y - 24, 132, 48)
        yield box_part(control, box, "Control res.", round_=True)


def _cord(part: Part, x: float, y: float) -> Item:
    pen = outline(part.state)
    shapes = (
        Line(x, y + 10, x, y + 40, Pen(INK, 2, (3, 3))),
        Circle(x, y + 44, 4, Pen(INK, 2)),
        Circle(x, y, 10, pen, filling(part.state)),
        Text(x + 10, y + 48, "release", SMALL),
    )
    hit = Box(x - 22, y - 18, 52, 76)
    return part_group(part, shapes, Box(x - 10, y - 10, 20, 20), hit)


def _branch(pool: Pool, brake_pipe_y: float) -> Iterator[Item]:
    yield Line(BRANCH_X, brake_pipe_y, BRANCH_X, AXIS + 36, Pen(BRAKE_PIPE, 4))
    if part := pool.take("distributor_isolating_cock"):
        yield cock_part(part, BRANCH_X, AXIS + 72, upright=True, name="isolating cock")
    if part := pool.take("dirt_collector"):
        y = AXIS + 126
        yield small_part(part, square(part, BRANCH_X, y), BRANCH_X, y, "dirt collector")


def _cylinders(pool: Pool, valve: Part | None) -> Iterator[Item]:
    cylinders = pool.take_up_to(4, "brake_cylinder")
    relay = pool.take("relay_valve")
    if cylinders and (valve or relay):
        yield plain_line(((706, AXIS), (SPLIT_X, AXIS)))
    yield from _load_gear(pool, relay)
    heights = _heights(len(cylinders))
    cocks = _cylinder_cocks(pool, len(cylinders))
    if len(cocks) < len(cylinders) and cocks:
        yield cock_part(cocks[0], 850, AXIS, upright=False)
        cocks = ()
    for number, part in enumerate(cylinders):
        y = heights[number]
        yield plain_line(((SPLIT_X, AXIS), (SPLIT_X, y), (930, y)))
        if cocks:
            yield cock_part(cocks[number], 902, y, upright=False)
        yield Line(1022, y, 1046, y, Pen(INK, 5))
        name = f"Cylinder {number + 1}" if len(cylinders) > 1 else "Cylinder"
        yield box_part(part, Box(930, y - 22, 92, 44), name)


def _cylinder_cocks(pool: Pool, cylinders: int) -> tuple[Part, ...]:
    """Take one cock for each cylinder, or one for them all; other counts stay listed."""
    kind = "cylinder_isolating_cock"
    if not cylinders:
        return ()
    return pool.take_up_to(cylinders if pool.count(kind) >= cylinders else 1, kind)


def _load_gear(pool: Pool, relay: Part | None) -> Iterator[Item]:
    gear = pool.take("empty_load_gear")
    if gear:
        yield Line(808, AXIS, 808, AXIS + 42, Pen(INK, 2, (3, 3)))
        box = Box(776, AXIS + 42, 92, 44)
        yield box_part(gear, box, "Empty/load")
    if relay:
        yield box_part(relay, Box(734, AXIS - 22, 92, 44), "Relay valve")


def _heights(count: int) -> list[float]:
    pitch = 84 if count < 4 else 56
    return [AXIS + pitch * (number - (count - 1) / 2) for number in range(count)]
