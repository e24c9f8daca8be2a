"""What the page of a defect shows, and which steps it offers to whom."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from fleet.defects import whereabouts
from fleet.defects.managers import number_of, serial_of
from fleet.defects.models import Defect, DefectStep, IsolationVersion, WorkInHand
from fleet.defects.recurrence import escalation_of, recurrence_of
from fleet.defects.signing import lacks
from fleet.defects.steps import ways_on
from fleet.defects.vocabulary import Brake, Step
from fleet.defects.wording import effect_words
from fleet.engineering.calendar import Moment
from fleet.people.access import may
from fleet.records.moments import present
from fleet.register.models import Equipment, Position, Vehicle
from fleet.register.positions import particulars_at
from fleet.register.vocabulary import (
    Effect,
    EquipmentKind,
    Fitment,
    Scope,
)


@dataclass(frozen=True, slots=True)
class StepPage:
    """What the page of a step is called, and who may take it."""

    step: Step
    deed: str
    permissions: tuple[str, ...]
    signed: bool = False  # by who is signed in, nobody else

    @property
    def before_work(self) -> bool:
        """Say whether hands go to the gear after this step."""
        return self.step is Step.IN_HAND

    @property
    def after_work(self) -> bool:
        """Say whether this step says that the work is good."""
        return self.step in {Step.DONE, Step.RELEASED}


HIGHER_PAGE = StepPage(
    Step.ASSESSED, "Assess at a higher level", ("release_vehicles",), signed=True
)
_WORK = ("record_facts", "plan_work")
STEP_PAGES: dict[str, StepPage] = {
    page.step: page
    for page in (
        StepPage(Step.ASSESSED, "Assess", ("assess_defects",), signed=True),
        StepPage(Step.IN_HAND, "Take in hand", _WORK),
        StepPage(Step.DONE, "Record work done", _WORK),
        StepPage(Step.TESTED, "Record it tested", _WORK),
        StepPage(Step.RELEASED, "Release", ("release_vehicles",), signed=True),
        StepPage(Step.NO_FAULT, "No fault found", ("assess_defects",), signed=True),
    )
}


def permitted_steps(standing: DefectStep | None, user: Any) -> list[StepPage]:
    """Return the steps that can come next and that this account may take."""
    if standing is None:
        return []
    followers = ways_on(standing)
    return [
        page
        for page in STEP_PAGES.values()
        if page.step in followers
        and any(may(user, permission) for permission in page.permissions)
    ]


def defect_page(defect: Defect, today: dt.date) -> dict[str, Any]:
    """Return everything the page of a defect shows."""
    log = list(DefectStep.objects.filter(defect=defect).for_history())
    held = [step for step in log if step.is_current]
    standing = held[-1] if held else None
    vehicle = whereabouts.bearer(defect, Moment.on(today))
    short = lacks(held, Moment.on(today))
    return {
        "defect": defect,
        "log": [(step, short.get(step)) for step in log],
        "standing": standing,
        "newest": standing.pk if standing else None,
        "assessed": any(step.step == Step.ASSESSED for step in held),
        "raised": held[0] if held else None,
        "words": _words(standing),
        "vehicle": vehicle,
        "isolations": _isolations(defect, vehicle),
        "to_isolate": _to_isolate(standing, vehicle, today),
        "work": WorkInHand.objects.current().filter(defect=defect).for_list(),
        "earlier": _earlier(defect),
        **_back(defect, standing, today),
        "kind": _kind(defect.equipment),
        **_names(defect, vehicle),
    }


def _back(
    defect: Defect, standing: DefectStep | None, today: dt.date
) -> dict[str, Any]:
    """Return how often it was there before, and what it waits for if too often."""
    recurrence = recurrence_of(defect)
    waits = None
    if standing is not None and not standing.ends:
        waits = escalation_of(defect, recurrence, Moment.on(today))
    return {"recurrence": recurrence, "waits": waits}


def _words(standing: DefectStep | None) -> str:
    if standing is None or Step(standing.step).ends:
        return ""
    if standing.step == Step.RAISED:
        return "Until it is assessed it counts as the operator's conditions lay down."
    return effect_words(Effect(standing.effect), Scope(standing.scope))


def _isolations(defect: Defect, vehicle: Vehicle | None) -> list[IsolationVersion]:
    """Return the newest state of each isolation for this defect or on its vehicle."""
    versions = IsolationVersion.objects.current().for_list()
    mine = versions.filter(defect=defect)
    if vehicle is not None:
        mine = versions.filter(vehicle=vehicle, until_key__isnull=True) | mine
    newest = {v.isolation_id: v for v in mine.order_by("since_key", "pk")}
    return list(newest.values())


def _to_isolate(
    standing: DefectStep | None, vehicle: Vehicle | None, today: dt.date
) -> list[Brake]:
    """Return the brakes that are there to be taken out of use and are not yet."""
    if standing is None or vehicle is None or Step(standing.step).ends:
        return []
    asked = _asked_out(Scope(standing.scope), Effect(standing.effect))
    if not asked:
        return []
    particulars = particulars_at(vehicle, Moment.on(today))
    fitted = {
        Brake.AIR: particulars.air == Fitment.BRAKED,
        Brake.VACUUM: particulars.vacuum == Fitment.BRAKED,
        Brake.HAND: particulars.hand_brake,
    }
    out = set(
        IsolationVersion.objects.current()
        .open_ended()
        .filter(vehicle=vehicle)
        .values_list("isolation__system", flat=True)
    )
    return [brake for brake in asked if fitted[brake] and brake not in out]


def _asked_out(scope: Scope, effect: Effect) -> list[Brake]:
    """Return the brakes a defect may ask to be taken out of use."""
    if scope is Scope.HAND_BRAKE:
        return [Brake.HAND] if effect is not Effect.ADVISE else []
    if effect is not Effect.ISOLATE:
        return []
    return [Brake(system) for system in scope.systems]


def _kind(item: Equipment | None) -> str:
    return EquipmentKind(item.kind).label if item else ""


def _earlier(defect: Defect) -> list[DefectStep]:
    alike = list(Defect.objects.like(defect).values_list("pk", flat=True)[:10])
    newest = DefectStep.objects.newest().filter(defect__in=alike)
    return list(newest.for_list().order_by("-defect"))


def _names(defect: Defect, vehicle: Vehicle | None) -> dict[str, str]:
    """Return the numbers of the vehicle it was found on, that bears it, and its item's."""
    found = Defect.objects.filter(pk=defect.pk).annotate(
        found_on=number_of("vehicle"), serial=serial_of("equipment")
    )
    names: dict[str, str] = found.values("found_on", "serial").get()
    if vehicle is None:
        return {**names, "number": ""}
    return {**names, "number": number_now(vehicle)}


def number_now(vehicle: Vehicle) -> str:
    """Return the newest running number of a vehicle."""
    found = Vehicle.objects.filter(pk=vehicle.pk).annotate(number=number_of("pk"))
    number: str = found.values_list("number", flat=True).get()
    return number


def serial_now(item: Equipment) -> str:
    """Return the newest serial number of an item."""
    found = Equipment.objects.filter(pk=item.pk).annotate(serial=serial_of("pk"))
    serial: str = found.values_list("serial", flat=True).get()
    return serial


def subject_names(
    vehicle: Vehicle | None, equipment: Equipment | None, place: Position | None
) -> dict[str, str]:
    """Return the running number, and kind and serial of the item, a report is about."""
    item = equipment
    if item is None and vehicle is not None and place is not None:
        item = whereabouts.item_in(vehicle, place.code, present())
    names = {"number": "", "kind": "", "serial": ""}
    if vehicle is not None:
        names["number"] = number_now(vehicle)
    if item is not None:
        names["kind"] = _kind(item)
        names["serial"] = serial_now(item)
    return names
