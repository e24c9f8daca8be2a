"""What hangs on a line beside its answer: a trace, or the thicknesses of a survey."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError

from fleet.examination.asking import key_of
from fleet.examination.judging import plain, read_number
from fleet.examination.models import (
    ProcedureLine,
    Reading,
    TestRecord,
    ThicknessReading,
    Trace,
)
from fleet.examination.traces import ReadTrace
from fleet.examination.vocabulary import (
    ATTACHED,
    REASONED,
    Answer,
    Found,
    LineKind,
)
from fleet.records.refusing import refusing
from fleet.records.versions import write_many

THICKEST_MM = 1000
_WANTED = {
    LineKind.TRACE: "Read a trace in, or say why there is none.",
    LineKind.SURVEY: "Give the thickness at a point or more, or say why there is none.",
}


def attached_reading(line: ProcedureLine, row: Mapping[str, Any]) -> Reading | None:
    """
    Return the answer to a trace or survey line that has one in `row`; None otherwise.

    `row` holds `trace`, a ReadTrace, or `thicknesses`: point, mm, uncertainty in mm.
    """
    trace, thicknesses = row.get("trace"), row.get("thicknesses")
    if trace is None and not thicknesses:
        if row.get("answer") and row["answer"] not in REASONED:
            sentence = _WANTED.get(LineKind(line.kind))
            if sentence:
                raise refusing(sentence, code="attachment_needed")
        return None
    wanted = LineKind.TRACE if trace is not None else LineKind.SURVEY
    if line.kind != wanted:
        raise refusing(
            f"This line asks no {wanted.label.lower()}.", code="no_attachment_asked"
        )
    if row.get("answer") in REASONED:
        raise refusing(
            "It is here, so it was done. Clear one or the other.",
            code="value_and_reason",
        )
    if thicknesses:
        _refuse_points(thicknesses)
    note = str(row.get("note") or "").strip()
    return Reading(line=line, answer=Answer.RECORDED, note=note)


def with_thinnest(
    lines: Iterable[ProcedureLine], given: Iterable[Mapping[str, Any]]
) -> list[Mapping[str, Any]]:
    """
    Return what was written down, the thinnest point of a survey put in where it is asked.

    A value typed beside a survey has to agree with it. Raises ValidationError, keyed by
    the line, where it does not.
    """
    rows = list(given)
    points = [point for row in rows for point in row.get("thicknesses") or ()]
    asked = [line for line in lines if line.finds == Found.THINNEST]
    if not points or not asked:
        return rows
    point, mm, _within = min(points, key=lambda one: one[1])
    for line in asked:
        typed = next((row for row in rows if _order(row) == line.order), {})
        rows = [row for row in rows if _order(row) != line.order]
        rows.append(_thinnest(line, typed, point, mm))
    return rows


def _thinnest(
    line: ProcedureLine, typed: Mapping[str, Any], point: str, mm: Decimal
) -> Mapping[str, Any]:
    taken = {"value": plain(mm), "unit": "mm", "answer": ""}
    if not _agrees(str(typed.get("value") or "").strip(), typed.get("unit"), mm):
        said = (
            f"The survey's thinnest point is {point}, {plain(mm)} mm: leave this empty."
        )
        refusal = refusing(said, code="not_the_thinnest")
        raise ValidationError({key_of(line.order): refusal})
    note = str(typed.get("note") or "").strip() or f"From the survey: {point}"
    return {**typed, "line": line, **taken, "note": note}


def _agrees(value: str, unit: str | None, mm: Decimal) -> bool:
    """Say whether nothing, or the thinnest point itself, was typed."""
    if not value:
        return True
    try:
        return unit in {"", None, "mm"} and read_number(value) == mm
    except ValueError:
        return False


def keep_attached(given: Iterable[Mapping[str, Any]], record: TestRecord) -> None:
    """Write the traces and thicknesses of a record just written."""
    attached = [row for row in given if row.get("trace") or row.get("thicknesses")]
    if not attached:
        return
    lines = record.procedure_revision.lines.filter(kind__in=ATTACHED)
    by_order = {line.order: line for line in lines}
    rows = [(by_order[_order(row)], row) for row in attached]
    traces = (
        _trace(row["trace"], line, record) for line, row in rows if row.get("trace")
    )
    list(write_many(traces))
    list(write_many(_thicknesses(rows, record)))


def _order(row: Mapping[str, Any]) -> int:
    line = row["line"]
    return int(line.order if isinstance(line, ProcedureLine) else line)


def _trace(read: ReadTrace, line: ProcedureLine, record: TestRecord) -> Trace:
    trace = Trace(
        record=record,
        line=line,
        name=read.name,
        unit=read.unit,
        count=read.count,
        digest=read.digest,
        drawn=read.drawn,
        found=read.found,
    )
    trace.full_clean(exclude=["record", "line"])
    return trace


def _thicknesses(
    rows: Sequence[tuple[ProcedureLine, Mapping[str, Any]]], record: TestRecord
) -> Iterator[ThicknessReading]:
    for line, row in rows:
        for point, mm, within in row.get("thicknesses") or ():
            yield ThicknessReading(
                record=record,
                line=line,
                point=point,
                thickness_mm=mm,
                uncertainty_mm=within,
            )


def _refuse_points(given: Iterable[tuple[str, Decimal, Decimal]]) -> None:
    seen: set[str] = set()
    for point, mm, within in given:
        if not point.strip():
            raise refusing("Name every point that was read.", code="no_point")
        if point in seen:
            raise refusing(
                f"“{point}” is there twice: keep the lower reading.", code="point_twice"
            )
        seen.add(point)
        if not 0 < mm < THICKEST_MM or not 0 <= within < mm:
            raise refusing(
                f"“{point}”: give a thickness above 0 and below {THICKEST_MM} mm, and "
                "how closely it was read.",
                code="impossible_value",
            )
