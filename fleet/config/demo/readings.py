"""Plausible readings for a procedure's lines, well within their limits."""

from collections.abc import Iterable, Iterator
from decimal import Decimal
from random import Random
from typing import Any

from fleet.examination.asking import Asked
from fleet.examination.models import ProcedureLine, Reading, TestRecord
from fleet.examination.vocabulary import Answer, LineKind, Stage

ADJUSTED = 0.08  # of what is measured as found and as left, the share found wrong


def readings(
    record: TestRecord, asked: Iterable[Asked], dice: Random
) -> Iterator[Reading]:
    """Yield unsaved readings that meet their lines; a few were put right first."""
    # No trace was logged, no survey made.
    listed = [
        one for one in asked if one.line.kind not in {LineKind.TRACE, LineKind.SURVEY}
    ]
    twins = {(a.line.text, a.position) for a in listed if a.line.stage == Stage.AS_LEFT}
    wrong: set[tuple[str, str]] = set()
    for one in listed:
        key = (one.line.text, one.position)
        if one.line.stage == Stage.AS_LEFT and key not in wrong:
            continue  # nothing was adjusted
        given = _given(one.line, dice)
        if one.line.stage == Stage.AS_FOUND and key in twins and _outside(one, dice):
            wrong.add(key)
            given |= {"answer": Answer.RECORDED, "value": _beyond(one.line)}
        yield Reading(record=record, line=one.line, position=one.position, **given)


def _given(line: ProcedureLine, dice: Random) -> dict[str, Any]:
    if line.kind == LineKind.MEASURED:
        return {
            "answer": Answer.MET,
            "value": _within(line, dice),
            "unit": line.unit,
        }
    if line.kind == LineKind.CHOICE:
        good = line.good_choices
        likely = [good[0]] * 9 + good
        return {"answer": Answer.MET, "choice": dice.choice(likely)}
    return {"answer": Answer.MET}


def _outside(asked: Asked, dice: Random) -> bool:
    return asked.line.high is not None and dice.random() < ADJUSTED


def _beyond(line: ProcedureLine) -> Decimal:
    assert line.high is not None
    return (line.high * Decimal("1.06")).quantize(_places(float(line.high)))


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
        return Decimal(max(round(value), round(low or 0)))
    return Decimal(str(value)).quantize(_places(value))


def _places(value: float) -> Decimal:
    return Decimal("0.01" if value < 10 else "0.1" if value < 50 else "1")
