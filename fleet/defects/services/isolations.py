"""Isolation records: made, completed, restored."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from decimal import Decimal
from typing import Any

from fleet.defects import steps
from fleet.defects.isolating import (
    LineValues,
    answered,
    lines_for,
    put_back,
    shortfalls,
    values_of,
)
from fleet.defects.models import Defect, Isolation, IsolationLine, IsolationVersion
from fleet.defects.vocabulary import Brake, Extent, IsolationLineKind
from fleet.engineering.calendar import Moment
from fleet.people.models import Person, User
from fleet.records.deeds import announce, deed
from fleet.records.models import Entry, Kind
from fleet.records.refusing import refusing
from fleet.records.versions import (
    continue_version,
    identify,
    open_version,
    retract_version,
    write_many,
)
from fleet.register.models import Vehicle
from fleet.register.vocabulary import CockPosition


def isolation_lines(vehicle: Vehicle, system: str, on: dt.date) -> list[LineValues]:
    """
    Return the lines an isolation of this vehicle asks on a day, unanswered.

    Each has `kind`, `position`, `label`, `normal`, `isolates`, and `found`, `left`,
    `done` to be answered. Raises ValidationError, code `no_brake_to_isolate`.
    """
    return lines_for(vehicle, Brake(system), Moment.on(on))


def record_isolation(
    *,
    by: User | None,
    person: Person,
    vehicle: Vehicle,
    system: str,
    since: Moment,
    why: str,
    lines: Sequence[Mapping[str, Any]],
    extent: str = Extent.WHOLE,
    label_number: str = "",
    label_where: str = "",
    secured: str = "",
    condition: str = "",
    braked_weight_t: Decimal | None = None,
    defect: Defect | None = None,
) -> IsolationVersion:
    """
    Record that a brake, or part of it, was taken out of use.

    `system` is a `Brake`: air, vacuum or the handbrake, of which `secured` says what holds
    the vehicle instead, and where.
    `lines` are answers to the lines of `isolation_lines`; what is left out is recorded as
    not answered, and the record as incomplete. `braked_weight_t` in tonnes is what the
    rest of the brake gives. Raises ValidationError: `no_brake_to_isolate`,
    `no_such_line`, `already_isolated`, `no_condition`, `secured_how`, `in_the_future`,
    `unknown_date`.
    """
    steps.refuse_undatable(since, "since")
    with deed("defects.record_isolation", by=by, locking=(vehicle, defect)) as entry:
        asked = lines_for(vehicle, Brake(system), since)
        given = answered(asked, lines)
        _refuse_secured_unsaid(given, secured)
        _refuse_second(vehicle, system, since)
        isolation = identify(Isolation, entry=entry, vehicle=vehicle, system=system)
        version = open_version(
            IsolationVersion,
            entry=entry,
            isolation=isolation,
            vehicle=vehicle,
            extent=extent,
            why=why.strip(),
            defect=defect,
            by=person,
            label_number=label_number,
            label_where=label_where.strip(),
            secured=secured.strip(),
            condition=condition,
            braked_weight_t=braked_weight_t,
            complete=not shortfalls(extent, given),
            since=since,
        )
        _write(version, given)
        announce(vehicle, defect, isolation)
        return version


def _refuse_secured_unsaid(given: Iterable[LineValues], secured: str) -> None:
    said = any(ln["kind"] == IsolationLineKind.SECURED and ln["done"] for ln in given)
    if said and not secured.strip():
        raise refusing(
            "Say by what the vehicle is secured, and where: a handbrake out of use holds "
            "nothing.",
            code="secured_how",
            field="secured",
        )


def _refuse_second(vehicle: Vehicle, system: str, since: Moment) -> None:
    held = IsolationVersion.objects.current().filter(
        vehicle=vehicle, isolation__system=system
    )
    other = held.overlapping(since, None).order_by("since_key").last()
    if other is not None:
        raise refusing(
            f"The {Brake(system).label.lower()} is already recorded as isolated "
            f"from {other.since}. Complete that record, or restore the brake first.",
            code="already_isolated",
            field="since",
        )


def complete_isolation(
    *,
    by: User | None,
    person: Person,
    version: IsolationVersion,
    at: Moment,
    lines: Sequence[Mapping[str, Any]],
    label_number: str = "",
    label_where: str = "",
    secured: str = "",
) -> IsolationVersion:
    """
    Go on with an isolation record from a moment on, with more lines answered.

    What was answered before stands unless answered again. Returns the version that holds
    from then; its `complete` follows from its lines. Raises ValidationError:
    `already_restored`, `before_the_last_step`, `time_needed`, `no_such_line`,
    `secured_how`.
    """
    steps.refuse_undatable(at, "at")
    with _deed_on("complete_isolation", by, version) as entry:
        _refuse_ended(version, at)
        before = _lines(version)
        given = answered(before, lines)
        held_by = secured.strip() or version.secured
        _refuse_secured_unsaid(given, held_by)
        _write(continue_version(version, entry=entry, until=at), before)
        further = open_version(
            IsolationVersion,
            entry=entry,
            change=Kind.CONTINUED,
            isolation=version.isolation,
            vehicle=version.vehicle,
            extent=version.extent,
            why=version.why,
            defect=version.defect,
            by=person,
            label_number=label_number or version.label_number,
            label_where=label_where.strip() or version.label_where,
            secured=held_by,
            condition=version.condition,
            braked_weight_t=version.braked_weight_t,
            complete=not shortfalls(version.extent, given),
            since=at,
        )
        _write(further, given)
        announce(version.vehicle, version.defect, version.isolation)
        return further


def restore_brake(
    *,
    by: User | None,
    person: Person,
    version: IsolationVersion,
    at: Moment,
    lines: Sequence[Mapping[str, Any]] | None = None,
) -> IsolationVersion:
    """
    Record that the brake is back in use: cocks in their normal position, label off.

    `lines` are answers to `restoring_lines`; None says that everything was put back.
    Raises ValidationError: `not_put_back`, `already_restored`, `before_the_last_step`,
    `time_needed`, `in_the_future`.
    """
    steps.refuse_undatable(at, "at")
    with _deed_on("restore_brake", by, version) as entry:
        _refuse_ended(version, at)
        before = _lines(version)
        back = put_back(before)
        if lines is not None:
            _refuse_not_back(back, lines)
        ended = continue_version(version, entry=entry, until=at, restored_by=person)
        _write(ended, [*before, *back])
        announce(version.vehicle, version.defect, version.isolation)
        return ended


def restoring_lines(version: IsolationVersion) -> list[LineValues]:
    """Return what has to be seen to before a brake is back in use."""
    return put_back(_lines(version))


def _refuse_not_back(
    back: Iterable[LineValues], given: Sequence[Mapping[str, Any]]
) -> None:
    answers = {(a.get("position", ""), a["label"]): a for a in given}
    for line in back:
        answer = answers.get((line["position"], line["label"]), {})
        if line["position"] and answer.get("left") != line["left"]:
            normal = CockPosition(line["left"]).label.lower()
            raise refusing(
                f"{line['label']}: its normal position is {normal}. Put it there, or "
                "leave the record as it is: the brake is not back in use.",
                code="not_put_back",
            )
        if not line["position"] and not answer.get("done"):
            raise refusing(
                f"{line['label']}: do this first; the brake is not back in use.",
                code="not_put_back",
            )


def retract_isolation(*, by: User | None, isolation: Isolation, reason: str) -> None:
    """Take back an isolation record that never was true; what was written stays shown."""
    with deed(
        "defects.retract_isolation", by=by, locking=(isolation.vehicle, isolation)
    ) as entry:
        held = list(IsolationVersion.objects.current().filter(isolation=isolation))
        if not held:
            raise refusing(
                "This record was taken back already.", code="already_superseded"
            )
        for version in held:
            lines = _lines(version)
            _write(retract_version(version, entry=entry, reason=reason), lines)
        announce(isolation.vehicle, isolation)


def _deed_on(
    name: str, by: User | None, version: IsolationVersion
) -> AbstractContextManager[Entry]:
    locking = (version.vehicle, version.isolation, version.defect)
    return deed(f"defects.{name}", by=by, locking=locking)


def _refuse_ended(version: IsolationVersion, at: Moment) -> None:
    if version.restored_by_id is not None:
        raise refusing(
            f"The brake was restored on {version.until}.", code="already_restored"
        )
    if version.until is not None:
        raise refusing(
            "This record has been superseded meanwhile. Open the newest version and "
            "start from there.",
            code="already_superseded",
        )
    steps.refuse_before(at, version.since, "at", "It was isolated")
    steps.refuse_no_time(at, version.since, "at")


def _lines(version: IsolationVersion) -> list[LineValues]:
    return [values_of(line) for line in version.lines.order_by("pk")]


def _write(version: IsolationVersion, lines: Iterable[LineValues]) -> None:
    list(write_many(IsolationLine(version=version, **line) for line in lines))
