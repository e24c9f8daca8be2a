"""What people do with fleet notices: issue, sign an item off, close; and how far it got."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from fleet.examination.models import Procedure, TestRecord
from fleet.people.models import Person, User
from fleet.records.clock import today
from fleet.records.deeds import announce, deed
from fleet.records.refusing import refusing
from fleet.records.versions import continue_version, identify, open_version, write_many
from fleet.register.models import Equipment, EquipmentVersion
from fleet.upkeep.models import (
    FleetNotice,
    FleetNoticeVersion,
    NoticeDone,
    NoticeItem,
)


@dataclass(frozen=True, slots=True)
class ItemProgress:
    """An item of a notice, and when it was dealt with; None: not yet."""

    equipment: int
    serial: str
    done_on: dt.date | None
    how: str  # by whom, or by which test


def items_meant(kind: str, designation: str, serials: Iterable[str]) -> list[int]:
    """
    Return the items of a kind that a notice means.

    A designation narrows the kind, serial numbers narrow it further; an item of no known
    designation may be the one that is meant, so it is taken in.
    """
    rows = EquipmentVersion.objects.current().filter(kind=kind).order_by("since_key")
    named = {" ".join(s.casefold().split()) for s in serials if s.strip()}
    newest = {row.equipment_id: row for row in rows}
    return [
        key
        for key, row in newest.items()
        if (not designation or row.designation in {"", designation})
        and (not named or " ".join(row.serial.casefold().split()) in named)
    ]


def issue_notice(
    *,
    by: User | None,
    code: str,
    title: str,
    source: str,
    action: str,
    kind: str,
    scope: str,
    effect: str,
    effective_from: dt.date,
    designation: str = "",
    serials: Iterable[str] = (),
    procedure: Procedure | None = None,
) -> FleetNotice:
    """
    Issue a notice about every item it means today; the items are kept with it.

    Raises ValidationError: `code_taken`, `no_items`, `before_it_was_issued`.
    """
    with deed("upkeep.issue_notice", by=by) as entry:
        if FleetNotice.objects.filter(code__iexact=code).exists():
            raise refusing(
                f"A notice {code} is there already.", code="code_taken", field="code"
            )
        keys = items_meant(kind, designation, serials)
        if not keys:
            raise refusing(
                "No item answers to this. Look at kind, designation and numbers.",
                code="no_items",
                field="kind",
            )
        notice = identify(FleetNotice, entry=entry, code=code)
        open_version(
            FleetNoticeVersion,
            entry=entry,
            notice=notice,
            title=title.strip(),
            source=source.strip(),
            action=action.strip(),
            procedure=procedure,
            scope=scope,
            effect=effect,
            issued_on=today(),
            effective_from=effective_from,
        )
        list(write_many(NoticeItem(notice=notice, equipment_id=key) for key in keys))
        announce(*Equipment.objects.filter(pk__in=keys))
        return notice


def sign_item_off(
    *,
    by: User | None,
    person: Person,
    notice: FleetNotice,
    equipment: Equipment,
    on: dt.date,
    note: str,
) -> NoticeDone:
    """
    Record that an item was dealt with.

    Raises ValidationError: `no_note`, `not_in_it`, `in_the_future`, `before_it_was_issued`,
    `already_done`.
    """
    if not note.strip():
        raise refusing("Say what was done.", code="no_note", field="note")
    if on > today():
        raise refusing("That day has not been yet.", code="in_the_future", field="on")
    with deed("upkeep.sign_item_off", by=by, locking=(equipment,)) as entry:
        held = standing(notice)
        if not notice.items.filter(equipment=equipment).exists():
            raise refusing("The notice is not about this item.", code="not_in_it")
        if on < held.issued_on:
            raise refusing(
                f"The notice was issued on {held.issued_on}; before that nobody knew of "
                "it.",
                code="before_it_was_issued",
                field="on",
            )
        if (
            NoticeDone.objects.current()
            .filter(notice=notice, equipment=equipment)
            .exists()
        ):
            raise refusing("This item was signed off already.", code="already_done")
        done: NoticeDone = open_version(
            NoticeDone,
            entry=entry,
            notice=notice,
            equipment=equipment,
            on=on,
            by=person,
            note=note.strip(),
        )
        announce(equipment)
        return done


def close_notice(
    *, by: User | None, notice: FleetNotice, on: dt.date, reason: str
) -> FleetNoticeVersion:
    """
    Close a notice: from that day on it bears on nothing.

    Raises ValidationError: `no_reason`, `closed_already`.
    """
    if not reason.strip():
        raise refusing("Say why.", code="no_reason", field="reason")
    with deed("upkeep.close_notice", by=by) as entry:
        held = standing(notice)
        if held.closed_on is not None:
            raise refusing(f"It was closed on {held.closed_on}.", code="closed_already")
        announce(*Equipment.objects.filter(fleet_notices__notice=notice))
        closed: FleetNoticeVersion = continue_version(
            held, entry=entry, reason=reason.strip(), closed_on=on
        )
        return closed


def standing(notice: FleetNotice) -> FleetNoticeVersion:
    """Return what a notice says now."""
    found: FleetNoticeVersion = (
        FleetNoticeVersion.objects.current()
        .select_related("procedure", "notice")
        .get(notice=notice)
    )
    return found


def progress(held: FleetNoticeVersion) -> list[ItemProgress]:
    """Return every item of a notice and when it was dealt with; four queries."""
    keys = list(
        NoticeItem.objects.filter(notice=held.notice_id).values_list(
            "equipment", flat=True
        )
    )
    versions = EquipmentVersion.objects.current().filter(equipment__in=keys)
    serials = dict(versions.order_by("since_key").values_list("equipment", "serial"))
    found: dict[int, tuple[dt.date, str]] = {}
    if held.procedure_id is not None:
        tests = TestRecord.objects.current().filter(
            equipment__in=keys,
            procedure_revision__procedure=held.procedure_id,
            passed=True,
            on_earliest__gte=held.issued_on,
        )
        for record in tests.select_related("done_by").order_by("-on_latest"):
            assert record.on.latest is not None
            found[record.equipment_id] = record.on.latest, f"test, {record.done_by}"
    done = NoticeDone.objects.current().filter(notice=held.notice_id)
    for row in done.select_related("by"):
        earlier = found.get(row.equipment_id)
        if earlier is None or row.on < earlier[0]:
            found[row.equipment_id] = row.on, f"{row.note}, {row.by}"
    return sorted(
        (
            ItemProgress(key, serials.get(key, ""), *found.get(key, (None, "")))
            for key in keys
        ),
        key=lambda one: (one.done_on is not None, one.serial),
    )
