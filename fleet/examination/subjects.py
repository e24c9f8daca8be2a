"""What is tested, by the words people know it by, and the procedures that suit it."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db.models import OuterRef, Subquery

from fleet.examination.asking import place_labels
from fleet.examination.models import Procedure, ProcedureRevision, TestRecord
from fleet.records.models import VersionQuerySet
from fleet.register.models import (
    Equipment,
    EquipmentVersion,
    Fitting,
    TypeRevision,
    Vehicle,
    VehicleVersion,
)
from fleet.register.vocabulary import (
    EquipmentKind,
    Fitment,
    MainReservoirPipe,
    Scope,
)

MOST_FOUND = 20


@dataclass(frozen=True, slots=True)
class Tested:
    """A vehicle or an item, with its name and what it is."""

    name: str
    what: str
    vehicle: Vehicle | None = None
    equipment: Equipment | None = None
    particulars: VehicleVersion | None = None

    @property
    def query(self) -> str:
        """Return the part of an address that names it."""
        if self.vehicle is not None:
            return f"vehicle={self.vehicle.pk}"
        assert self.equipment is not None
        return f"equipment={self.equipment.pk}"

    @property
    def row(self) -> dict[str, Any]:
        """Return the keywords services take it by."""
        return {"vehicle": self.vehicle, "equipment": self.equipment}


def vehicle_tested(pk: int) -> Tested | None:
    """Return a vehicle by its key; None if there is none."""
    newest = _vehicles().filter(vehicle=pk).order_by("since_key").last()
    return _vehicle(newest) if newest is not None else None


def item_tested(pk: int) -> Tested | None:
    """Return an item of equipment by its key; None if there is none."""
    versions = EquipmentVersion.objects.current().filter(equipment=pk)
    newest = versions.select_related("equipment").order_by("since_key").last()
    return _item(newest) if newest is not None else None


def tested_in(record: TestRecord) -> Tested:
    """Return what a test record is about."""
    found = (
        vehicle_tested(record.vehicle_id)
        if record.vehicle_id is not None
        else item_tested(record.equipment_id or 0)
    )
    assert found is not None
    return found


def tested_named(text: str) -> list[Tested]:
    """Return vehicles and items whose number contains a text, a few of each."""
    text = text.strip()
    if not text:
        return []
    items = EquipmentVersion.objects.current().open_ended()
    bearers = _vehicles().open_ended().filter(number__icontains=text)
    matching = items.filter(serial__icontains=text).select_related("equipment")
    return [
        *map(_vehicle, bearers.order_by("number")[:MOST_FOUND]),
        *map(_item, matching.order_by("serial")[:MOST_FOUND]),
    ]


def suited_procedures(tested: Tested, day: dt.date) -> list[ProcedureRevision]:
    """
    Return the revisions in force on a day that can be carried out on something.

    For a vehicle those that bear on any part it has; for an item those for its kind.
    """
    in_force = ProcedureRevision.objects.in_force(day).for_list().order_by("title")
    if tested.equipment is not None:
        return list(in_force.on_items_of(tested.equipment.kind))
    assert tested.particulars is not None
    present = parts_of(tested.particulars)
    return [
        revision
        for revision in in_force.on_vehicles()
        if not revision.scopes or present.intersection(revision.scopes)
    ]


def parts_of(vehicle: VehicleVersion) -> set[str]:
    """Return the scopes of which a vehicle has anything."""
    air, vacuum = vehicle.air, vehicle.vacuum
    braked = Fitment.BRAKED in {air, vacuum} or vehicle.hand_brake
    held = {
        Scope.VEHICLE: True,
        Scope.BRAKE_PIPE: air != Fitment.NONE,
        Scope.AIR_BRAKE: air == Fitment.BRAKED,
        Scope.MAIN_RESERVOIR_PIPE: (
            vehicle.main_reservoir_pipe != MainReservoirPipe.NONE
        ),
        Scope.VACUUM_TRAIN_PIPE: vacuum != Fitment.NONE,
        Scope.VACUUM_BRAKE: vacuum == Fitment.BRAKED,
        Scope.SHARED_GEAR: braked,
        Scope.HAND_BRAKE: vehicle.hand_brake,
    }
    return {scope.value for scope, there in held.items() if there}


def last_record(
    procedure: Procedure, tested: Tested, before: TestRecord | None = None
) -> TestRecord | None:
    """Return the newest record of a procedure on something; or that before another."""
    records = TestRecord.objects.current().of(
        vehicle=tested.vehicle, equipment=tested.equipment
    )
    if before is not None:
        records = records.exclude(test=before.test_id).filter(
            on_latest__lte=before.on_latest
        )
    found: TestRecord | None = (
        records.filter(procedure_revision__procedure=procedure)
        .prefetch_related("readings__line")
        .order_by("-on_latest", "-on_at", "-pk")
        .first()
    )
    return found


def place_of(equipment: Equipment) -> str:
    """Return where an item is now, in words; "" if no record says."""
    held = Fitting.objects.current().open_ended().filter(equipment=equipment)
    fitting = held.select_related("store").order_by("since_key").last()
    if fitting is None:
        return ""
    if fitting.vehicle_id is None:
        return f"in store, {fitting.store}"
    bearer = vehicle_tested(fitting.vehicle_id)
    if bearer is None or bearer.vehicle is None:
        return ""
    labels = place_labels(bearer.vehicle, fitting.since)
    return f"on {bearer.name}, {labels.get(fitting.position, fitting.position)}"


def _vehicles() -> VersionQuerySet:
    names = TypeRevision.objects.current().filter(type=OuterRef("type"))
    newest = names.order_by("-number").values("name")[:1]
    versions: VersionQuerySet = VehicleVersion.objects.current().annotate(
        type_name=Subquery(newest)
    )
    return versions.select_related("vehicle", "type")


def _vehicle(version: Any) -> Tested:
    return Tested(
        name=version.number,
        what=version.type_name or version.type.code,
        vehicle=version.vehicle,
        particulars=version,
    )


def _item(version: EquipmentVersion) -> Tested:
    return Tested(
        name=version.serial,
        what=EquipmentKind(version.kind).label,
        equipment=version.equipment,
    )
