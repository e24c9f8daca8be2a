"""What speaks against a fitting, said in a sentence before the database refuses it."""

from fleet.engineering.calendar import Moment
from fleet.records.moments import refuse_future, refuse_unknown
from fleet.records.refusing import refusing
from fleet.register.models import (
    Equipment,
    EquipmentVersion,
    Fitting,
    Position,
    Vehicle,
)
from fleet.register.positions import particulars_at
from fleet.register.vocabulary import EquipmentKind


def refuse_order(since: Moment, until: Moment | None) -> None:
    """Refuse an end before the beginning, and either of them ahead of today."""
    refuse_future(since, "since")
    refuse_future(until, "until")
    if until is None:
        return
    refuse_unknown(until, "until")
    if (until.key or 0) < (since.key or 0):
        raise refusing(
            f"It was fitted on {since}; it cannot come off before.",
            code="removed_before_fitted",
            field="until",
        )


def refuse_open_end(fitting: Fitting, until: Moment | None) -> None:
    """Refuse to correct an end away, or to end a fitting by correcting it."""
    if until is None and fitting.until_key is not None:
        raise refusing(
            "It came off; give the right date of that. If it never came off, retract "
            "what followed first.",
            code="unknown_date",
            field="until",
        )
    if until is not None and fitting.until_key is None:
        raise refusing(
            "It is still fitted. Take it off, so that the register knows where it went.",
            code="still_fitted",
            field="until",
        )


def refuse_wrong_kind(equipment: Equipment, place: Position) -> None:
    """Refuse an item of another kind than the position takes."""
    if equipment.kind != place.kind:
        raise refusing(
            f"{place.label} takes a {EquipmentKind(place.kind).label.lower()}; this is a "
            f"{EquipmentKind(equipment.kind).label.lower()}. If it is really there, say "
            "so: it will stand as a finding.",
            code="wrong_kind",
            field="equipment",
        )


def refuse_unmade(equipment: Equipment, since: Moment) -> None:
    """Refuse to fit an item before it was made."""
    held = EquipmentVersion.objects.current().filter(equipment=equipment)
    made = held.open_ended().values_list("made_earliest", flat=True).first()
    if made and since.latest and since.latest < made:
        raise refusing(
            f"The item was made on {made:%-d %b %Y} or later; it cannot have been fitted "
            f"on {since}.",
            code="before_made",
            field="since",
        )


def refuse_same(held: Fitting, equipment: Equipment) -> None:
    """Refuse to exchange an item for itself."""
    if held.equipment_id == equipment.pk:
        raise refusing(
            "This item is the one fitted there now. Choose the item that goes in.",
            code="same_item",
            field="equipment",
        )


def refuse_elsewhere(equipment: Equipment, since: Moment, until: Moment | None) -> None:
    """Refuse an item that is on a vehicle in part of an interval, naming where."""
    held = Fitting.objects.current().on_vehicles().filter(equipment=equipment)
    other = held.overlapping(since, until).select_related("vehicle").first()
    if other is None:
        return
    number = particulars_at(other.vehicle, other.since).number
    raise refusing(
        f"This item is recorded on {number} at {other.position} from {other.since}"
        f"{f' to {other.until}' if other.until else ''}. Take it off there first, or "
        "give times of day.",
        code="item_elsewhere",
        field="equipment",
    )


def refuse_taken(
    vehicle: Vehicle, position: str, since: Moment, until: Moment | None
) -> None:
    """Refuse a position that is filled in part of an interval, naming by what."""
    held = Fitting.objects.current().filter(vehicle=vehicle, position=position)
    other = held.overlapping(since, until).with_serial().first()
    if other is None:
        return
    raise refusing(
        f"{other.serial} is recorded at this position from {other.since}"
        f"{f' to {other.until}' if other.until else ''}. Take it off first, exchange it, "
        "or give times of day.",
        code="position_taken",
        field="position",
    )
