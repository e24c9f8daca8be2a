"""Fitting, taking off and exchanging equipment, and putting such records right."""

from typing import Any

from fleet.engineering.calendar import Moment
from fleet.people.models import User
from fleet.records.deeds import announce, deed, lock
from fleet.records.models import Entry
from fleet.records.moments import refuse_future, refuse_unknown
from fleet.records.refusing import refusing
from fleet.records.versions import (
    continue_version,
    correct_version,
    open_version,
    retract_version,
)
from fleet.register.models import (
    Depot,
    Equipment,
    Fitting,
    Vehicle,
)
from fleet.register.positions import position_at
from fleet.register.services.equipment import newest_standing
from fleet.register.services.objections import (
    refuse_elsewhere,
    refuse_open_end,
    refuse_order,
    refuse_same,
    refuse_taken,
    refuse_unmade,
    refuse_wrong_kind,
)
from fleet.register.services.splitting import refuse_strangers, split
from fleet.register.services.whereabouts import (
    enter_store,
    leave_stores,
    stored_after,
    stored_before,
)
from fleet.register.vocabulary import EquipmentState

CORRECTABLE = frozenset({"since", "until", "position", "remark"})


def fit(
    *,
    by: User | None,
    equipment: Equipment,
    vehicle: Vehicle,
    position: str,
    since: Moment,
    until: Moment | None = None,
    remark: str = "",
    allow_wrong_kind: bool = False,
) -> Fitting:
    """
    Fit an item to a position of a vehicle; it leaves its store at that moment.

    With `until` a past fitting is recorded, and the item is back in its store after it.
    Raises ValidationError: `no_such_position`, `wrong_kind`, `item_elsewhere`,
    `position_taken`, `removed_before_fitted`, `before_made`, `in_the_future`.
    """
    refuse_future(since, "since")
    refuse_future(until, "until")
    with deed("register.fit", by=by, locking=(equipment, vehicle)) as entry:
        place = position_at(vehicle, position, since)
        if not allow_wrong_kind:
            refuse_wrong_kind(equipment, place)
        fitting = _put(entry, equipment, vehicle, position, since, until, remark)
        announce(vehicle, equipment)
        return fitting


def take_off(
    *,
    by: User | None,
    fitting: Fitting,
    at: Moment,
    to: Depot,
    state: str = EquipmentState.SERVICEABLE,
    remark: str = "",
) -> Fitting:
    """
    Take an item off a vehicle into a store, and say in what state it came off.

    Raises ValidationError: `removed_before_fitted`, `already_taken_off`,
    `already_superseded`, `in_the_future`, `unknown_date`.
    """
    locking = (fitting.equipment, fitting.vehicle)
    with deed("register.take_off", by=by, locking=locking) as entry:
        ended = _remove(entry, fitting, at, to, state, remark)
        announce(fitting.vehicle, fitting.equipment)
        return ended


def exchange(
    *,
    by: User | None,
    vehicle: Vehicle,
    position: str,
    equipment: Equipment,
    at: Moment,
    to: Depot,
    state: str = EquipmentState.UNSERVICEABLE,
    remark: str = "",
    allow_wrong_kind: bool = False,
) -> Fitting:
    """
    Take off what is fitted at a position and fit another item, in one step.

    `to` and `state` are of the item that comes off. Returns the new fitting. Raises
    ValidationError: `nothing_fitted`, and as `take_off` and `fit`.
    """
    off = fitted_now(vehicle, position)
    locking = (equipment, vehicle, off.equipment if off else None)
    with deed("register.exchange", by=by, locking=locking) as entry:
        held = fitted_now(vehicle, position)
        if held is None:
            raise refusing(
                "Nothing is fitted at this position. Fit the item instead.",
                code="nothing_fitted",
                field="position",
            )
        lock(held.equipment)
        refuse_same(held, equipment)
        place = position_at(vehicle, position, at)
        if not allow_wrong_kind:
            refuse_wrong_kind(equipment, place)
        _remove(entry, held, at, to, state, remark="")
        fitting = _put(entry, equipment, vehicle, position, at, None, remark)
        announce(vehicle, equipment, held.equipment)
        return fitting


def correct_fitting(
    *, by: User | None, fitting: Fitting, reason: str, **changes: Any
) -> Fitting:
    """
    Put right when or where an item was fitted; its time in store closes up to it.

    For a wrong item retract the fitting and record the right one. Raises
    ValidationError: `no_reason`, `already_superseded`, `item_elsewhere`,
    `position_taken`, `removed_before_fitted`, `no_such_position`, `in_the_future`.
    """
    refuse_strangers(changes, CORRECTABLE)
    since = changes.get("since", fitting.since)
    until = changes.get("until", fitting.until)
    refuse_order(since, until)
    refuse_open_end(fitting, until)
    locking = (fitting.equipment, fitting.vehicle)
    with deed("register.correct_fitting", by=by, locking=locking) as entry:
        if fitting.vehicle is not None and changes.keys() & {"position", "since"}:
            place = changes.get("position", fitting.position)
            position_at(fitting.vehicle, place, since)
        corrected = _move(entry, fitting, reason, since, until, changes)
        announce(fitting.vehicle, fitting.equipment)
        return corrected


def retract_fitting(*, by: User | None, fitting: Fitting, reason: str) -> Fitting:
    """
    Record that an item was never fitted there; it was in its store all the time.

    Raises ValidationError: `no_reason`, `already_superseded`.
    """
    locking = (fitting.equipment, fitting.vehicle)
    with deed("register.retract_fitting", by=by, locking=locking) as entry:
        retracted = retract_version(fitting, entry=entry, reason=reason)
        before, after = stored_before(fitting), stored_after(fitting)
        if before is not None and (fitting.until is None or after is not None):
            correct_version(before, entry=entry, reason=reason, until=fitting.until)
        announce(fitting.vehicle, fitting.equipment)
        return retracted


def fitted_now(vehicle: Vehicle, position: str) -> Fitting | None:
    """Return what is recorded at a position with no end; None if nothing is."""
    held = Fitting.objects.current().filter(vehicle=vehicle, position=position)
    found: Fitting | None = (
        held.open_ended().select_related("equipment", "vehicle").first()
    )
    return found


def _put(
    entry: Entry,
    equipment: Equipment,
    vehicle: Vehicle,
    position: str,
    since: Moment,
    until: Moment | None,
    remark: str,
) -> Fitting:
    refuse_order(since, until)
    refuse_unmade(equipment, since)
    refuse_elsewhere(equipment, since, until)
    refuse_taken(vehicle, position, since, until)
    leave_stores(equipment, since=since, until=until, entry=entry)
    return open_version(
        Fitting,
        entry=entry,
        equipment=equipment,
        vehicle=vehicle,
        position=position,
        since=since,
        until=until,
        remark=remark,
    )


def _remove(
    entry: Entry, fitting: Fitting, at: Moment, to: Depot, state: str, remark: str
) -> Fitting:
    refuse_unknown(at, "at")
    refuse_future(at, "at")
    if fitting.vehicle_id is None or fitting.until_key is not None:
        raise refusing(
            f"It came off on {fitting.until} already."
            if fitting.until
            else "It is in a store, not on a vehicle.",
            code="already_taken_off",
            field="at",
        )
    if (at.key or 0) < fitting.since_key:
        raise refusing(
            f"It was fitted on {fitting.since}; it cannot come off before.",
            code="removed_before_fitted",
            field="at",
        )
    changes = {"remark": remark} if remark else {}
    ended = continue_version(fitting, entry=entry, until=at, **changes)
    enter_store(fitting.equipment, store=to, since=at, entry=entry)
    standing = newest_standing(fitting.equipment)
    if standing.state != state:
        split(standing, since=at, entry=entry, state=state)
    return ended


def _move(
    entry: Entry,
    fitting: Fitting,
    reason: str,
    since: Moment,
    until: Moment | None,
    changes: dict[str, Any],
) -> Fitting:
    """Correct a fitting between its store records: those that shrink go first."""
    before, after = stored_before(fitting), stored_after(fitting)
    first = (since.key or 0) < fitting.since_key
    last = until is not None and (until.key or 0) > (fitting.until_key or 0)

    def follow(*, shrinking: bool) -> None:
        if before is not None and first is shrinking and "since" in changes:
            correct_version(before, entry=entry, reason=reason, until=since)
        if after is not None and last is shrinking and "until" in changes:
            correct_version(after, entry=entry, reason=reason, since=until)

    follow(shrinking=True)
    corrected = correct_version(fitting, entry=entry, reason=reason, **changes)
    follow(shrinking=False)
    return corrected
