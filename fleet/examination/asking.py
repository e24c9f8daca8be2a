"""What a revision asks of one vehicle: its lines, the repeated ones once for each place."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment
from fleet.examination.models import ProcedureLine, ProcedureRevision
from fleet.examination.vocabulary import Repeat
from fleet.register.models import Position, Vehicle
from fleet.register.positions import revision_at
from fleet.register.vocabulary import EquipmentKind, Scope

ENDS = (("end-1", "No. 1 end"), ("end-2", "No. 2 end"))
# Which cylinders are looked at follows from the brake a procedure bears on.
_CYLINDERS = (
    (EquipmentKind.BRAKE_CYLINDER, Scope.AIR_BRAKE),
    (EquipmentKind.VACUUM_CYLINDER, Scope.VACUUM_BRAKE),
)

Places = Mapping[str, tuple[tuple[str, str], ...]]  # of each repeat: code, label


@dataclass(frozen=True, slots=True)
class Asked:
    """One thing to answer: a line, and of a repeated one which place it is asked of."""

    line: ProcedureLine
    position: str = ""
    place: str = ""

    @property
    def key(self) -> str:
        """Return the key of its fields and errors: line_3, or line_3__cyl-1."""
        return key_of(self.line.order, self.position)

    @property
    def anchor(self) -> str:
        """Return where it stands on a page: line-3, or line-3-cyl-1."""
        return f"line-{self.line.order}" + (
            f"-{self.position}" if self.position else ""
        )

    @property
    def words(self) -> str:
        """Return what is asked, as found or as left, and of which place."""
        return ", ".join(part for part in (self.line.asked, self.place) if part)

    @property
    def known_by(self) -> tuple[str, str, str]:
        """Return what it is recognised by in another revision or record."""
        return (self.line.text, self.line.stage, self.position)


def key_of(order: int, position: str = "") -> str:
    """Return the key under which a line, at a place, is answered and refused."""
    return f"line_{order}__{position}" if position else f"line_{order}"


def asked_of(
    revision: ProcedureRevision, vehicle: Vehicle | None, on: Moment
) -> list[Asked]:
    """
    Return everything a revision asks of a vehicle as its type was on a day.

    A line for each cylinder is asked once where the type lists none; one for each
    handle is not asked then. Where the type is not recorded, each is asked once.
    """
    lines = list(revision.lines.all())
    repeated = any(line.repeat for line in lines) and vehicle is not None
    places = places_on(revision, vehicle, on) if repeated and vehicle else None
    return spread(lines, places)


def spread(lines: Iterable[ProcedureLine], places: Places | None) -> list[Asked]:
    """Return lines, the repeated ones once for each of the places known."""
    return [Asked(line, *place) for line in lines for place in _places_of(line, places)]


def places_on(
    revision: ProcedureRevision, vehicle: Vehicle, on: Moment
) -> Places | None:
    """Return what each repeat stands for on a vehicle; None: its type is not recorded."""
    try:
        positions = revision_at(vehicle, on).positions.all()
    except ValidationError:
        return None
    return places_among(revision, positions)


def place_labels(vehicle: Vehicle, on: Moment) -> Mapping[str, str]:
    """Return what a fitter calls each place readings are of, by its code."""
    try:
        positions = revision_at(vehicle, on).positions.all()
    except ValidationError:
        return dict(ENDS)
    return {place.code: place.label for place in positions} | dict(ENDS)


def places_among(revision: ProcedureRevision, positions: Iterable[Position]) -> Places:
    """Return what each repeat stands for among the positions of a type."""
    listed = list(positions)
    cylinders = _kinds_of_cylinder(revision)
    return {
        Repeat.CYLINDER: _of_kinds(listed, cylinders) or (("", ""),),
        Repeat.HANDLE: _of_kinds(listed, {EquipmentKind.PASSENGER_ALARM}),
        Repeat.END: ENDS,
    }


def _places_of(
    line: ProcedureLine, places: Places | None
) -> tuple[tuple[str, str], ...]:
    if not line.repeat or places is None:
        return (("", ""),)
    return places[line.repeat]


def _kinds_of_cylinder(revision: ProcedureRevision) -> set[str]:
    meant = {kind.value for kind, scope in _CYLINDERS if scope in revision.scopes}
    return meant or {kind.value for kind, _scope in _CYLINDERS}


def _of_kinds(
    positions: list[Position], kinds: set[str] | set[EquipmentKind]
) -> tuple[tuple[str, str], ...]:
    return tuple((p.code, p.label) for p in positions if p.kind in kinds)
