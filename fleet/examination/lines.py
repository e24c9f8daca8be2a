"""Lines of a procedure as an operator lays them down, checked before anything is kept."""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

from django.core.exceptions import ValidationError

from fleet.engineering.units import refuse_impossible, unit_of
from fleet.examination.models import ProcedureLine
from fleet.examination.vocabulary import (
    ATTACHED,
    OF_TRAIN_PIPE,
    READ_AT_LEVEL,
    TRACED,
    Found,
    LineKind,
    Stage,
    TestSubject,
)
from fleet.records.refusing import refusing
from fleet.register.vocabulary import Scope
from fleet.ui.cautions import CAUTIONS

_MEASURE = ("quantity", "unit", "low", "high", "condemned")
CHOICE_LENGTH = 80
_WHOLE = 100  # %


def procedure_lines(
    given: Sequence[Mapping[str, Any]], subject: str = TestSubject.VEHICLE
) -> list[ProcedureLine]:
    """
    Return unsaved lines in the order given, units by their own names.

    Raises ValidationError keyed `lines`, the sentence naming the line.
    """
    if not given:
        raise refusing(
            "A procedure needs a line at least.", code="no_lines", field="lines"
        )
    lines = [_line(order, dict(values)) for order, values in enumerate(given, start=1)]
    _refuse_same(lines)
    _refuse_second_trace(lines)
    _refuse_second_point(lines)
    _refuse_second_course(lines)
    for line in lines:
        if line.repeat and subject != TestSubject.VEHICLE:
            raise _refusal(line, "Only what is done on a vehicle is repeated.")
        if line.stage == Stage.AS_LEFT:
            _refuse_unpaired(line, lines)
    return lines


def one_line(order: int, values: Mapping[str, Any]) -> ProcedureLine:
    """
    Return one unsaved line, checked by itself.

    Raises ValidationError keyed `lines`, the sentence naming the line.
    """
    return _line(order, dict(values))


def refuse_unknown_keys(scopes: Iterable[str], cautions: Iterable[str]) -> None:
    """Refuse a scope or a caution that does not exist, naming it."""
    known = {caution.key for caution in CAUTIONS}
    for field, strangers in (
        ("scopes", set(scopes) - set(Scope)),
        ("cautions", set(cautions) - known),
    ):
        if strangers:
            named = ", ".join(sorted(strangers))
            raise refusing(f"Not known: {named}.", code="unknown_key", field=field)


def _refuse_same(lines: list[ProcedureLine]) -> None:
    seen: dict[tuple[str, str], int] = {}
    for line in lines:
        first = seen.setdefault((line.text, line.stage), line.order)
        if first != line.order:
            raise refusing(
                f"Lines {first} and {line.order} read the same, “{line.text}”. Say in "
                "each which part it is about.",
                code="same_text",
                field="lines",
            )


def _refuse_second_trace(lines: list[ProcedureLine]) -> None:
    traces = [line for line in lines if line.kind == LineKind.TRACE]
    if len(traces) > 1:
        raise _refusal(
            traces[1],
            "A procedure asks for one trace; lines could not tell which to read.",
        )


def _refuse_second_point(lines: list[ProcedureLine]) -> None:
    """Refuse two set points for one thing: a trace is read once."""
    first: dict[str, ProcedureLine] = {}
    for line in lines:
        if line.finds and line.measured:
            held = first.setdefault(line.finds, line)
            if held.reads_at != line.reads_at:
                raise _refusal(
                    line,
                    f"Line {held.order} reads the same off the trace at another point.",
                )


def _refuse_second_course(lines: list[ProcedureLine]) -> None:
    """Refuse lines of a cylinder beside those of a train pipe: a trace is of one."""
    traced = [line for line in lines if line.finds in TRACED]
    for line in traced:
        if (line.finds in OF_TRAIN_PIPE) != (traced[0].finds in OF_TRAIN_PIPE):
            raise _refusal(
                line,
                f"A trace is of a cylinder or of a train pipe; line {traced[0].order} "
                "reads the other. Give this one a procedure of its own.",
            )


def _refuse_unpaired(left: ProcedureLine, lines: list[ProcedureLine]) -> None:
    """Refuse an as-left line that no as-found line of the same thing stands before."""
    alike = ("text", "kind", "quantity", "repeat", "choices")
    for line in lines[: left.order - 1]:
        same = all(getattr(line, name) == getattr(left, name) for name in alike)
        if same and line.stage == Stage.AS_FOUND:
            return
    raise _refusal(
        left,
        "What is left needs what was found: put the same line, as found, before it.",
    )


def _refusal(line: ProcedureLine, sentence: str) -> ValidationError:
    return refusing(
        f"Line {line.order}, “{line.text}”: {sentence}", code="line", field="lines"
    )


def _line(order: int, values: dict[str, Any]) -> ProcedureLine:
    try:
        for name in ("low", "high", "condemned", "reads_at"):
            values[name] = _decimal(values.get(name))
        line = ProcedureLine(order=order, **values)
        _measure(line)
        _choose(line)
        _attach(line)
        line.full_clean(
            exclude=["revision"], validate_unique=False, validate_constraints=False
        )
    except (ValueError, ValidationError) as error:
        said = error.messages if isinstance(error, ValidationError) else [str(error)]
        raise refusing(
            f"Line {order}, “{values.get('text', '')}”: {' '.join(said)}",
            code="line",
            field="lines",
        ) from None
    return line


def _measure(line: ProcedureLine) -> None:
    if not line.measured:
        if any(getattr(line, name) not in {None, ""} for name in _MEASURE):
            raise ValueError("A question has no quantity, unit or limits.")
        return
    line.unit = unit_of(line.quantity, line.unit)
    for limit in (line.low, line.high, line.condemned):
        if limit is not None:
            refuse_impossible(limit, line.unit)
    _refuse_condemned(line)


def _refuse_condemned(line: ProcedureLine) -> None:
    """Refuse a condemning limit that would be reached before the one to release by."""
    at, low, high = line.condemned, line.low, line.high
    if at is None:
        return
    if low is None and high is None:
        raise ValueError("Beside a condemning limit give the limit to release by.")
    if not ((low is not None and at <= low) or (high is not None and at >= high)):
        raise ValueError(
            "The condemning limit lies beyond the limit to release by, on the side "
            "towards which it wears."
        )


def _choose(line: ProcedureLine) -> None:
    if line.kind != LineKind.CHOICE:
        if line.choices:
            raise ValueError("Only a line of the kind choice has choices.")
        return
    line.choices = [[str(words).strip(), bool(met)] for words, met in line.choices]
    named = [words for words, _met in line.choices]
    if not line.good_choices or len(line.good_choices) == len(named):
        raise ValueError(
            "Give two choices or more: one at least that is good enough, and one that "
            "is not."
        )
    if len(set(named)) < len(named):
        raise ValueError("Two choices read the same.")
    if not all(named) or max(map(len, named)) > CHOICE_LENGTH:
        raise ValueError(f"A choice has a word, and {CHOICE_LENGTH} letters at most.")


def _attach(line: ProcedureLine) -> None:
    if line.kind in ATTACHED and (line.repeat or line.stage):
        raise ValueError("A trace or a survey is asked once, neither found nor left.")
    if line.finds == Found.THINNEST and line.quantity != "length":
        raise ValueError("The thinnest point of a survey is a length.")
    if line.finds and not line.measured:
        raise ValueError("Only a measured line takes its value from a trace.")
    _refuse_level(line)


def _refuse_level(line: ProcedureLine) -> None:
    """Refuse a set point that nothing is read at, and the lack of one that has to be."""
    at = line.reads_at
    if at is None:
        if line.finds in {Found.FALL_TIME, Found.RISE_TIME}:
            raise ValueError("Say the level of the train pipe the time is read at.")
    elif line.finds == Found.FILL_TIME:
        if not 0 < at < _WHOLE:
            raise ValueError("A filling time is read at more than 0 and under 100 %.")
    elif line.finds not in READ_AT_LEVEL:
        raise ValueError(
            "Only a time to fill, to release, to fall or to come back is read at a set "
            "point."
        )
    elif at < 0 or (at == 0 and line.finds == Found.RELEASE_TIME):
        raise ValueError("A time is read at a level above zero.")


def _decimal(value: Any) -> Decimal | None:
    if value is None or value == "":
        return None
    try:
        return Decimal(str(value))
    except InvalidOperation:
        raise ValueError(f"“{value}” is not a number.") from None
