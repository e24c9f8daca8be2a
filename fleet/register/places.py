"""What the page of one position of a vehicle shows."""

import datetime as dt
from dataclasses import dataclass

from fleet.register.models import (
    EquipmentVersion,
    Fitting,
    Position,
    TypeRevision,
    Vehicle,
    VehicleVersion,
)


@dataclass(frozen=True, slots=True)
class PlacePage:
    """A position of a vehicle: `place` is None where its type has it no longer."""

    vehicle: Vehicle
    version: VehicleVersion
    code: str
    place: Position | None
    fitted: Fitting | None
    item: EquipmentVersion | None
    history: tuple[Fitting, ...]
    put_right: tuple[Fitting, ...]

    @property
    def label(self) -> str:
        """Return what a fitter calls the position."""
        return self.place.label if self.place else self.code


def place_page(vehicle_id: int, code: str, day: dt.date) -> PlacePage | None:
    """
    Read one position of a vehicle on a day: six queries, however long its history.

    None if there is no such vehicle, or neither its type nor its history knows the code.
    """
    version = (
        VehicleVersion.objects.newest()
        .filter(vehicle=vehicle_id)
        .select_related("vehicle")
        .first()
    )
    if version is None:
        return None
    rows = Fitting.objects.filter(vehicle=vehicle_id, position=code)
    history = tuple(rows.current().for_life().reverse())
    place = _place(version, code, day)
    if place is None and not history:
        return None
    fitted = next((row for row in history if row.until is None), None)
    return PlacePage(
        version.vehicle,
        version,
        code,
        place,
        fitted,
        _item(fitted),
        history,
        tuple(rows.put_right()),
    )


def _place(version: VehicleVersion, code: str, day: dt.date) -> Position | None:
    revision: TypeRevision | None = TypeRevision.objects.of_type(version.type_id, day)
    return revision.positions.filter(code=code).first() if revision else None


def _item(fitted: Fitting | None) -> EquipmentVersion | None:
    if fitted is None:
        return None
    held = EquipmentVersion.objects.newest().filter(equipment=fitted.equipment_id)
    found: EquipmentVersion | None = held.select_related("equipment").first()
    return found
