"""Where a defect bears: the item in a place, the vehicle that carries an item."""

from fleet.defects.models import Defect
from fleet.engineering.calendar import Moment
from fleet.register.managers import FittingQuerySet
from fleet.register.models import Equipment, Fitting, Vehicle


def item_in(vehicle: Vehicle, position: str, moment: Moment) -> Equipment | None:
    """Return the item in a position at a moment, at the close of an untimed day."""
    held = Fitting.objects.current().filter(vehicle=vehicle, position=position)
    found = _held(held, moment).select_related("equipment").first()
    return found.equipment if found else None


def fitting_of(equipment: Equipment, moment: Moment) -> Fitting | None:
    """Return where on a vehicle an item sat at a moment; None if it was in a store."""
    aboard = Fitting.objects.current().on_vehicles().filter(equipment=equipment)
    found: Fitting | None = _held(aboard, moment).select_related("vehicle").first()
    return found


def bearer(defect: Defect, moment: Moment) -> Vehicle | None:
    """Return the vehicle a defect bears on at a moment; None for an item in a store."""
    if defect.equipment is None:
        return defect.vehicle
    fitting = fitting_of(defect.equipment, moment)
    return fitting.vehicle if fitting else None


def _held(fittings: FittingQuerySet, moment: Moment) -> FittingQuerySet:
    if moment.at is not None:
        return fittings.holding_at(moment)
    return (
        fittings.holding_on(moment.latest) if moment.latest else fittings.open_ended()
    )
