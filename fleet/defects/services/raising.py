"""Raising a defect: what it is on, and which part of the brake it bears on."""

from typing import Any

from fleet.defects import steps, whereabouts
from fleet.defects.models import Defect
from fleet.defects.vocabulary import Step, Tendency
from fleet.engineering.calendar import Moment
from fleet.people.models import Person, User
from fleet.records.deeds import announce, deed
from fleet.records.refusing import refusing
from fleet.records.versions import identify
from fleet.register.models import Equipment, Vehicle
from fleet.register.positions import position_at
from fleet.register.vocabulary import Scope


def raise_defect(
    *,
    by: User | None,
    person: Person,
    title: str,
    on: Moment,
    vehicle: Vehicle | None = None,
    equipment: Equipment | None = None,
    position: str = "",
    scope: str = "",
    effect: str | None = None,
    condition: str = "",
    tends: str = Tendency.UNKNOWN,
    note: str = "",
) -> Defect:
    """
    Report a defect of a vehicle or an item; with an effect it is assessed at once.

    A position takes in the item fitted there at that moment, an item the place it sits
    in; the scope comes from the position where none is given. Raises ValidationError:
    `no_subject`, `no_such_position`, `scope_needed`, `in_the_future`, `unknown_date`,
    and what an assessment may raise.
    """
    steps.refuse_undatable(on, "on")
    vehicle, equipment, position = _subject(vehicle, equipment, position, on)
    found = Scope(scope or _scope_of(vehicle, position, on))
    with deed("defects.raise", by=by, locking=(vehicle, equipment)) as entry:
        defect = identify(
            Defect,
            entry=entry,
            vehicle=vehicle,
            equipment=equipment,
            position=position,
            title=title.strip(),
        )
        values: dict[str, Any] = {"by": person, "on": on, "scope": found}
        values |= {"tends": tends, "condition": condition}
        standing = effect or steps.until_assessed(found)
        steps.write_step(
            defect, Step.RAISED, entry=entry, effect=standing, note=note, **values
        )
        if effect:
            steps.write_step(
                defect, Step.ASSESSED, entry=entry, effect=effect, **values
            )
        announce(vehicle, equipment, defect)
        return defect


def _subject(
    vehicle: Vehicle | None, equipment: Equipment | None, position: str, on: Moment
) -> tuple[Vehicle | None, Equipment | None, str]:
    if vehicle is None and equipment is None:
        raise refusing(
            "Name the vehicle or the item the defect is on.",
            code="no_subject",
            field="vehicle",
        )
    if vehicle is not None and position:
        place = position_at(vehicle, position, on)
        equipment = equipment or whereabouts.item_in(vehicle, place.code, on)
    elif equipment is not None:
        fitting = whereabouts.fitting_of(equipment, on)
        if fitting is not None and vehicle in {None, fitting.vehicle}:
            vehicle, position = fitting.vehicle, fitting.position
    return vehicle, equipment, position


def _scope_of(vehicle: Vehicle | None, position: str, on: Moment) -> str:
    if vehicle is None or not position:
        raise refusing(
            "Say which part of the brake the defect bears on.",
            code="scope_needed",
            field="scope",
        )
    return position_at(vehicle, position, on).scope
