"""The pipe diagram: a vehicle in plan with every position in its state, each a link."""

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.ui import air_diagram, vacuum_diagram
from fleet.ui.drawing import Drawing, Item
from fleet.ui.pipe_frame import WIDTH, row_height, row_of_parts
from fleet.ui.pipe_parts import Part, Pool

__all__ = ["Arrangement", "Diagram", "Part", "pipe_diagrams"]

SHARED = (
    "brake_rigging",
    "slack_adjuster",
    "brake_block",
    "handbrake",
    "changeover",
)


@dataclass(frozen=True, slots=True)
class Arrangement:
    """
    How a vehicle is braked.

    `air` is two_pipe, one_pipe, piped or none; `vacuum` braked, piped or none;
    `mr_pipe` says whether a main reservoir pipe runs through.
    """

    air: str = "none"
    vacuum: str = "none"
    mr_pipe: bool = False


@dataclass(frozen=True, slots=True)
class Diagram:
    """One drawing of a vehicle: of its air brake, its vacuum brake or its gear only."""

    system: str  # air, vacuum or "" for a vehicle without either
    title: str
    drawing: Drawing

    @property
    def words(self) -> str:
        """Return every position and its state, for those who cannot see the drawing."""
        return " ".join(group.title for group in self.drawing.groups() if group.title)


def pipe_diagrams(
    parts: Sequence[Part], arrangement: Arrangement
) -> tuple[Diagram, ...]:
    """
    Return the drawings of a vehicle, one for each system it has pipes or parts of.

    Every part appears at least once: what has no place of its own in a drawing stands
    in a row below it, and the gear that both brakes share stands below each.
    """
    kinds = {part.kind for part in parts}
    air = arrangement.air != "none" or bool(kinds & air_diagram.KINDS)
    vacuum = arrangement.vacuum != "none" or bool(kinds & vacuum_diagram.KINDS)
    if not air and not vacuum:
        return (_gear(parts),)
    found = []
    if air:
        found.append(_air(_belonging(parts, "air") if vacuum else parts, arrangement))
    if vacuum:
        found.append(_vacuum(_belonging(parts, "vacuum") if air else parts))
    return tuple(found)


def _air(parts: Sequence[Part], arrangement: Arrangement) -> Diagram:
    pool = Pool(parts)
    shared = pool.take_up_to(len(parts), *SHARED)
    feeding = arrangement.air != "one_pipe"
    mr_pipe = arrangement.mr_pipe or arrangement.air == "two_pipe"
    items, y = air_diagram.draw_air(pool, mr_pipe=mr_pipe, feeding=feeding)
    return Diagram("air", "Pipe diagram, air", _sheet(items, y, shared, pool.rest()))


def _vacuum(parts: Sequence[Part]) -> Diagram:
    pool = Pool(parts)
    shared = pool.take_up_to(len(parts), *SHARED)
    items, y = vacuum_diagram.draw_vacuum(pool)
    drawing = _sheet(items, y, shared, pool.rest())
    return Diagram("vacuum", "Pipe diagram, vacuum", drawing)


def _gear(parts: Sequence[Part]) -> Diagram:
    pool = Pool(parts)
    shared = pool.take_up_to(len(parts), *SHARED)
    return Diagram("", "Brake gear", _sheet([], 4, shared, pool.rest()))


def _belonging(parts: Sequence[Part], system: str) -> list[Part]:
    """Return what one of two drawings shows: its own kinds, and what both may have."""
    return [part for part in parts if _system_of(part) in {"", system}]


def _system_of(part: Part) -> str:
    if part.kind in SHARED:
        return ""
    if part.kind in air_diagram.KINDS:
        return "air"
    return "vacuum" if part.kind in vacuum_diagram.KINDS else part.system


def _sheet(
    items: list[Item], y: float, shared: Sequence[Part], others: Sequence[Part]
) -> Drawing:
    """Put the rows of shared gear and of all that is left below a drawing."""
    rows: list[Item] = []
    for title, parts in (("Shared gear", shared), ("Also fitted", others)):
        rows.extend(row_of_parts(title, parts, y))
        y += row_height(len(parts))
    return Drawing(WIDTH, y, (*items, *rows))
