"""A signed release to traffic on paper."""

from collections.abc import Iterator

from reportlab.platypus import Flowable, KeepTogether, Spacer

from fleet.reports.certificate_paper import particulars_table, said_line
from fleet.reports.document import PORTRAIT, build, text_width
from fleet.reports.release import ReleaseSheet
from fleet.reports.typesetting import (
    CELL,
    CELL_STRONG,
    LEVEL,
    NUMBER,
    boxed,
    heading,
    ledger,
    paragraph,
    signatures,
)

WIDTH = text_width(PORTRAIT)


def draw_release(sheet: ReleaseSheet) -> bytes:
    """Return the paper as PDF; the same sheet gives the same bytes."""
    return build(list(_story(sheet)), sheet.head)


def _story(sheet: ReleaseSheet) -> Iterator[Flowable]:
    yield paragraph(sheet.head.subject, NUMBER)
    yield particulars_table(sheet.particulars)
    yield Spacer(0, 6)
    yield boxed([paragraph(sheet.result, LEVEL)], WIDTH)
    yield Spacer(0, 4)
    yield from map(said_line, sheet.signing)
    yield Spacer(0, 6)
    yield boxed([paragraph(words, CELL) for words in sheet.cautions], WIDTH)
    yield from _tests(sheet)
    yield from _steps(sheet)
    yield _signatures(sheet)


def _tests(sheet: ReleaseSheet) -> Iterator[Flowable]:
    yield from heading("Tests from the start of the work to the release")
    if not sheet.tests:
        yield paragraph("No test of the vehicle is recorded between the two.")
        return
    widths = [48.0, 190.0, 84.0, 86.0]
    rows = [
        (
            paragraph(one.number, CELL_STRONG),
            one.what,
            one.on,
            one.by,
            paragraph(one.result.words, CELL_STRONG if one.result.grave else CELL),
        )
        for one in sheet.tests
    ]
    columns = ("Test", "Procedure", "Done", "By", "Result")
    yield from ledger(columns, rows, [*widths, WIDTH - sum(widths)])


def _steps(sheet: ReleaseSheet) -> Iterator[Flowable]:
    if not sheet.steps:
        return
    yield from heading("What was recorded of the defect")
    widths = [90.0, 100.0, 100.0]
    rows = [(one.what, one.on, one.by, one.note) for one in sheet.steps]
    columns = ("Step", "When", "By", "Note")
    yield from ledger(columns, rows, [*widths, WIDTH - sum(widths)])


def _signatures(sheet: ReleaseSheet) -> KeepTogether:
    signers = [("Work done by", sheet.done_by), ("Released by", sheet.released_by)]
    if sheet.to_counter_sign:
        signers.append(("Counter-signed by", ""))
    return KeepTogether([*heading("Signed by hand"), signatures(signers, WIDTH)])
