"""From what a deed touched to the vehicles whose brake status may have changed."""

from collections.abc import Iterable

from fleet.defects.models import DefectStep, WorkInHand
from fleet.examination.models import TestRecord
from fleet.fitness.models import StatementVersion
from fleet.records.deeds import Subject
from fleet.register.models import Fitting, Vehicle, VehicleVersion

VEHICLE = "register.vehicle"
EQUIPMENT = "register.equipment"
VEHICLE_TYPE = "register.vehicletype"
COMPETENCE = "people.competence"
# A change of these may bear on every vehicle there is.
POLICY = frozenset(
    {
        "upkeep.requirement",
        "upkeep.matrixline",
        "upkeep.conditionsrevision",
        "examination.procedure",
    }
)


def touches_policy(subjects: Iterable[Subject]) -> bool:
    """Say whether any subject is part of the operator's policy."""
    return any(kind in POLICY for kind, _ in subjects)


def vehicles_of(subjects: Iterable[Subject]) -> set[int]:
    """
    Return the ids of the vehicles that subjects other than policy bear on.

    An item bears on every vehicle that ever carried it: its history moves with it. A
    type bears on every vehicle that ever was of it, a competence on what was done
    under it.
    """
    keys: dict[str, set[int]] = {}
    for kind, key in subjects:
        keys.setdefault(kind, set()).add(key)
    found = set(keys.get(VEHICLE, ()))
    if COMPETENCE in keys:
        for _, vehicle, item in _done_under(keys[COMPETENCE]):
            found |= {vehicle} if vehicle is not None else set()
            keys.setdefault(EQUIPMENT, set()).update([item] if item is not None else [])
    if keys.get(EQUIPMENT):
        carried = Fitting.objects.filter(
            equipment__in=keys[EQUIPMENT], vehicle__isnull=False
        )
        found.update(carried.order_by().values_list("vehicle", flat=True))
    if VEHICLE_TYPE in keys:
        of_type = VehicleVersion.objects.filter(type__in=keys[VEHICLE_TYPE])
        found.update(of_type.order_by().values_list("vehicle", flat=True))
    return found


def borne_by(subjects: Iterable[Subject]) -> dict[Subject, set[Subject]]:
    """Return the vehicles and items that competences and types bear on: five queries."""
    keys: dict[str, set[int]] = {}
    found: dict[Subject, set[Subject]] = {}
    for kind, key in subjects:
        keys.setdefault(kind, set()).add(key)
    if VEHICLE_TYPE in keys:
        of_type = VehicleVersion.objects.filter(type__in=keys[VEHICLE_TYPE])
        for type_, vehicle in of_type.order_by().values_list("type", "vehicle"):
            found.setdefault((VEHICLE_TYPE, type_), set()).add((VEHICLE, vehicle))
    if COMPETENCE in keys:
        for competence, vehicle, item in _done_under(keys[COMPETENCE]):
            bears = found.setdefault((COMPETENCE, competence), set())
            bears |= {(VEHICLE, vehicle)} if vehicle is not None else set()
            bears |= {(EQUIPMENT, item)} if item is not None else set()
    return found


def _done_under(competences: set[int]) -> list[tuple[int, int | None, int | None]]:
    """Return by competence the vehicles and items signed for, tested or released under it."""
    key = "competence__competence"
    under = {f"{key}__in": competences}
    tests = TestRecord.objects.current().filter(**under).order_by()
    steps = DefectStep.objects.current().filter(**under).order_by()
    work = WorkInHand.objects.current().filter(**under).order_by()
    signed = StatementVersion.objects.current().filter(**under).order_by()
    signs = signed.values_list(key, "vehicle")
    return [
        *((competence, vehicle, None) for competence, vehicle in signs),
        *tests.values_list(key, "vehicle", "equipment"),
        *steps.values_list(key, "defect__vehicle", "defect__equipment"),
        *work.values_list(key, "vehicle", "defect__equipment"),
    ]


def every_vehicle(*, at_most: int) -> set[int] | None:
    """Return the ids of all vehicles, None if there are more than `at_most`."""
    found = set(Vehicle.objects.values_list("pk", flat=True)[: at_most + 1])
    return found if len(found) <= at_most else None
