"""Lines of a procedure as an operator lays them down, checked before anything is kept."""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

from django.core.exceptions import ValidationError

from fleet.engineering.units import refuse_impossible, unit_of
from fleet.examination.models import ProcedureLine
from fleet.records.refusing import refusing
from fleet.register.vocabulary import Scope
from fleet.ui.cautions import CAUTIONS

_MEASURE = ("quantity", "unit", "low", "high")


def procedure_lines(given: Sequence[Mapping[str, Any]]) -> list[ProcedureLine]:
    """
    Return unsaved lines in the order given, units by their own names.

    Raises ValidationError keyed `lines`, the sentence naming the line.
    """
    if not given:
        raise refusing(
            "A procedure needs a line at least.", code="no_lines", field="lines"
        )
    lines = [_line(order, dict(values)) for order, values in enumerate(given, start=1)]
    seen: dict[str, int] = {}
    for line in lines:
        if line.text in seen:
            raise refusing(
                f"Lines {seen[line.text]} and {line.order} read the same, "
                f"“{line.text}”. Say in each which part it is about.",
                code="same_text",
                field="lines",
            )
        seen[line.text] = line.order
    return lines


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


def _line(order: int, values: dict[str, Any]) -> ProcedureLine:
    try:
        for name in ("low", "high"):
            values[name] = _decimal(values.get(name))
        line = ProcedureLine(order=order, **values)
        _measure(line)
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
    for limit in (line.low, line.high):
        if limit is not None:
            refuse_impossible(limit, line.unit)


def _decimal(value: Any) -> Decimal | None:
    if value is None or value == "":
        return None
    try:
        return Decimal(str(value))
    except InvalidOperation:
        raise ValueError(f"“{value}” is not a number.") from None
