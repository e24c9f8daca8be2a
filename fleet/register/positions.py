"""Which positions a vehicle has at a moment: its type then, and the revision in force."""

from fleet.engineering.calendar import Moment
from fleet.records.refusing import refusing
from fleet.register.models import (
    Fitting,
    Position,
    TypeRevision,
    Vehicle,
    VehicleVersion,
)


def particulars_at(vehicle: Vehicle, moment: Moment) -> VehicleVersion:
    """
    Return the particulars of a vehicle at a moment; the first ones for an unknown date.

    Raises ValidationError, code `vehicle_not_recorded_then`, before they begin.
    """
    held = VehicleVersion.objects.current().filter(vehicle=vehicle)
    found: VehicleVersion | None = held.holding_at(moment).order_by("since_key").last()
    first: VehicleVersion | None = held.order_by("since_key").first()
    if found is None and first is not None and not moment.known:
        found = first
    if found is None:
        when = f" before {first.since}" if first else ""
        raise refusing(
            f"The register holds nothing of this vehicle{when}. Give a later date, or "
            "correct the date from which its particulars hold.",
            code="vehicle_not_recorded_then",
            field="since",
        )
    return found


def revision_at(vehicle: Vehicle, moment: Moment) -> TypeRevision:
    """Return the type revision in force for a vehicle at a moment."""
    type_id = particulars_at(vehicle, moment).type_id
    found: TypeRevision | None = TypeRevision.objects.of_type(type_id, moment.earliest)
    if found is None:
        raise refusing(
            "This vehicle's type has no list of positions yet. Define it first.",
            code="type_without_positions",
            field="position",
        )
    return found


def position_at(vehicle: Vehicle, code: str, moment: Moment) -> Position:
    """
    Return a position of a vehicle as its type describes it at a moment.

    Raises ValidationError, code `no_such_position`, naming the positions that are free.
    """
    revision = revision_at(vehicle, moment)
    position = revision.positions.filter(code=code).first()
    if position is None:
        free = ", ".join(p.code for p in free_positions(vehicle, moment)) or "none"
        raise refusing(
            f"There is no position {code} on this vehicle's type then. Free are: {free}.",
            code="no_such_position",
            field="position",
        )
    return position


def free_positions(vehicle: Vehicle, moment: Moment) -> list[Position]:
    """Return the positions with nothing in them at a moment, in the type's order."""
    held = Fitting.objects.current().filter(vehicle=vehicle).holding_at(moment)
    taken = set(held.values_list("position", flat=True))
    every = revision_at(vehicle, moment).positions.all()
    return [position for position in every if position.code not in taken]
