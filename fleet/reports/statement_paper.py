"""A vehicle's fitness statement on paper."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from reportlab.platypus import (
    Flowable,
    KeepTogether,
    PageBreak,
    Spacer,
    Table,
    TableStyle,
)

from fleet.reports.document import PORTRAIT, build, text_width
from fleet.reports.drawing import Picture, colour
from fleet.reports.recorded import DUE_MONTHS
from fleet.reports.sheet import Mark
from fleet.reports.square_code import square_code
from fleet.reports.statement import (
    MONTHS_AHEAD,
    FindingLine,
    Issued,
    StatementSheet,
)
from fleet.reports.typesetting import (
    ALARM,
    BODY,
    CELL,
    CELL_STRONG,
    LEVEL,
    NUMBER,
    SMALL,
    STRONG,
    TYPEFACE,
    barred,
    boxed,
    heading,
    ledger,
    mark,
    paragraph,
    plain,
    signatures,
)
from fleet.ui.palette import RULE

WIDTH = text_width(PORTRAIT)


DRAFT = "Draft, not issued under a number. Only an issued statement can be vouched for."
CODE_SIDE = 78.0


def draw_statement(sheet: StatementSheet, issued: Issued | None = None) -> bytes:
    """Return the statement as PDF; the same sheet gives the same bytes."""
    return build(list(_story(sheet, issued)), sheet.head)


def draw_statements(papers: Sequence[tuple[StatementSheet, Issued]]) -> bytes:
    """Return several issued statements as one PDF, each begun on a page of its own."""
    story: list[Flowable] = []
    for at, (sheet, issued) in enumerate(papers):
        story += [PageBreak()] if at else []
        story += _story(sheet, issued)
    first = papers[0][0].head
    subject = f"{len(papers)} vehicles" if len(papers) > 1 else first.subject
    return build(story, replace(first, subject=subject))


def _story(sheet: StatementSheet, issued: Issued | None) -> Iterator[Flowable]:
    yield from _number(issued)
    yield from _plate(sheet)
    yield from _status(sheet)
    if sheet.conditions:
        yield from heading("Conditions")
        lines = [paragraph(words, STRONG) for words in sheet.conditions]
        yield boxed(lines, WIDTH)
    yield from heading("Outstanding on this day")
    yield from _findings(sheet.outstanding, sheet.nothing, _outstanding)
    yield from heading(
        f"To come within {MONTHS_AHEAD} months if nothing more is recorded"
    )
    yield from _findings(sheet.coming, "Nothing.", _coming)
    yield from _records(sheet)
    yield from _due(sheet)
    yield _signatures(sheet)


def _number(issued: Issued | None) -> Iterator[Flowable]:
    if issued is None:
        yield boxed([paragraph(DRAFT, STRONG)], WIDTH)
        yield Spacer(0, 4)
        return
    if issued.remark:
        yield barred(paragraph(issued.remark, ALARM), WIDTH)
        yield Spacer(0, 4)
    told = [
        paragraph(f"Statement No. {issued.number}", STRONG),
        paragraph(issued.signed, CELL),
        paragraph(f"Digest {issued.digest}", SMALL),
        paragraph(f"Facts sealed {issued.facts}", SMALL),
        paragraph(
            "The square code opens a page that says whether this statement is valid, "
            "withdrawn or superseded.",
            SMALL,
        ),
    ]
    code = Picture(square_code(issued.address), CODE_SIDE)
    yield plain([[told, code]], [WIDTH - CODE_SIDE - 6, CODE_SIDE + 6], _PLATE)
    yield Spacer(0, 4)


def _plate(sheet: StatementSheet) -> Iterator[Flowable]:
    yield paragraph(sheet.head.subject, NUMBER)
    named = [
        [paragraph(name, SMALL), paragraph(words, CELL)]
        for name, words in sheet.particulars
    ]
    half = (len(named) + 1) // 2
    empty = [paragraph("", SMALL), paragraph("", CELL)]
    pairs = zip(named[:half], [*named[half:], empty][:half], strict=True)
    narrow, wide = 62.0, WIDTH / 2 - 62
    yield plain(
        [left + right for left, right in pairs], [narrow, wide, narrow, wide], _PLATE
    )
    if sheet.head.remark:
        yield Spacer(0, 4)
        yield boxed([paragraph(sheet.head.remark, STRONG)], WIDTH)


def _status(sheet: StatementSheet) -> Iterator[Flowable]:
    yield Spacer(0, 6)
    if sheet.stopped:
        yield barred(paragraph(f"NOT TO RUN. {sheet.stopped}", ALARM), WIDTH)
        yield Spacer(0, 6)
    widths = [80.0, 32.0, 138.0, 62.0, 72.0]
    rows = [
        [
            paragraph(line.name, STRONG),
            mark(line.mark),
            paragraph(line.mark.words, LEVEL),
            line.since,
            paragraph(line.until, CELL_STRONG),
            line.first,
        ]
        for line in sheet.systems
    ]
    columns = (
        "",
        "",
        "Brake status",
        "Since",
        "Fit until",
        "First to expire or reason",
    )
    yield from ledger(columns, rows, [*widths, WIDTH - sum(widths)])
    if sheet.strip is not None:
        yield Spacer(0, 5)
        yield Picture(sheet.strip, WIDTH)
        yield _key()


def _key() -> Table:
    """Return the shapes with their words, so that the strip reads without colour."""
    cells: list[Flowable] = []
    for shape, words in (
        ("braked", "Fit to run braked"),
        ("conditional", "Fit braked, with conditions"),
        ("piped", "Convey as piped"),
        ("stopped", "Not to run"),
    ):
        cells += [mark(Mark(shape, words)), paragraph(words, SMALL)]
    return plain([cells], [30, 78, 30, 122, 30, 76, 30, WIDTH - 396], _KEY)


def _findings(
    findings: Sequence[FindingLine],
    none: str,
    told: Callable[[FindingLine], list[Flowable]],
) -> Iterator[Flowable]:
    if not findings:
        yield paragraph(none, BODY)
    for finding in findings:
        row = [finding.number, told(finding)]
        yield KeepTogether([plain([row], [18, WIDTH - 18], _FINDINGS)])


def _outstanding(finding: FindingLine) -> list[Flowable]:
    lines: list[Flowable] = [
        paragraph(finding.text, STRONG),
        paragraph(f"{finding.effect}, {finding.day}.", CELL),
    ]
    if finding.clears:
        lines.append(paragraph(f"Cleared by: {finding.clears}", CELL))
    return [*lines, paragraph(finding.evidence, SMALL)]


def _coming(finding: FindingLine) -> list[Flowable]:
    clears = f" Cleared by: {finding.clears}" if finding.clears else ""
    return [
        paragraph(finding.text, CELL_STRONG),
        paragraph(f"{finding.effect}, {finding.day}.{clears}", CELL),
        paragraph(finding.evidence, SMALL),
    ]


def _records(sheet: StatementSheet) -> Iterator[Flowable]:
    yield from heading("Open defects, isolations and work in hand")
    if not (sheet.defects or sheet.isolations):
        yield paragraph("None recorded.")
    widths = [55.0, 150.0, 120.0, 90.0]
    rows = [(d.number, d.title, d.where, d.standing, d.effect) for d in sheet.defects]
    columns = ("Number", "Defect", "Where", "Last step", "Effect")
    yield from ledger(columns, rows, [*widths, WIDTH - sum(widths)])
    for words in sheet.isolations:
        yield paragraph(words, BODY)
    yield from heading("Last tests and examinations")
    if not sheet.tests:
        yield paragraph("None recorded.")
    widths = [62.0, 148.0, 146.0, 84.0]
    tests = [(t.day, t.title, t.subject, t.result, t.signed) for t in sheet.tests]
    columns = ("Done", "Procedure", "Of", "Result", "Signed by")
    yield from ledger(columns, tests, [*widths, WIDTH - sum(widths)])


def _due(sheet: StatementSheet) -> Iterator[Flowable]:
    yield from heading("Next due")
    if not sheet.due:
        yield paragraph(f"No due date within {DUE_MONTHS} months is recorded.")
    widths = [62.0, 62.0, 126.0, 122.0]
    rows = [(d.day, d.last_good, d.title, d.subject, d.basis) for d in sheet.due]
    columns = ("Due", "Tolerated to", "Requirement", "Of", "Basis")
    yield from ledger(columns, rows, [*widths, WIDTH - sum(widths)])
    if sheet.due_beyond:
        yield paragraph(sheet.due_beyond, SMALL)


def _signatures(sheet: StatementSheet) -> KeepTogether:
    """Return the block to be signed by hand, never parted from its cautions."""
    table = signatures((("Prepared by", ""), ("Released by", "")), WIDTH)
    cautions = [paragraph(words, CELL) for words in sheet.cautions]
    block = [Spacer(0, 6), boxed(cautions, WIDTH), *heading("Signed by hand"), table]
    return KeepTogether(block)


_PLATE = TableStyle(
    (
        TYPEFACE,
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
    )
)
_KEY = TableStyle(
    (
        TYPEFACE,
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 2),
        ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
    )
)
_FINDINGS = TableStyle(
    (
        TYPEFACE,
        ("FONT", (0, 0), (0, -1), STRONG.fontName, STRONG.fontSize, STRONG.leading),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, -1), 0.5, colour(RULE)),
    )
)
