"""Adding items of equipment, altering them from a date on, correcting them."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.people.models import User
from fleet.records.deeds import announce, deed
from fleet.records.models import Entry, Kind
from fleet.records.moments import refuse_future
from fleet.records.refusing import refusing
from fleet.records.versions import correct_version, identify, open_version
from fleet.register.models import Depot, Equipment, EquipmentVersion, Fitting
from fleet.register.particulars import particulars_table
from fleet.register.services.splitting import mend, refuse_strangers, split
from fleet.register.vocabulary import EquipmentKind, EquipmentState

ALTERABLE = frozenset(
    {"serial", "designation", "group", "bore_mm", "pressure_bar", "state"}
)


def add_equipment(
    *,
    by: User | None,
    kind: str,
    serial: str,
    made: Moment,
    since: Moment | None = None,
    store: Depot | None = None,
    designation: str = "",
    group: str = "",
    bore_mm: int | None = None,
    pressure_bar: Decimal | None = None,
    state: str = EquipmentState.SERVICEABLE,
    particulars: Mapping[str, Any] | None = None,
) -> Equipment:
    """
    Take an item into the register, and into a store if one is given.

    Without `since` what is held of it holds from its make date on. `particulars` go into
    the kind's own table. Raises ValidationError: `serial_taken`, `in_the_future`,
    `before_made`, `no_particulars`.
    """
    begun = since or made
    _refuse_dates(made, begun)
    with deed("register.add_equipment", by=by) as entry:
        equipment = identify(Equipment, entry=entry, kind=kind)
        open_version(
            EquipmentVersion,
            entry=entry,
            equipment=equipment,
            kind=kind,
            serial=_free_serial(serial, equipment, begun),
            since=begun,
            made_earliest=made.earliest,
            made_latest=made.latest,
            designation=designation,
            group=group,
            bore_mm=bore_mm,
            pressure_bar=pressure_bar,
            state=state,
        )
        _open_particulars(entry, equipment, begun, particulars)
        if store is not None:
            open_version(
                Fitting, entry=entry, equipment=equipment, store=store, since=begun
            )
        announce(equipment)
        return equipment


def alter_equipment(
    *,
    by: User | None,
    equipment: Equipment,
    since: Moment,
    particulars: Mapping[str, Any] | None = None,
    **changes: Any,
) -> EquipmentVersion:
    """
    Change what is held of an item from a moment on; what held before stays as it was.

    Raises ValidationError at `since`: `later_particulars`, `in_the_future`,
    `unknown_date`.
    """
    refuse_strangers(changes, ALTERABLE)
    with deed("register.alter_equipment", by=by, locking=(equipment,)) as entry:
        newest = newest_standing(equipment)
        if "serial" in changes:
            changes["serial"] = _free_serial(changes["serial"], equipment, since)
        altered = split(newest, since=since, entry=entry, **changes)
        _split_particulars(entry, equipment, since, particulars)
        announce(equipment)
        return altered


def correct_equipment(
    *,
    by: User | None,
    version: EquipmentVersion,
    reason: str,
    particulars: Mapping[str, Any] | None = None,
    **changes: Any,
) -> EquipmentVersion:
    """
    Put right what was written down wrongly of an item, also its make date (`made`).

    Raises ValidationError: `no_reason`, `already_superseded`, `serial_taken`.
    """
    refuse_strangers(changes, ALTERABLE | {"since", "made"})
    made = changes.pop("made", None)
    if made is not None:
        changes |= {"made_earliest": made.earliest, "made_latest": made.latest}
    refuse_future(made, "made")
    refuse_future(changes.get("since"), "since")
    item = version.equipment
    with deed("register.correct_equipment", by=by, locking=(item,)) as entry:
        if "serial" in changes:
            since = changes.get("since", version.since)
            changes["serial"] = _free_serial(
                changes["serial"], item, since, version.until
            )
        siblings = EquipmentVersion.objects.current().filter(equipment=item)
        corrected: EquipmentVersion = mend(
            version, siblings=siblings, entry=entry, reason=reason, **changes
        )
        _correct_particulars(entry, corrected, reason, particulars)
        announce(item)
        return corrected


def newest_standing(equipment: Equipment) -> EquipmentVersion:
    """Return what is held of an item that has not ended."""
    held = EquipmentVersion.objects.current().filter(equipment=equipment)
    found: EquipmentVersion = held.open_ended().get()
    return found


def _refuse_dates(made: Moment, since: Moment) -> None:
    refuse_future(made, "made")
    refuse_future(since, "since")
    if since.latest and made.earliest and since.latest < made.earliest:
        raise refusing(
            f"It was made in {made}; it cannot have been here on {since}.",
            code="before_made",
            field="since",
        )


def _free_serial(
    serial: str, equipment: Equipment, since: Moment, until: Moment | None = None
) -> str:
    serial = " ".join(serial.split())
    same = EquipmentVersion.objects.current().filter(
        kind=equipment.kind, serial__iexact=serial
    )
    taken = same.exclude(equipment=equipment).overlapping(since, until).first()
    if taken is not None:
        kind = EquipmentKind(equipment.kind).label.lower()
        raise refusing(
            f"Another {kind} bears the serial number {taken.serial}. Look it up, or mark "
            "this one so that the two can be told apart.",
            code="serial_taken",
            field="serial",
        )
    return serial


def _open_particulars(
    entry: Entry,
    equipment: Equipment,
    since: Moment,
    values: Mapping[str, Any] | None,
    **how: Any,
) -> None:
    if not values:
        return
    table = particulars_table(equipment.kind)
    if table is None:
        raise refusing(
            f"A {EquipmentKind(equipment.kind).label.lower()} has no particulars of its "
            "own here.",
            code="no_particulars",
            field="kind",
        )
    open_version(
        table, entry=entry, equipment=equipment, since=since, **dict(values), **how
    )


def _split_particulars(
    entry: Entry, equipment: Equipment, since: Moment, values: Mapping[str, Any] | None
) -> None:
    held = _held_particulars(equipment)
    if held is None:
        _open_particulars(entry, equipment, since, values)
    elif values:
        split(held, since=since, entry=entry, **dict(values))


def _correct_particulars(
    entry: Entry,
    version: EquipmentVersion,
    reason: str,
    values: Mapping[str, Any] | None,
) -> None:
    held = _held_particulars(version.equipment)
    if held is None:
        how = {"change": Kind.CORRECTED, "reason": reason}
        _open_particulars(entry, version.equipment, version.since, values, **how)
    elif values:
        correct_version(held, entry=entry, reason=reason, **dict(values))


def _held_particulars(equipment: Equipment) -> Any:
    table = particulars_table(equipment.kind)
    if table is None:
        return None
    held = table.objects.current().filter(equipment=equipment)
    return held.open_ended().first()
