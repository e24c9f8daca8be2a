"""What a sheet to be filled in with a pencil asks: the lines of a procedure. Pure."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from fleet.examination.asking import Asked
from fleet.examination.judging import plain
from fleet.examination.models import (
    ProcedureLine,
    ProcedureRevision,
    Reading,
    TestRecord,
)
from fleet.examination.vocabulary import TRACED, Found, LineKind, Repeat
from fleet.people.models import Skill
from fleet.register.vocabulary import EquipmentKind
from fleet.reports.answers import NOT_FITTED, asked_words, by_line, limit_words
from fleet.reports.sheet import INSTRUCTION, Head, Printed
from fleet.reports.subject import Subject
from fleet.ui.cautions import caution as standing_caution
from fleet.upkeep.due import written

TITLE = "Blank sheet"
UNNAMED_PLACES = 4  # rows of a repeated line where no vehicle is named
SURVEY_POINTS = 8  # rows of a survey where none was done before
SPARE_POINTS = 2  # rows left for points not measured before
NOT_A_RECORD = (
    "What is written here is not a record until it is entered in the register. Compare "
    "the revision with the one in force before use."
)

HOW = (
    "Write each reading as the gauge shows it; where its unit is not the one printed, "
    "write the unit too. Where a line was not done, write why. Nothing is rubbed out: "
    "strike through, write beside it, and initial it."
)


@dataclass(frozen=True, slots=True)
class Box:
    """Where to write: its label, what it stands for, and what stood there before."""

    label: str = ""
    unit: str = ""
    ticks: tuple[
        str, ...
    ] = ()  # words with a box each to tick; none: a box to write in
    before: str = ""


@dataclass(frozen=True, slots=True)
class BlankLine:
    """A line of the procedure with the boxes it is answered in."""

    number: str
    asked: str
    limit: str
    boxes: tuple[Box, ...]
    hint: str = ""
    open_places: bool = False  # whoever fills it in writes which place each box is for


@dataclass(frozen=True, slots=True)
class BlankSheet:
    """Everything a blank sheet says, in order."""

    head: Head
    title: str
    number: str  # of the vehicle or item; "" for any
    particulars: tuple[tuple[str, str], ...]
    address: str
    before: str  # which record the previous values are from; "" without one
    cautions: tuple[str, ...]
    lines: tuple[BlankLine, ...]


def blank_sheet(
    revision: ProcedureRevision,
    asked: Sequence[Asked],
    *,
    subject: Subject | None,
    previous: TestRecord | None,
    on: dt.date,
    printed: Printed,
    address: str,
) -> BlankSheet:
    """
    Return the sheet of a revision for a vehicle or item, or with None for any.

    `asked` is what the revision asks of it, place by place; `previous` the record whose
    values stand beside the boxes, its readings loaded; `address` opens the form.
    """
    before = _readings(previous)
    points, places = _points(previous), by_line(asked)
    lines = list(revision.lines.all())
    traced = any(line.kind == LineKind.TRACE for line in lines)
    return BlankSheet(
        head=_head(revision, subject, on, printed),
        title=revision.title,
        number=subject.number if subject else "",
        particulars=tuple(_particulars(revision, subject)),
        address=address,
        before=_before(previous),
        cautions=_cautions(revision),
        lines=tuple(
            _line(
                line,
                places.get(line.pk, ()),
                subject,
                before,
                points,
                _hint(line, traced=traced),
            )
            for line in lines
        ),
    )


def _head(
    revision: ProcedureRevision, subject: Subject | None, on: dt.date, printed: Printed
) -> Head:
    code = revision.procedure.code
    return Head(
        title=TITLE,
        subject=f"{code}, {subject.number}" if subject else code,
        status_on=f"Revision {revision.number}, as in force on {written(on)}",
        remark="",
        generated=f"Generated {printed.time}",
        records=printed.records,
        caution=f"{NOT_A_RECORD} {INSTRUCTION}",
    )


def _particulars(
    revision: ProcedureRevision, subject: Subject | None
) -> Iterator[tuple[str, str]]:
    if subject is not None:
        name = "Vehicle" if subject.on_vehicle else "Item"
        yield name, ", ".join(w for w in (subject.number, subject.what) if w)
    if subject is not None and subject.where:
        yield "Where", subject.where
    yield (
        "Procedure",
        f"{revision.procedure.code}, revision {revision.number}, in force from "
        f"{written(revision.effective_from)}",
    )
    if revision.kind:
        yield (
            "Done on",
            f"Items of the kind {EquipmentKind(revision.kind).label.lower()}",
        )
    yield "Source", revision.source
    if revision.skill:
        yield "Competence needed", Skill(revision.skill).label


def _before(previous: TestRecord | None) -> str:
    if previous is None:
        return ""
    return (
        f"“Last” is test {previous.test_id} of {previous.on} by "
        f"{previous.done_by.name}: {previous.result.label.lower()}."
    )


def _cautions(revision: ProcedureRevision) -> tuple[str, ...]:
    told = [*revision.caution_texts, standing_caution("statutory")]
    unique = {one.key: one for one in told}
    return tuple(f"{one.title}. {one.text}" for one in unique.values())


_Known = tuple[str, str, str]  # text, stage, position


def _readings(previous: TestRecord | None) -> Mapping[_Known, Reading]:
    if previous is None:
        return {}
    return {
        (reading.line.text, reading.line.stage, reading.position): reading
        for reading in previous.readings.all()
    }


def _points(previous: TestRecord | None) -> Mapping[str, tuple[Box, ...]]:
    """Return, by the text of a survey line, a box for each point measured before."""
    boxes: dict[str, tuple[Box, ...]] = {}
    if previous is None:
        return boxes
    for one in previous.thicknesses.all():
        box = Box(one.point, "mm", before=f"{plain(one.thickness_mm)} mm")
        boxes[one.line.text] = (*boxes.get(one.line.text, ()), box)
    return boxes


def _line(
    line: ProcedureLine,
    asked: Sequence[Asked],
    subject: Subject | None,
    before: Mapping[_Known, Reading],
    points: Mapping[str, tuple[Box, ...]],
    hint: str,
) -> BlankLine:
    boxes: tuple[Box, ...]
    unnamed = bool(line.repeat) and not any(one.place for one in asked)
    if line.kind == LineKind.SURVEY:
        known = points.get(line.text, ())
        spare = SPARE_POINTS if known else SURVEY_POINTS
        boxes, unnamed = (*known, *[Box(unit="mm")] * spare), True
    elif not asked:
        boxes, hint, unnamed = (), f"{NOT_FITTED}.", False
    elif unnamed:
        boxes = (_box(line, ""),) * (1 if subject else UNNAMED_PLACES)
        hint = f"{Repeat(line.repeat).label}: write which. {hint}".strip()
    else:
        boxes = tuple(_box(line, one.place, before.get(one.known_by)) for one in asked)
    return BlankLine(
        str(line.order), asked_words(line), limit_words(line), boxes, hint, unnamed
    )


def _box(line: ProcedureLine, place: str, last: Reading | None = None) -> Box:
    before = last.brief if last is not None else ""
    match line.kind:
        case LineKind.MEASURED:
            return Box(place, line.unit, before=before)
        case LineKind.QUESTION:
            return Box(place, ticks=("Met", "Not met"), before=before)
        case LineKind.CHOICE:
            ticks = tuple(words for words, _met in line.choices)
            return Box(place, ticks=ticks, before=before)
        case _:
            return Box(place, before=before)


def _hint(line: ProcedureLine, *, traced: bool) -> str:
    if traced and line.finds in TRACED:
        return f"Read off the trace: {Found(line.finds).label.lower()}."
    if line.kind == LineKind.TRACE:
        return "Write the name of the logger's file; it is uploaded with the form."
    if line.kind == LineKind.SURVEY:
        return "Name each point so that it is found again."
    return ""
