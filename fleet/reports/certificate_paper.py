"""A test certificate on paper."""

from collections.abc import Iterator, Sequence
from typing import Any

from reportlab.platypus import Flowable, KeepTogether, Spacer, TableStyle

from fleet.reports.answers import Answered
from fleet.reports.certificate import CertificateSheet, Superseded
from fleet.reports.document import PORTRAIT, build, text_width
from fleet.reports.drawing import Picture
from fleet.reports.sheet import Said
from fleet.reports.survey_part import SurveyPart
from fleet.reports.trace_part import TracePart
from fleet.reports.typesetting import (
    ALARM,
    BODY,
    CELL,
    CELL_STRONG,
    CELL_UNDER,
    LEVEL,
    NUMBER,
    SMALL,
    STRONG,
    TYPEFACE,
    barred,
    boxed,
    heading,
    ledger,
    paragraph,
    plain,
    signatures,
)
from fleet.upkeep.wear import Wear

WIDTH = text_width(PORTRAIT)
_SUPERSEDED = "Superseded records"


def draw_certificate(sheet: CertificateSheet) -> bytes:
    """Return the certificate as PDF; the same sheet gives the same bytes."""
    return build(list(_story(sheet)), sheet.head)


def _story(sheet: CertificateSheet) -> Iterator[Flowable]:
    yield from _plate(sheet)
    yield from _result(sheet)
    yield from _cautions(sheet.cautions)
    yield from heading("Readings")
    yield from _rows(sheet.rows)
    yield from _pictures(sheet.traces, sheet.surveys)
    yield from _wears(sheet.wears)
    yield from _instruments(sheet)
    if sheet.remarks:
        yield from heading("Remarks")
        yield paragraph(sheet.remarks)
    yield _signatures(sheet)
    yield from _superseded(sheet.superseded)


def _plate(sheet: CertificateSheet) -> Iterator[Flowable]:
    yield paragraph(sheet.head.subject, NUMBER)
    yield particulars_table(sheet.particulars)


def particulars_table(particulars: Sequence[tuple[str, str]]) -> Flowable:
    """Return what a paper says of its subject: names beside words."""
    rows = [
        [paragraph(name, SMALL), paragraph(words, CELL)] for name, words in particulars
    ]
    return plain(rows, [74, WIDTH - 74], _PLATE)


def _result(sheet: CertificateSheet) -> Iterator[Flowable]:
    yield Spacer(0, 6)
    if sheet.retracted:
        words = f"RETRACTED: this test counts no more. {sheet.retracted}"
        yield barred(paragraph(words, ALARM), WIDTH)
        yield Spacer(0, 6)
    name = "Result as it stood" if sheet.retracted else "Result"
    words = f"{name}: {sheet.result.words}"
    if sheet.result.grave:
        yield barred(paragraph(words, ALARM), WIDTH)
    else:
        yield boxed([paragraph(words, LEVEL)], WIDTH)
    yield Spacer(0, 4)
    if sheet.corrected:
        yield paragraph(sheet.corrected, STRONG)
    yield from (
        said_line(survey.worst) for survey in sheet.surveys if survey.worst.grave
    )
    yield from (said_line(said) for said in sheet.signing)


def said_line(said: Said) -> Flowable:
    """Return a sentence, strong where it is to stand out."""
    return paragraph(said.words, STRONG if said.grave else BODY)


def _cautions(cautions: Sequence[str]) -> Iterator[Flowable]:
    yield Spacer(0, 6)
    yield boxed([paragraph(words, CELL) for words in cautions], WIDTH)


def _rows(rows: Sequence[Answered]) -> Iterator[Flowable]:
    """Yield the readings; the name of a repeated line stays with its first place."""
    widths = [24.0, 196.0, 116.0, 82.0]
    columns = ("Line", "Asked", "Limit or criterion", "Found", "Verdict")
    told = [_row(row) for row in rows]
    yield from ledger(columns, told, [*widths, WIDTH - sum(widths)])


def _row(row: Answered) -> tuple[Any, ...]:
    strong = CELL_STRONG if row.grave else CELL
    verdict: list[Flowable] = [paragraph(row.verdict, strong)] if row.verdict else []
    if row.remark:
        verdict.append(paragraph(row.remark, SMALL))
    asked = row.asked or paragraph(row.place, CELL_UNDER)
    found = paragraph(row.found, strong) if row.grave else row.found
    return row.number, asked, row.limit, found, verdict or ""


def _pictures(
    traces: Sequence[TracePart], surveys: Sequence[SurveyPart]
) -> Iterator[Flowable]:
    for trace in traces:
        yield _trace(trace)
    for survey in surveys:
        yield from _survey(survey)


def _trace(trace: TracePart) -> Flowable:
    parts: list[Flowable] = [*heading(trace.title), Picture(trace.drawing, WIDTH)]
    parts.append(paragraph(trace.origin, SMALL))
    widths = [200.0, 90.0]
    columns = ("Line that takes its value from it", "Value", "How it was found")
    parts += ledger(columns, trace.found, [*widths, WIDTH - sum(widths)])
    parts += [paragraph(note, CELL) for note in trace.notes]
    return KeepTogether(parts)


def _survey(survey: SurveyPart) -> Iterator[Flowable]:
    sketch = Picture(survey.drawing, WIDTH)
    title = f"Thickness survey: line {survey.title}"
    yield KeepTogether([*heading(title), sketch, said_line(survey.worst)])
    widths = [30.0, 200.0, 90.0]
    columns = ("Point", "Where", "Thickness", "Within, either way")
    yield from ledger(columns, survey.points, [*widths, WIDTH - sum(widths)])


def _wears(wears: Sequence[Wear]) -> Iterator[Flowable]:
    widths = [196.0, 48.0, 86.0]
    columns = ("Limit", "mm", "Reached", "How sure")
    for wear in wears:
        rows = [
            (one.name, f"{one.mm:.4g}", one.reached, one.band) for one in wear.limits
        ]
        said = [said_line(Said(wear.standing, wear.grave)), paragraph(wear.rate, CELL)]
        table = ledger(columns, rows, [*widths, WIDTH - sum(widths)])
        yield KeepTogether([*heading(f"Wear: {wear.title}"), *said, *table])


def _instruments(sheet: CertificateSheet) -> Iterator[Flowable]:
    yield from heading("Gauges and rigs cited by the readings")
    if not sheet.instruments:
        yield paragraph("None is cited; see “Gauges as noted” above.")
        return
    widths = [50.0, 128.0, 50.0, 106.0, 64.0]
    columns = ("Number", "What", "Lines", "Calibrated", "Good until", "On the day")
    rows = [
        (
            paragraph(one.number, CELL_STRONG),
            one.what,
            one.lines,
            one.calibrated,
            one.good_until,
            paragraph(one.standing.words, CELL_STRONG if one.standing.grave else CELL),
        )
        for one in sheet.instruments
    ]
    yield from ledger(columns, rows, [*widths, WIDTH - sum(widths)])


def _signatures(sheet: CertificateSheet) -> KeepTogether:
    signers = [("Tested by", sheet.done_by), ("Checked by", "")]
    if sheet.to_counter_sign:
        signers.insert(1, ("Counter-signed by", ""))
    return KeepTogether([*heading("Signed by hand"), signatures(signers, WIDTH)])


def _superseded(records: Sequence[Superseded]) -> Iterator[Flowable]:
    if not records:
        return
    yield from heading(_SUPERSEDED, 200)
    for record in records:
        yield barred(paragraph(record.title, ALARM), WIDTH)
        yield Spacer(0, 3)
        yield paragraph(record.facts, CELL)
        yield from _rows(record.rows)
        yield from _pictures(record.traces, record.surveys)
        yield Spacer(0, 10)


_PLATE = TableStyle(
    (
        TYPEFACE,
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
    )
)
