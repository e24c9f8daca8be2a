"""What the paper of a signed release to traffic says, decided from what was loaded."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.timezone import localtime

from fleet.defects.models import DefectStep, WorkInHand
from fleet.defects.signing import Lack
from fleet.defects.vocabulary import Step
from fleet.examination.models import TestRecord
from fleet.fitness.witness import held_words
from fleet.people.models import CompetenceVersion, Person, Skill
from fleet.register.vocabulary import Scope
from fleet.reports.sheet import Head, Printed, Said, caution
from fleet.reports.subject import Subject
from fleet.ui.cautions import caution as standing_caution
from fleet.upkeep.due import written

TITLE = "Release to traffic"
NOT_STATED = "Not stated"
_CAUTIONS = ("after_work", "movement", "local_instruction", "statutory")


@dataclass(frozen=True, slots=True)
class LoadedRelease:
    """All the paper is decided from; `steps` are those of the defect, in order."""

    work: WorkInHand
    subject: Subject
    steps: Sequence[DefectStep] = ()
    tests: Sequence[TestRecord] = ()
    named: frozenset[int] = frozenset()  # tests a step names as the one after the work
    flags: tuple[tuple[int, str], ...] = ()  # by record: what keeps it from counting
    lack: Lack | None = None
    somebody_else: bool = False  # the operator asks that another releases


@dataclass(frozen=True, slots=True)
class SeenTest:
    """A test of the vehicle between the start of the work and its release."""

    number: str
    what: str
    on: str
    by: str
    result: Said


@dataclass(frozen=True, slots=True)
class StepTold:
    """A step of the defect that the work put right."""

    what: str
    on: str
    by: str
    note: str


@dataclass(frozen=True, slots=True)
class ReleaseSheet:
    """Everything the paper says, in order."""

    head: Head
    particulars: tuple[tuple[str, str], ...]
    result: str
    signing: tuple[Said, ...]
    steps: tuple[StepTold, ...]
    tests: tuple[SeenTest, ...]
    cautions: tuple[str, ...]
    done_by: str
    released_by: str
    to_counter_sign: bool


def release_sheet(loaded: LoadedRelease, *, printed: Printed) -> ReleaseSheet:
    """Return what the paper of a signed release says; the work must be released."""
    work = loaded.work
    assert work.released_by is not None
    doers = _doers(loaded)
    return ReleaseSheet(
        head=Head(
            title=TITLE,
            subject=loaded.subject.number,
            status_on=f"Released {work.until}",
            remark="",
            generated=f"Generated {printed.time}",
            records=printed.records,
            caution=caution(printed.time),
        ),
        particulars=tuple(_particulars(loaded, doers)),
        result=f"Released to traffic {work.until} by {work.released_by}",
        signing=(_independence(loaded, doers), *_competence(loaded)),
        steps=tuple(_steps(loaded.steps)),
        tests=tuple(_tests(loaded)),
        cautions=tuple(
            f"{one.title}. {one.text}" for one in map(standing_caution, _CAUTIONS)
        ),
        done_by=", ".join(person.name for person in doers),
        released_by=work.released_by.name,
        to_counter_sign=loaded.lack is not None and loaded.lack.signed is None,
    )


def _doers(loaded: LoadedRelease) -> list[Person]:
    """Return who did the work: as the defect's steps say, else as the work does."""
    did = [step.by for step in loaded.steps if step.step == Step.DONE]
    if not did and loaded.work.done_by is not None:
        did = [loaded.work.done_by]
    return list({person.pk: person for person in did}.values())


def _particulars(
    loaded: LoadedRelease, doers: Sequence[Person]
) -> Iterator[tuple[str, str]]:
    work, entry = loaded.work, loaded.work.opened_by
    at = localtime(entry.made_at)
    yield "Vehicle", loaded.subject.what
    yield "Work", work.what
    yield "Bears on", Scope(work.scope).label
    if work.defect is not None:
        yield "Defect", f"No. {work.defect.pk}: {work.defect.title}"
    yield "In hand since", str(work.since)
    yield "Work done by", ", ".join(p.name for p in doers) or NOT_STATED
    yield "Released by", str(work.released_by)
    yield (
        "Record",
        f"Work No. {work.pk}, recorded {written(at.date())}, {at:%H:%M} by "
        f"{entry.user or 'the register'}, entry {entry.number}",
    )


def _independence(loaded: LoadedRelease, doers: Sequence[Person]) -> Said:
    asked = "The operator asks for this." if loaded.somebody_else else ""
    releasing = loaded.work.released_by_id
    if not doers:
        words = "Who did the work is not recorded; whether another released it is open."
        return Said(words, loaded.somebody_else)
    if releasing not in {person.pk for person in doers}:
        words = f"Independent: who released it did not do the work. {asked}"
        return Said(words.strip())
    words = "Not independent: who released it did the work."
    if not loaded.somebody_else:
        return Said(f"{words} The operator does not ask for another here.")
    return Said(f"{words} THE OPERATOR ASKS FOR SOMEBODY ELSE.", True)


def _competence(loaded: LoadedRelease) -> Iterator[Said]:
    skill, held = _asked(loaded)
    if not skill:
        yield Said("No competence was asked of who released it.")
        return
    lack = loaded.lack
    if lack is None:
        yield Said(f"{loaded.work.released_by}: {held_words(held)}.")
        return
    label = Skill(skill).label
    yield Said(f"{lack.person} held no competence in {label} that day.")
    if lack.signed is None:
        yield Said(f"COUNTER-SIGNATURE NEEDED by somebody competent in {label}.", True)
    else:
        signed = lack.signed
        words = f"Counter-signed {signed.on} by {signed.by}. {signed.remark}"
        yield Said(words.strip())


def _asked(loaded: LoadedRelease) -> tuple[str, CompetenceVersion | None]:
    """Return the competence asked: of the step that cleared the defect, else here."""
    row = releasing(loaded.work, loaded.steps)
    return row.skill, row.competence


def releasing(work: WorkInHand, steps: Sequence[DefectStep]) -> DefectStep | WorkInHand:
    """Return the row that carries the signature to a release."""
    cleared = [step for step in steps if step.step == Step.RELEASED]
    return cleared[-1] if cleared and not work.skill else work


def _steps(steps: Sequence[DefectStep]) -> Iterator[StepTold]:
    for step in steps:
        yield StepTold(step.label, str(step.on), step.by.name, step.note)


def _tests(loaded: LoadedRelease) -> Iterator[SeenTest]:
    flags = dict(loaded.flags)
    for record in loaded.tests:
        revision = record.procedure_revision
        what = f"{revision.title} ({revision.procedure.code}), rev. {revision.number}"
        if record.test_id in loaded.named:
            what += ". Named as the test after the work"
        flag = flags.get(record.pk, "")
        words = record.result.label + (f": {flag}" if flag else "")
        yield SeenTest(
            f"No. {record.test_id}",
            what,
            str(record.on),
            record.done_by.name,
            Said(words, bool(flag) or not record.passed),
        )
