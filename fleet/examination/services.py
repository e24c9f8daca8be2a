"""What people do with tests: define and revise procedures, record, correct, retract."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.examination.asking import asked_of
from fleet.examination.attached import keep_attached
from fleet.examination.judging import Outcome
from fleet.examination.lines import procedure_lines, refuse_unknown_keys
from fleet.examination.measuring import measured_with, used_in
from fleet.examination.models import (
    Instrument,
    Procedure,
    ProcedureRevision,
    Reading,
    Test,
    TestRecord,
)
from fleet.examination.readings import judged_readings
from fleet.examination.vocabulary import TestSubject
from fleet.people.competence import competent_on
from fleet.people.models import CompetenceVersion, Person, User
from fleet.records.clock import today
from fleet.records.deeds import announce, deed
from fleet.records.models import Entry
from fleet.records.moments import refuse_future, refuse_unknown
from fleet.records.refusing import refusing
from fleet.records.versions import (
    correct_version,
    identify,
    open_version,
    retract_version,
    write_many,
)
from fleet.register.models import Depot, Equipment, Vehicle
from fleet.register.vocabulary import EquipmentKind

CORRECTABLE = frozenset(
    {"on", "done_by", "place", "ambient_c", "instruments", "remarks"}
)


def define_procedure(
    *,
    by: User | None,
    code: str,
    title: str,
    subject: str,
    source: str,
    effective_from: dt.date,
    lines: Sequence[Mapping[str, Any]],
    kind: str = "",
    scopes: Iterable[str] = (),
    cautions: Iterable[str] = (),
    skill: str = "",
    drafted_by: Person | None = None,
    approved_by: Person | None = None,
) -> Procedure:
    """
    Bring in a procedure with its first lines, in the order they are walked.

    `lines` hold the fields of ProcedureLine; limits are in the line's own unit. May be
    effective in the past. Raises ValidationError keyed `lines` naming the line.
    """
    with deed("examination.define_procedure", by=by, policy=True) as entry:
        procedure = identify(Procedure, entry=entry, code=code)
        _open_revision(
            procedure,
            entry,
            number=1,
            lines=lines,
            title=title,
            subject=subject,
            kind=kind,
            scopes=list(scopes),
            cautions=list(cautions),
            skill=skill,
            effective_from=effective_from,
            source=source,
            drafted_by=drafted_by,
            approved_by=approved_by,
        )
        announce(procedure)
        return procedure


def revise_procedure(
    *,
    by: User | None,
    procedure: Procedure,
    title: str,
    source: str,
    effective_from: dt.date,
    lines: Sequence[Mapping[str, Any]],
    reason: str,
    scopes: Iterable[str] | None = None,
    cautions: Iterable[str] | None = None,
    skill: str | None = None,
    drafted_by: Person | None = None,
    approved_by: Person | None = None,
) -> ProcedureRevision:
    """
    Lay down the lines from a later day on; what it is carried out on stays.

    Takes effect no earlier than tomorrow (code `too_soon`) and after the revision
    before it; `reason` is required. `scopes`, `cautions` and `skill` stay unless given.
    """
    locking = (procedure,)
    with deed(
        "examination.revise_procedure", by=by, locking=locking, policy=True
    ) as entry:
        last: ProcedureRevision = procedure.revisions.current().latest("number")
        _refuse_revision(last, effective_from, reason)
        revision = _open_revision(
            procedure,
            entry,
            number=last.number + 1,
            lines=lines,
            title=title,
            subject=last.subject,
            kind=last.kind,
            scopes=last.scopes if scopes is None else list(scopes),
            cautions=last.cautions if cautions is None else list(cautions),
            skill=last.skill if skill is None else skill,
            effective_from=effective_from,
            source=source,
            reason=reason,
            drafted_by=drafted_by,
            approved_by=approved_by,
        )
        announce(procedure)
        return revision


def revision_in_force(procedure: Procedure, on: dt.date) -> ProcedureRevision:
    """
    Return the revision of a procedure in force on a day.

    Raises ValidationError, code `not_in_force`, if it was not brought in by then.
    """
    in_force = ProcedureRevision.objects.in_force(on).select_related("procedure")
    found: ProcedureRevision | None = in_force.filter(procedure=procedure).first()
    if found is None:
        raise refusing(
            f"The procedure {procedure.code} was not yet in force on that day.",
            code="not_in_force",
            field="on",
        )
    return found


def record_test(
    *,
    by: User | None,
    procedure: Procedure,
    vehicle: Vehicle | None = None,
    equipment: Equipment | None = None,
    on: Moment,
    done_by: Person,
    readings: Sequence[Mapping[str, Any]],
    place: Depot | None = None,
    ambient_c: Decimal | None = None,
    instrument: Instrument | None = None,
    instruments: str = "",
    remarks: str = "",
) -> TestRecord:
    """
    Record a test with its readings; the result is computed from them.

    `instrument` is what every value was measured with whose row names no `instrument`
    of its own; `instruments` what is not in the register. Whoever did it is recorded
    with the competence held that day; lacking it does not hinder the record.

    Judged by the revision in force on the day (for an imprecise date, on its last day).
    Each reading holds `line` (or its order), `position` of a repeated line, `value`,
    `unit`, `answer`, `choice`, `note`, and a `trace` (traces.ReadTrace) or `thicknesses`
    (point, mm, uncertainty in mm). A line left out counts as unanswered. Errors of a
    line are keyed `line_<order>`, of a repeated one `line_<order>__<position>`.
    """
    locking = (vehicle, equipment, *used_in(readings, instrument))
    with deed("examination.record_test", by=by, locking=locking) as entry:
        revision = _revision_for(procedure, on)
        _refuse_subject(revision, vehicle, equipment)
        asked = asked_of(revision, vehicle, on)
        rows, result = judged_readings(revision, asked, readings)
        record: TestRecord = open_version(
            TestRecord,
            entry=entry,
            test=identify(Test, entry=entry),
            procedure_revision=revision,
            vehicle=vehicle,
            equipment=equipment,
            on=on,
            done_by=done_by,
            competence=_competence(done_by, revision, on),
            place=place,
            ambient_c=ambient_c,
            instruments=instruments,
            remarks=remarks,
            **_computed(result),
        )
        _keep(measured_with(instrument, rows), record)
        keep_attached(readings, record)
        announce(vehicle, equipment)
        return record


def correct_test(
    *,
    by: User | None,
    record: TestRecord,
    reason: str,
    readings: Sequence[Mapping[str, Any]],
    instrument: Instrument | None = None,
    **changes: Any,
) -> TestRecord:
    """
    Put a test record right: all its readings anew, and what else was written wrongly.

    `instrument` and the readings' own are cited anew, as in `record_test`. `changes` may hold on, done_by, place, ambient_c, instruments, remarks. The record
    corrected stays to be seen. A test put down for the wrong vehicle is retracted.
    Raises ValidationError, code `already_superseded`, unless `record` is the newest.
    """
    strangers = set(changes) - CORRECTABLE
    if strangers:
        raise TypeError(f"not to be corrected: {', '.join(sorted(strangers))}")
    used = used_in(readings, instrument)
    locking = (record.vehicle, record.equipment, record.test, *used)
    with deed("examination.correct_test", by=by, locking=locking) as entry:
        on = changes.get("on", record.on)
        revision = _revision_for(record.procedure_revision.procedure, on)
        asked = asked_of(revision, record.vehicle, on)
        rows, result = judged_readings(revision, asked, readings)
        corrected = correct_version(
            record,
            entry=entry,
            reason=reason,
            procedure_revision=revision,
            competence=_competence(
                changes.get("done_by", record.done_by), revision, on
            ),
            **changes,
            **_computed(result),
        )
        _keep(measured_with(instrument, rows), corrected)
        keep_attached(readings, corrected)
        announce(record.vehicle, record.equipment)
        return corrected


def retract_test(*, by: User | None, record: TestRecord, reason: str) -> TestRecord:
    """
    Say that a test record should never have been made; it stays to be seen, crossed out.

    Raises ValidationError, code `already_superseded`, unless `record` is the newest.
    """
    locking = (record.vehicle, record.equipment, record.test)
    with deed("examination.retract_test", by=by, locking=locking) as entry:
        retracted = retract_version(record, entry=entry, reason=reason)
        announce(record.vehicle, record.equipment)
        return retracted


def _open_revision(
    procedure: Procedure,
    entry: Entry,
    *,
    number: int,
    lines: Sequence[Mapping[str, Any]],
    **values: Any,
) -> ProcedureRevision:
    refuse_unknown_keys(values["scopes"], values["cautions"])
    drafts = procedure_lines(lines, values["subject"])
    revision: ProcedureRevision = open_version(
        ProcedureRevision, entry=entry, procedure=procedure, number=number, **values
    )
    for draft in drafts:
        draft.revision = revision
    list(write_many(drafts))
    return revision


def _refuse_revision(
    last: ProcedureRevision, effective_from: dt.date, reason: str
) -> None:
    if effective_from <= today():
        raise refusing(
            "A revision takes effect tomorrow or later, so that nobody tested by the "
            "old lines is judged by the new.",
            code="too_soon",
            field="effective_from",
        )
    if effective_from <= last.effective_from:
        raise refusing(
            f"Revision {last.number} takes effect on {last.effective_from:%d %b %Y}; "
            "this one must come after it.",
            code="before_the_last",
            field="effective_from",
        )
    if not reason.strip():
        raise refusing("Say why, in a few words.", code="no_reason", field="reason")


def _revision_for(procedure: Procedure, on: Moment) -> ProcedureRevision:
    refuse_unknown(on, "on")
    refuse_future(on, "on")
    assert on.latest is not None
    return revision_in_force(procedure, on.latest)


def _refuse_subject(
    revision: ProcedureRevision, vehicle: Vehicle | None, equipment: Equipment | None
) -> None:
    on_vehicle = revision.subject == TestSubject.VEHICLE
    if (vehicle is None) == (equipment is None):
        raise refusing("Name a vehicle or an item, not both.", code="one_subject")
    if on_vehicle != (vehicle is not None):
        what = "a vehicle" if on_vehicle else "an item of equipment"
        raise refusing(
            f"“{revision.title}” is carried out on {what}. Choose another procedure.",
            code="wrong_subject",
            field="procedure",
        )
    if equipment is not None and revision.kind not in {"", equipment.kind}:
        kind = EquipmentKind(revision.kind).label.lower()
        raise refusing(
            f"“{revision.title}” is for items of the kind {kind}. Choose another "
            "procedure.",
            code="wrong_kind",
            field="procedure",
        )


def _competence(
    person: Person, revision: ProcedureRevision, on: Moment
) -> CompetenceVersion | None:
    return competent_on(person, revision.skill, on) if revision.skill else None


def _computed(result: Outcome) -> dict[str, Any]:
    return {
        "passed": result.passed,
        "unanswered": result.unanswered,
        "failed": result.failed,
    }


def _keep(rows: Sequence[Reading], record: TestRecord) -> None:
    for row in rows:
        row.record = record
        row.full_clean(
            exclude=["record", "line"],
            validate_unique=False,
            validate_constraints=False,
        )
    list(write_many(rows))
