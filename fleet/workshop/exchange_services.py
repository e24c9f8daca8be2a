"""Describing groups of exchange units, sending units away, taking them in again."""

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.people.models import User
from fleet.records.deeds import deed
from fleet.records.moments import refuse_future
from fleet.records.refusing import refusing
from fleet.records.versions import (
    continue_version,
    correct_version,
    identify,
    open_version,
    retract_version,
    write_many,
)
from fleet.register.models import Equipment, EquipmentVersion
from fleet.register.services.equipment import (
    alter_equipment,
    correct_equipment,
    newest_standing,
)
from fleet.register.vocabulary import EquipmentState
from fleet.workshop.exchange import items_away, place_now
from fleet.workshop.models import (
    Consignment,
    ConsignmentItem,
    ConsignmentVersion,
    Contractor,
    ExchangeGroup,
    ExchangeGroupVersion,
    UnitReturn,
)


def describe_group(*, by: User | None, code: str, **facts: Any) -> ExchangeGroupVersion:
    """
    Say what the units of a group are called, who overhauls them, how many to keep.

    Said anew it replaces what was said before. Raises ValidationError `no_such_group`
    where neither item nor earlier description knows the code.
    """
    group = ExchangeGroup.objects.filter(code=code).first()
    if group is None and not EquipmentVersion.objects.filter(group=code).exists():
        raise refusing(f"No item bears the group {code}.", code="no_such_group")
    with deed("workshop.describe_group", by=by, locking=(group,)) as entry:
        if group is None:
            group = identify(ExchangeGroup, entry=entry, code=code)
        held: ExchangeGroupVersion | None = (
            ExchangeGroupVersion.objects.current().filter(group=group).first()
        )
        if held is not None:
            return continue_version(held, entry=entry, **facts)
        said: ExchangeGroupVersion = open_version(
            ExchangeGroupVersion, entry=entry, group=group, **facts
        )
        return said


def retract_group(
    *, by: User | None, version: ExchangeGroupVersion, reason: str
) -> ExchangeGroupVersion:
    """
    Take the description of a group back: its units are then not planned with.

    Raises ValidationError: `no_reason`, `already_superseded`.
    """
    with deed("workshop.retract_group", by=by, locking=(version.group,)) as entry:
        return retract_version(version, entry=entry, reason=reason)


def send_away(
    *,
    by: User | None,
    group: ExchangeGroup,
    items: Sequence[Equipment],
    sent_on: dt.date,
    expected_on: dt.date,
    contractor: Contractor | None = None,
    reference: str = "",
) -> ConsignmentVersion:
    """
    Send units of one group to a contractor, or to the own bench where none is named.

    The register then has them at the contractor, or as unserviceable. Raises
    ValidationError at `items`: `no_items`, `other_group`, `not_in_stores`,
    `away_already`, `scrapped`; and `in_the_future`, `before_it_was_sent`,
    `later_particulars`.
    """
    refuse_future(Moment.on(sent_on), "sent_on")
    if not items:
        raise refusing("Say which units.", code="no_items", field="items")
    with deed("workshop.send_away", by=by, locking=(group, *items)) as entry:
        for item in items:
            _refuse_unsendable(item, group)
        consignment = identify(Consignment, entry=entry, group=group)
        version = open_version(
            ConsignmentVersion,
            entry=entry,
            consignment=consignment,
            contractor=contractor,
            reference=reference,
            sent_on=sent_on,
            expected_on=expected_on,
        )
        sent = [ConsignmentItem(consignment=consignment, equipment=i) for i in items]
        list(write_many(sent))
        for item in items:
            _stand(item, sent_on, away_state(contractor), by)
        return version


def expect_on(
    *, by: User | None, version: ConsignmentVersion, day: dt.date
) -> ConsignmentVersion:
    """
    Record that units are expected on another day than was said.

    Raises ValidationError: `already_superseded`, `before_it_was_sent`.
    """
    with deed("workshop.expect_on", by=by, locking=(version.consignment,)) as entry:
        return continue_version(version, entry=entry, expected_on=day)


def take_in(
    *,
    by: User | None,
    items: Sequence[ConsignmentItem],
    on: dt.date,
    state: str = EquipmentState.SERVICEABLE,
) -> list[UnitReturn]:
    """
    Record that units are back, and in what state; the rest stays away.

    Raises ValidationError: `no_items`, `not_away`, `before_it_was_sent`,
    `in_the_future`, `later_particulars`.
    """
    refuse_future(Moment.on(on), "on")
    if not items:
        raise refusing("Say which units.", code="no_items", field="items")
    equipment = [item.equipment for item in items]
    with deed("workshop.take_in", by=by, locking=tuple(equipment)) as entry:
        for item in items:
            _refuse_not_away(item)
            _refuse_before(item.consignment, on)
        back = [
            open_version(
                UnitReturn, entry=entry, item=item, returned_on=on, state=state
            )
            for item in items
        ]
        for unit in equipment:
            _stand(unit, on, state, by)
        return back


def correct_consignment(
    *, by: User | None, version: ConsignmentVersion, reason: str, **changes: Any
) -> ConsignmentVersion:
    """
    Put right where or when units were sent; what the register has of them goes along.

    Raises ValidationError: `no_reason`, `already_superseded`, `before_it_was_sent`,
    `back_before`.
    """
    consignment = version.consignment
    with deed("workshop.correct_consignment", by=by, locking=(consignment,)) as entry:
        row = correct_version(version, entry=entry, reason=reason, **changes)
        _refuse_back_before(row)
        for item in consignment.items.select_related("equipment"):
            standing = _standing_from(item.equipment, version.sent_on)
            if standing is not None and standing.state == away_state(
                version.contractor
            ):
                state = away_state(row.contractor)
                _mend(standing, by, reason, since=row.sent_on, state=state)
        return row


def retract_consignment(
    *, by: User | None, version: ConsignmentVersion, reason: str
) -> ConsignmentVersion:
    """
    Record that units were never sent; the register has them as before.

    Raises ValidationError: `no_reason`, `already_superseded`, `units_back`.
    """
    consignment = version.consignment
    with deed("workshop.retract_consignment", by=by, locking=(consignment,)) as entry:
        back = UnitReturn.objects.current().filter(item__consignment=consignment)
        if back.exists():
            raise refusing(
                "Some of it is recorded as back. Retract that first.",
                code="units_back",
            )
        row = retract_version(version, entry=entry, reason=reason)
        for item in consignment.items.select_related("equipment"):
            _undo(item.equipment, row.sent_on, away_state(row.contractor), by, reason)
        return row


def correct_return(
    *, by: User | None, version: UnitReturn, reason: str, **changes: Any
) -> UnitReturn:
    """
    Put right when or how a unit came back; what the register has of it goes along.

    Raises ValidationError: `no_reason`, `already_superseded`, `before_it_was_sent`.
    """
    equipment = version.item.equipment
    with deed("workshop.correct_return", by=by, locking=(equipment,)) as entry:
        row = correct_version(version, entry=entry, reason=reason, **changes)
        refuse_future(Moment.on(row.returned_on), "returned_on")
        _refuse_before(row.item.consignment, row.returned_on)
        standing = _standing_from(equipment, version.returned_on)
        if standing is not None and standing.state == version.state:
            _mend(standing, by, reason, since=row.returned_on, state=row.state)
        return row


def retract_return(*, by: User | None, version: UnitReturn, reason: str) -> UnitReturn:
    """
    Record that a unit is not back; the register has it as away again.

    Raises ValidationError: `no_reason`, `already_superseded`.
    """
    equipment = version.item.equipment
    with deed("workshop.retract_return", by=by, locking=(equipment,)) as entry:
        row = retract_version(version, entry=entry, reason=reason)
        _undo(equipment, row.returned_on, row.state, by, reason)
        return row


def away_state(contractor: Contractor | None) -> str:
    """Return what the register has of a unit that is away."""
    if contractor is None:
        return EquipmentState.UNSERVICEABLE
    return EquipmentState.AT_CONTRACTOR


def _refuse_unsendable(item: Equipment, group: ExchangeGroup) -> None:
    held, place = newest_standing(item), place_now(item)
    if held.group != group.code:
        code, words = "other_group", f"{held.serial} is not of the group {group.code}."
    elif held.state == EquipmentState.SCRAPPED:
        code, words = "scrapped", f"{held.serial} is scrapped."
    elif items_away().filter(equipment=item).exists():
        code, words = "away_already", f"{held.serial} is away already."
    elif place is None or place.store_id is None:
        code, words = "not_in_stores", f"{held.serial} is not in a store."
    else:
        return
    raise refusing(words, code=code, field="items")


def _refuse_not_away(item: ConsignmentItem) -> None:
    if not items_away().filter(pk=item.pk).exists():
        raise refusing(
            "One of these is not away any more.", code="not_away", field="items"
        )


def _refuse_before(consignment: Consignment, on: dt.date) -> None:
    sent = consignment.versions.current().filter(sent_on__gt=on).first()
    if sent is not None:
        raise refusing(
            f"They were sent on {Moment.on(sent.sent_on)}.",
            code="before_it_was_sent",
            field="on",
        )


def _refuse_back_before(version: ConsignmentVersion) -> None:
    refuse_future(Moment.on(version.sent_on), "sent_on")
    back: Iterable[UnitReturn] = UnitReturn.objects.current().filter(
        item__consignment=version.consignment, returned_on__lt=version.sent_on
    )
    for row in back:
        raise refusing(
            f"One of them was back on {Moment.on(row.returned_on)}.",
            code="back_before",
            field="sent_on",
        )


def _stand(item: Equipment, day: dt.date, state: str, by: User | None) -> None:
    """Have the register say a state from a day on; after what else it has of that day."""
    held = newest_standing(item)
    if held.state == state:
        return
    same_day = held.since.earliest == held.since.latest == day
    since = held.since if same_day else Moment.on(day)
    alter_equipment(by=by, equipment=item, since=since, state=state)


def _standing_from(item: Equipment, day: dt.date) -> EquipmentVersion | None:
    rows = EquipmentVersion.objects.current().filter(
        equipment=item, since_earliest=day, since_latest=day
    )
    found: EquipmentVersion | None = rows.order_by("pk").last()
    return found


def _mend(
    standing: EquipmentVersion,
    by: User | None,
    reason: str,
    *,
    since: dt.date,
    state: str,
) -> None:
    changes: dict[str, Any] = {}
    if since != standing.since.earliest:
        changes["since"] = Moment.on(since)
    if state != standing.state:
        changes["state"] = state
    if changes:
        correct_equipment(by=by, version=standing, reason=reason, **changes)


def _undo(
    item: Equipment, day: dt.date, state: str, by: User | None, reason: str
) -> None:
    """Have the register say the state from before, for as long as it said this one."""
    standing = _standing_from(item, day)
    if standing is None:
        return
    held = EquipmentVersion.objects.current().filter(equipment=item)
    earlier = held.filter(until_key=standing.since_key).exclude(pk=standing.pk)
    before = earlier.order_by("pk").last()
    later = held.filter(since_key__gte=standing.since_key).order_by("since_key", "pk")
    if before is None:
        return
    for row in later.exclude(pk=before.pk):
        if row.state != state:
            return
        correct_equipment(by=by, version=row, reason=reason, state=before.state)
