"""What a test is of, as it stood on the day: number, kind, place."""

from dataclasses import dataclass
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.register.models import (
    Equipment,
    EquipmentVersion,
    Fitting,
    TypeRevision,
    Vehicle,
    VehicleVersion,
)
from fleet.register.vocabulary import EquipmentKind


@dataclass(frozen=True, slots=True)
class Subject:
    """What was tested, as it stood on the day."""

    number: str
    what: str
    on_vehicle: bool
    where: str = ""  # of an item: where it was


def subject_of(
    vehicle: Vehicle | None, equipment: Equipment | None, on: Moment
) -> Subject:
    """Return what is tested as it stood at a moment; before its record, as it began."""
    if vehicle is not None:
        return _vehicle(vehicle, on)
    assert equipment is not None
    return _item(equipment, on)


def _vehicle(vehicle: Vehicle, on: Moment) -> Subject:
    version = holding(VehicleVersion.objects.filter(vehicle=vehicle), on)
    if version is None:
        return Subject(f"Vehicle {vehicle.pk}", "No particulars are recorded", True)
    revision = TypeRevision.objects.of_type(version.type_id, on.earliest)
    return Subject(version.number, revision.name if revision else "", True)


def _item(equipment: Equipment, on: Moment) -> Subject:
    version = holding(EquipmentVersion.objects.filter(equipment=equipment), on)
    kind = EquipmentKind(equipment.kind).label
    if version is None:
        return Subject(f"Item {equipment.pk}", kind, False)
    made = f"made {version.made}" if version.made.known else ""
    what = ", ".join(part for part in (kind, version.designation, made) if part)
    return Subject(version.serial, what, False, _place(equipment, on))


def holding(versions: Any, on: Moment) -> Any:
    """Return the version that holds at a moment; before the first, the first."""
    held = versions.current().order_by("since_key")
    return held.holding_at(on).last() or held.first()


def _place(equipment: Equipment, on: Moment) -> str:
    """Return where an item was, in words; "" if no record says."""
    fittings = Fitting.objects.current().filter(equipment=equipment).holding_at(on)
    fitting = fittings.select_related("store").with_number().with_label().last()
    if fitting is None:
        return ""
    if fitting.vehicle_id is None:
        return f"In store, {fitting.store}"
    return f"On {fitting.number}, {fitting.label or fitting.position}"
