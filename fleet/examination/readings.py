"""From what a person wrote down for each line to judged readings, errors by line."""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError

from fleet.engineering.units import refuse_impossible, unit_of
from fleet.examination.asking import Asked, key_of
from fleet.examination.attached import attached_reading, with_thinnest
from fleet.examination.judging import Outcome, judge, outcome, read_number
from fleet.examination.models import ProcedureLine, ProcedureRevision, Reading
from fleet.examination.staging import answers, put_right, refused_stages
from fleet.examination.vocabulary import REASONED, Answer, LineKind
from fleet.records.refusing import refusing

QUESTION_ANSWERS = frozenset({Answer.MET, Answer.NOT_MET})
MAX_DIGITS = 20


def judged_readings(
    revision: ProcedureRevision,
    asked: Sequence[Asked],
    given: Iterable[Mapping[str, Any]],
) -> tuple[list[Reading], Outcome]:
    """
    Return unsaved readings of what a revision asks, and what the test comes to.

    `given` holds `line` (a ProcedureLine or its order), `position` of a repeated one,
    `value`, `unit`, `answer`, `choice`, `note`. A line left blank is unanswered. Raises
    ValidationError with every wrong line, keyed `line_<order>`, or
    `line_<order>__<position>` of a repeated one.
    """
    lines = {line.order: line for line in revision.lines.all()}
    known = {one.key: one for one in asked}
    readings: dict[str, Reading] = {}
    errors: dict[str, ValidationError] = {}
    for row in with_thinnest(lines.values(), given):
        line = _line_of(row, lines, revision)
        key = key_of(line.order, str(row.get("position") or ""))
        try:
            _refuse_place(key, line, known)
            if key in readings:
                raise refusing("This line is answered twice.", code="line_twice")
            reading = read_line(line, row)
        except ValidationError as error:
            errors[key] = error
            continue
        if reading is not None:
            readings[key] = reading
    errors = refused_stages(asked, readings) | errors
    if errors:
        raise ValidationError(errors)
    put_right(asked, readings)
    return list(readings.values()), outcome(answers(asked, readings))


def read_line(line: ProcedureLine, row: Mapping[str, Any]) -> Reading | None:
    """Return the judged reading of one line, None if left blank; may refuse."""
    reading = _read(line, row)
    if reading is not None:
        reading.position = str(row.get("position") or "")
        reading.instrument = (
            row.get("instrument") if reading.value is not None else None
        )
    return reading


def _read(line: ProcedureLine, row: Mapping[str, Any]) -> Reading | None:
    value = "" if row.get("value") is None else str(row["value"]).strip()
    choice = str(row.get("choice") or "").strip()
    note = str(row.get("note") or "").strip()
    answer = Answer(row["answer"]) if row.get("answer") else None
    attached = attached_reading(line, row)
    if attached is not None:
        return attached
    if value:
        return _measured(line, value, str(row.get("unit") or ""), answer, note)
    if choice:
        return _chosen(line, choice, answer, note)
    if answer in REASONED:
        if not note:
            raise refusing("Say in the note why it was not done.", code="no_reason")
        return Reading(line=line, answer=answer, note=note)
    if answer is not None:
        return _answered(line, answer, note)
    if note:
        raise refusing(
            "There is a note but no answer. Answer the line, or choose “Not done”.",
            code="answer_needed",
        )
    return None


def _refuse_place(key: str, line: ProcedureLine, known: Mapping[str, Asked]) -> None:
    if key in known:
        return
    places = [one.position for one in known.values() if one.line.order == line.order]
    named = ", ".join(place for place in places if place)
    said = f"It is asked of: {named}." if named else "It is not asked of a place."
    raise refusing(
        f"On that day this vehicle's type has no such place for this line. {said}",
        code="no_such_place",
    )


def _line_of(
    row: Mapping[str, Any],
    lines: Mapping[int, ProcedureLine],
    revision: ProcedureRevision,
) -> ProcedureLine:
    asked = row["line"]
    if isinstance(asked, ProcedureLine):
        if asked.revision_id != revision.pk:
            raise refusing(
                f"On that day revision {revision.number} of the procedure was in force; "
                "these are the lines of another. Answer its lines.",
                code="other_revision",
                field="on",
            )
        return asked
    if asked not in lines:
        raise refusing(
            f"Revision {revision.number} of the procedure, in force that day, has no "
            f"line {asked}.",
            code="no_such_line",
            field="on",
        )
    return lines[asked]


def _measured(
    line: ProcedureLine, typed: str, unit: str, answer: Answer | None, note: str
) -> Reading:
    if not line.measured:
        raise refusing("This line asks no value; answer it.", code="no_value_asked")
    if answer in REASONED:
        raise refusing(
            "A value is given, so it was done. Clear one or the other.",
            code="value_and_reason",
        )
    value, name = _value_in(line, typed, unit)
    judged = judge(value, name, line.limits)
    digits = f"{value:f}"
    return Reading(
        line=line,
        answer=judged.answer,
        value=value,
        typed=digits if len(digits) <= MAX_DIGITS else "",
        unit=name,
        note=note,
    )


def _value_in(line: ProcedureLine, typed: str, unit: str) -> tuple[Decimal, str]:
    code = "not_a_number"
    try:
        value = read_number(typed)
        code = "impossible_unit"
        name = unit_of(line.quantity, unit)
        code = "impossible_value"
        refuse_impossible(value, name)
    except ValueError as error:
        raise refusing(str(error), code=code) from None
    return value, name


def _chosen(
    line: ProcedureLine, choice: str, answer: Answer | None, note: str
) -> Reading:
    met: dict[str, bool] = dict(line.choices)
    if line.kind != LineKind.CHOICE or choice not in met:
        raise refusing(
            f"“{choice}” is not one of the choices of this line. Take one of: "
            f"{', '.join(met) or 'none'}.",
            code="no_such_choice",
        )
    if answer in REASONED:
        raise refusing(
            "A choice is made, so it was done. Clear one or the other.",
            code="value_and_reason",
        )
    judged = Answer.MET if met[choice] else Answer.NOT_MET
    return Reading(line=line, answer=judged, choice=choice, note=note)


def _answered(line: ProcedureLine, answer: Answer, note: str) -> Reading:
    if line.kind == LineKind.CHOICE:
        raise refusing(
            "Choose what was found; whether it is met follows from it.",
            code="choice_needed",
        )
    if line.measured:
        raise refusing(
            "Give the reading; whether it is met follows from it.",
            code="reading_needed",
        )
    if answer not in QUESTION_ANSWERS:
        raise refusing("Answer met or not met.", code="answer_needed")
    return Reading(line=line, answer=answer, note=note)
