"""What a test certificate says, decided from the record of a test as it was loaded."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.timezone import localtime

from fleet.engineering.walls import RequiredWall
from fleet.examination.asking import Places
from fleet.examination.models import (
    Calibration,
    CounterSignature,
    InstrumentVersion,
    TestRecord,
)
from fleet.examination.vocabulary import Result
from fleet.people.competence import last_day_of
from fleet.people.models import CompetenceVersion, Skill
from fleet.records.models import Entry, Kind
from fleet.reports.answers import Answered, answered, compared
from fleet.reports.instrument_part import InstrumentLine, instrument_lines
from fleet.reports.sheet import Head, Printed, Said, caution
from fleet.reports.subject import Subject
from fleet.reports.survey_part import SurveyPart, survey_parts
from fleet.reports.trace_part import TracePart, trace_part
from fleet.ui.cautions import caution as standing_caution
from fleet.upkeep.due import written
from fleet.upkeep.wear import Wear

TITLE = "Test certificate"
NOT_STATED = "Not stated"


@dataclass(frozen=True, slots=True)
class Loaded:
    """All a certificate is decided from: records newest first, with what they hold."""

    records: Sequence[TestRecord]
    subject: Subject
    places: Places | None = None
    instruments: Sequence[InstrumentVersion] = ()  # every version, oldest first
    calibrations: Sequence[Calibration] = ()
    counter_signatures: Sequence[CounterSignature] = ()
    wears: Sequence[Wear] = ()  # of what the test measured, up to its day
    lacking: str = ""  # the competence that was lacking, in words; "" where none was
    required: RequiredWall | None = None  # of the vessel; None: no ratings are held


@dataclass(frozen=True, slots=True)
class Superseded:
    """An earlier version of the record: it stands, but it does not count."""

    title: str
    facts: str
    rows: tuple[Answered, ...]
    traces: tuple[TracePart, ...]
    surveys: tuple[SurveyPart, ...]


@dataclass(frozen=True, slots=True)
class CertificateSheet:
    """Everything a certificate says, in order."""

    head: Head
    particulars: tuple[tuple[str, str], ...]
    retracted: str  # why the test counts no more; "" where it counts
    corrected: str  # why there was a correction; "" where there was none
    result: Said
    signing: tuple[Said, ...]
    instruments: tuple[InstrumentLine, ...]
    rows: tuple[Answered, ...]
    traces: tuple[TracePart, ...]
    surveys: tuple[SurveyPart, ...]
    wears: tuple[Wear, ...]
    remarks: str
    superseded: tuple[Superseded, ...]
    cautions: tuple[str, ...]
    done_by: str
    to_counter_sign: bool


def certificate_sheet(loaded: Loaded, *, printed: Printed) -> CertificateSheet:
    """Return what the certificate of a test says; a retracted one shows what it was."""
    newest, shown = loaded.records[0], shown_of(loaded.records)
    earlier = [record for record in loaded.records if record.pk < shown.pk]
    retracted = newest.change == Kind.RETRACTED
    rows = answered(shown, loaded.places)
    signing = tuple(_signing(shown, loaded))
    return CertificateSheet(
        head=_head(shown, loaded.subject, printed),
        particulars=tuple(_particulars(shown, loaded.subject)),
        retracted=f"{newest.reason} ({_entered(newest)})" if retracted else "",
        corrected=_corrected(shown, counts=not retracted),
        result=_result(shown),
        signing=signing,
        instruments=tuple(
            instrument_lines(shown, loaded.instruments, loaded.calibrations)
        ),
        rows=rows,
        traces=_traces(shown),
        surveys=tuple(survey_parts(shown, loaded.required)),
        wears=tuple(loaded.wears),
        remarks=shown.remarks,
        superseded=tuple(_superseded(shown, earlier, loaded)),
        cautions=_cautions(shown),
        done_by=shown.done_by.name,
        to_counter_sign=any(said.grave for said in signing),
    )


def shown_of(records: Sequence[TestRecord]) -> TestRecord:
    """Return the version whose readings are shown: the one before a retraction."""
    newest, *before = records
    return before[0] if newest.change == Kind.RETRACTED and before else newest


def _head(record: TestRecord, subject: Subject, printed: Printed) -> Head:
    return Head(
        title=TITLE,
        subject=subject.number,
        status_on=f"Tested {record.on}",
        remark="",
        generated=f"Generated {printed.time}",
        records=printed.records,
        caution=caution(printed.time),
    )


def _particulars(record: TestRecord, subject: Subject) -> Iterator[tuple[str, str]]:
    revision = record.procedure_revision
    yield "Vehicle" if subject.on_vehicle else "Item", subject.what
    if subject.where:
        yield "Where", subject.where
    yield (
        "Procedure",
        f"{revision.title} ({revision.procedure.code}), revision {revision.number}, "
        f"in force from {written(revision.effective_from)}",
    )
    yield "Source", revision.source
    if revision.approved_by is not None:
        yield "Approved by", revision.approved_by.name
    yield "Test", f"No. {record.test_id}, done {record.on}"
    yield "Done by", record.done_by.name
    yield "Place", str(record.place or NOT_STATED)
    ambient = record.ambient_c
    yield "Air temperature", NOT_STATED if ambient is None else f"{ambient} °C"
    yield "Gauges as noted", record.instruments or NOT_STATED
    yield "Recorded", _entered(record)


def _entered(record: TestRecord) -> str:
    """Return when a version was recorded, in local time, and by whom."""
    entry = record.opened_by
    return f"{_time(entry)} by {entry.user or 'the register'}, entry {entry.number}"


def _time(entry: Entry) -> str:
    at = localtime(entry.made_at)
    return f"{written(at.date())}, {at:%H:%M}"


def _corrected(record: TestRecord, *, counts: bool) -> str:
    if record.change != Kind.CORRECTED:
        return ""
    reason = f"Corrected: {record.reason.rstrip('.')}."
    this = "This record counts; the one" if counts else "The record"
    return f"{reason} {this} before it is printed below, marked as superseded."


def _result(record: TestRecord) -> Said:
    words = record.result.label
    words += f": {record.shortfall}" if record.shortfall else ""
    return Said(words, record.result is not Result.PASSED)


def _signing(record: TestRecord, loaded: Loaded) -> Iterator[Said]:
    skill = record.procedure_revision.skill
    if not skill:
        yield Said("The procedure names no competence.")
        return
    needed, name, held = Skill(skill).label, record.done_by.name, record.competence
    if not loaded.lacking and held is not None:
        yield Said(f"Competent on that day: {name}, {needed}, {_competence(held)}.")
        return
    if held is None:
        yield Said(f"No competence of {name} in {needed} is recorded for that day.")
    else:
        yield Said(
            f"The competence of {name} in {needed} that was recorded then has been "
            "corrected or retracted since; it does not cover that day."
        )
    yield from _counter_signed(record, loaded.counter_signatures, needed)


def _counter_signed(
    record: TestRecord, signatures: Sequence[CounterSignature], needed: str
) -> Iterator[Said]:
    """Yield who signed for it; to the record as it stands, not as it once stood."""
    signed = False
    for one in signatures:
        words = f"{one.on} by {one.by.name}, {_competence(one.competence)}"
        if one.opened_by_id > record.opened_by_id:
            signed = True
            yield Said(f"Counter-signed {words}. {one.remark}".strip())
        else:
            yield Said(f"The record before this correction was counter-signed {words}.")
    if not signed:
        yield Said(f"COUNTER-SIGNATURE NEEDED by somebody competent in {needed}.", True)


def _competence(version: CompetenceVersion) -> str:
    last = last_day_of(version)
    until = f", good until {written(last)}" if last else ""
    return f"assessed on {version.since} by {version.assessed_by}{until}"


def _traces(record: TestRecord) -> tuple[TracePart, ...]:
    lines = record.procedure_revision.lines.all()
    numbered = enumerate(record.traces.all(), start=1)
    return tuple(trace_part(number, trace, lines) for number, trace in numbered)


def _superseded(
    shown: TestRecord, earlier: Sequence[TestRecord], loaded: Loaded
) -> Iterator[Superseded]:
    after = shown
    for record in earlier:
        rows = answered(record, loaded.places)
        now = answered(after, loaded.places)
        yield Superseded(
            title=f"SUPERSEDED by entry {after.opened_by.number}: {after.reason}",
            facts=_facts(record),
            rows=compared(rows, now),
            traces=_traces(record),
            surveys=tuple(survey_parts(record, loaded.required)),
        )
        after = record


def _facts(record: TestRecord) -> str:
    revision = record.procedure_revision
    parts = [
        f"Recorded {_entered(record)}. It counts no more and is printed so that both stand.",
        f"Result as it stood: {_result(record).words}.",
        f"Done {record.on} by {record.done_by.name}, revision {revision.number},",
        f"place {record.place or 'not stated'},",
        f"gauges {record.instruments or 'not stated'}.",
        f"Remarks: {record.remarks}" if record.remarks else "",
    ]
    return " ".join(part for part in parts if part)


def _cautions(record: TestRecord) -> tuple[str, ...]:
    told = [*record.procedure_revision.caution_texts, standing_caution("statutory")]
    unique = {one.key: one for one in told}
    return tuple(f"{one.title}. {one.text}" for one in unique.values())
