"""A test record line by line, as pages and papers show it."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fleet.examination.models import ProcedureLine, Reading, TestRecord
from fleet.examination.vocabulary import REASONED, Answer, Result
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

    line: ProcedureLine
    words: str
    mark: str
    note: str
    consequence: str


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
    """Return a record with every line of its procedure, also those left blank."""
    found = {reading.line_id: reading for reading in record.readings.all()}
    lines = record.procedure_revision.lines.all()
    return Sheet(record, tuple(_row(line, found.get(line.pk)) for line in lines))


def _row(line: ProcedureLine, reading: Reading | None) -> Row:
    if reading is None:
        words = "Not answered" if line.required else "Left out"
        mark = "verdict-open" if line.required else "verdict-recorded"
        return Row(line, words, mark, "", "")
    owed = reading.value is None and reading.answer in REASONED
    return Row(
        line=line,
        words=reading.words,
        mark=ANSWER_MARKS[reading.answer],
        note="" if owed else reading.note,  # an owed reason is in the words
        consequence=_consequence(line, reading.answer),
    )


def _consequence(line: ProcedureLine, answer: str) -> str:
    if answer != Answer.NOT_MET:
        return ""
    effect = Effect(line.effect_failed).label.lower()
    return f"{Scope(line.scope).label}: {effect}"
