"""A test record line by line, as pages and papers show it."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fleet.examination.asking import Asked, asked_of
from fleet.examination.models import ProcedureLine, Reading, TestRecord
from fleet.examination.vocabulary import REASONED, Answer, Result, Stage
from fleet.register.vocabulary import Effect, Scope

# How a result and an answer are marked beside their words; never by colour alone.
RESULT_MARKS: Mapping[str, str] = MappingProxyType(
    {
        Result.PASSED: "verdict-met",
        Result.FAILED: "verdict-failed",
        Result.INCOMPLETE: "verdict-open",
    }
)
ANSWER_MARKS: Mapping[str, str] = MappingProxyType(
    {
        Answer.MET: "verdict-met",
        Answer.NOT_MET: "verdict-failed",
        Answer.RECORDED: "verdict-recorded",
        Answer.NOT_DONE: "verdict-open",
        Answer.NOT_APPLICABLE: "verdict-recorded",
    }
)


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a record: what was asked, what was found, what follows from it."""

    asked: Asked
    words: str
    mark: str
    note: str = ""
    consequence: str = ""

    @property
    def line(self) -> ProcedureLine:
        """Return the line that was asked."""
        return self.asked.line


@dataclass(frozen=True, slots=True)
class Sheet:
    """One version of a test record with all lines of its procedure."""

    record: TestRecord
    rows: tuple[Row, ...]

    @property
    def mark(self) -> str:
        """Return how its result is marked."""
        return RESULT_MARKS[self.record.result]


def sheet_of(record: TestRecord) -> Sheet:
    """Return a record with all its procedure asks, also what was left blank."""
    revision = record.procedure_revision
    lines = list(revision.lines.all())
    found = {(r.line_id, r.position): r for r in record.readings.all()}
    asked = {
        (one.line.pk, one.position): one
        for one in asked_of(revision, record.vehicle, record.on)
    }
    # The list of positions may have been put right since: nothing read is left out.
    by_key = {line.pk: line for line in lines}
    for key in found.keys() - asked.keys():
        asked[key] = Asked(by_key[key[0]], key[1], key[1])
    of_lines = {key[0] for key in asked}
    rows = [_row(one, found.get(key)) for key, one in asked.items()]
    rows += [
        Row(Asked(line), "None on this vehicle's type", "verdict-recorded")
        for line in lines
        if line.pk not in of_lines
    ]
    return Sheet(record, tuple(sorted(rows, key=lambda row: row.line.order)))


def _row(asked: Asked, reading: Reading | None) -> Row:
    line = asked.line
    if reading is None:
        return _blank(asked)
    owed = reading.value is None and reading.answer in REASONED
    return Row(
        asked=asked,
        words=reading.words,
        mark=ANSWER_MARKS[reading.answer],
        note="" if owed else reading.note,  # an owed reason is in the words
        consequence=_consequence(line, reading.answer),
    )


def _blank(asked: Asked) -> Row:
    if asked.line.stage == Stage.AS_LEFT:
        return Row(asked, "Left as found", "verdict-recorded")
    if not asked.line.required:
        return Row(asked, "Left out", "verdict-recorded")
    return Row(asked, "Not answered", "verdict-open")


def _consequence(line: ProcedureLine, answer: str) -> str:
    if answer != Answer.NOT_MET:
        return ""
    effect = Effect(line.effect_failed).label.lower()
    return f"{Scope(line.scope).label}: {effect}"
