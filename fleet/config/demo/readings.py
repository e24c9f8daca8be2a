"""Plausible readings for a procedure's lines, well within their limits."""

from decimal import Decimal
from random import Random
from typing import Any

from fleet.examination.models import ProcedureLine, Reading, TestRecord
from fleet.examination.vocabulary import Answer, LineKind


def reading(record: TestRecord, line: ProcedureLine, dice: Random) -> Reading:
    """Return an unsaved reading that meets its line."""
    given: dict[str, Any] = {"answer": Answer.MET}
    if line.kind == LineKind.MEASURED:
        given |= {"value": _within(line, dice), "unit": line.unit}
    return Reading(record=record, line=line, **given)


def _within(line: ProcedureLine, dice: Random) -> Decimal:
    low, high = line.low, line.high
    if low is not None and high is not None:
        share = dice.uniform(0.25, 0.75)
        value = float(low) + share * float(high - low)
    elif high is not None:
        value = float(high) * dice.uniform(0.2, 0.7)
    else:
        value = float(low or 0) * dice.uniform(1.1, 1.4)
    if line.quantity == "count":
        return Decimal(round(value))
    places = "0.01" if abs(value) < 10 else "0.1" if abs(value) < 50 else "1"
    return Decimal(str(value)).quantize(Decimal(places))
