"""Type styles and the pieces papers are set from: paragraphs, ledgers, ruled boxes."""

import re
from collections.abc import Iterator, Sequence
from functools import cache
from html import escape
from itertools import islice
from typing import Any

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import CondPageBreak, Flowable, Paragraph, Table, TableStyle

from fleet.reports.drawing import Picture, colour
from fleet.reports.fonts import BOLD, REGULAR, register
from fleet.reports.sheet import Mark
from fleet.ui.level_shapes import level_mark
from fleet.ui.palette import INK, INK_SOFT, RULE

register()  # a style looks its typeface up when it is made

ROWS_A_TABLE = 200  # one table of thousands of rows is laid out three times as slowly
PLAIN_LINES = 12  # a cell of more lines must be able to break across pages,
LONG_CELL = 600  # and one of more characters breaks its row
MARK_WIDTH = 26.0
PADDING = 3.0

BODY = ParagraphStyle(
    "body",
    fontName=REGULAR,
    fontSize=9,
    leading=12,
    textColor=colour(INK),
    splitLongWords=1,
)
STRONG = ParagraphStyle("strong", BODY, fontName=BOLD)
SMALL = ParagraphStyle(
    "small", BODY, fontSize=7.5, leading=9.5, textColor=colour(INK_SOFT)
)
CELL = ParagraphStyle("cell", BODY, fontSize=8, leading=9.6)
CELL_STRONG = ParagraphStyle("cell strong", CELL, fontName=BOLD)
CELL_UNDER = ParagraphStyle("cell under", CELL, leftIndent=10)
COLUMN = ParagraphStyle("column", SMALL, fontName=BOLD, textColor=colour(INK))
HEADING = ParagraphStyle(
    "heading",
    STRONG,
    fontSize=11,
    leading=14,
    spaceBefore=8,
    spaceAfter=2,
)
NUMBER = ParagraphStyle("number", STRONG, fontSize=26, leading=30)
LEVEL = ParagraphStyle("level", STRONG, fontSize=11, leading=13)
ALARM = ParagraphStyle(
    "alarm", STRONG, fontSize=13, leading=16, textColor=colour("#ffffff")
)
FOOT = ParagraphStyle("foot", BODY, fontSize=7.5, leading=9.5)

# Control characters and lone surrogates, which no typeface and no file can hold.
_UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


def clean(text: str) -> str:
    """Return a text with what cannot be printed taken out."""
    return _UNPRINTABLE.sub(" ", text)


def paragraph(text: str, style: ParagraphStyle = BODY) -> Paragraph:
    """Return a paragraph of plain words: nothing in them is read as markup."""
    return Paragraph(escape(clean(text), quote=False).replace("\n", "<br/>"), style)


def heading(title: str, room: float = 64.0) -> Iterator[Flowable]:
    """Yield a heading that begins a new page unless `room` points are left under it."""
    yield CondPageBreak(room)
    yield paragraph(title, HEADING)


def cell(text: str, width: float, style: ParagraphStyle = CELL) -> Any:
    """
    Return a table cell: plain lines where they can be broken at words, else a paragraph.

    Plain lines are set several times faster, which a report of thousands of rows needs.
    """
    words, room = clean(text), width - 2 * PADDING
    lines = simpleSplit(words, style.fontName, style.fontSize, room)
    fits = all(
        stringWidth(line, style.fontName, style.fontSize) <= room for line in lines
    )
    if style is CELL and fits and len(lines) <= PLAIN_LINES:
        return "\n".join(lines)
    return paragraph(text, style)


def mark(level: Mark) -> Picture:
    """Return the shape of a level."""
    return Picture(_mark(level.shape), MARK_WIDTH)


_mark = cache(level_mark)


def ledger(
    columns: Sequence[str], rows: Sequence[Sequence[Any]], widths: Sequence[float]
) -> Iterator[Table]:
    """
    Yield the tables that hold the rows, ruled like a ledger, columns named on each page.

    A cell is words or a flowable.
    """
    top = [paragraph(name, COLUMN) for name in columns]
    stream = iter(rows)
    while chunk := list(islice(stream, ROWS_A_TABLE)):
        body = [
            [
                cell(value, width) if isinstance(value, str) else value
                for value, width in zip(row, widths, strict=True)
            ]
            for row in chunk
        ]
        yield Table(
            [top, *body],
            colWidths=list(widths),
            repeatRows=1,
            style=_LEDGER,
            hAlign="LEFT",
            splitInRow=int(any(_long(value) for row in chunk for value in row)),
        )


def _long(value: Any) -> bool:
    return isinstance(value, str) and len(value) > LONG_CELL


def boxed(lines: Sequence[Flowable], width: float) -> Table:
    """Return lines in a thin frame with a heavy rule at the left."""
    return plain([[line] for line in lines], [width], _BOXED)


def barred(line: Flowable, width: float) -> Table:
    """Return a line in white on a black bar."""
    return plain([[line]], [width], _BARRED)


def plain(
    rows: Sequence[Sequence[Any]],
    widths: Sequence[float],
    style: TableStyle,
    **more: Any,
) -> Table:
    """Return a table without column names, which breaks inside a row where it must."""
    return Table(
        [list(row) for row in rows],
        colWidths=list(widths),
        style=style,
        hAlign="LEFT",
        splitInRow=1,
        **more,
    )


def signatures(
    signers: Sequence[tuple[str, str]], width: float, *, height: float = 30.0
) -> Table:
    """Return boxes to sign in: what each signer did, and the name where it is known."""
    columns = [paragraph(words, SMALL) for words in ("Name", "Signature", "Date, time")]
    rows = [[paragraph(""), *columns]]
    for did, name in signers:
        rows.append([paragraph(did, STRONG), paragraph(name, CELL), "", ""])
    widths = [104.0, 140.0, 170.0, width - 414.0]
    return plain(rows, widths, _SIGNED, rowHeights=[14.0, *[height] * len(signers)])


# The library's own typeface stands in a cell, even an empty one, unless one is named.
TYPEFACE = ("FONT", (0, 0), (-1, -1), REGULAR, CELL.fontSize, CELL.leading)
_CLOSE = (
    TYPEFACE,
    ("LEFTPADDING", (0, 0), (-1, -1), PADDING),
    ("RIGHTPADDING", (0, 0), (-1, -1), PADDING),
    ("TOPPADDING", (0, 0), (-1, -1), PADDING),
    ("BOTTOMPADDING", (0, 0), (-1, -1), PADDING),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
)
_LEDGER = TableStyle(
    (
        *_CLOSE,
        ("TEXTCOLOR", (0, 0), (-1, -1), colour(INK)),
        ("LINEBELOW", (0, 0), (-1, 0), 1, colour(INK)),
        ("LINEBELOW", (0, 1), (-1, -1), 0.5, colour(RULE)),
    )
)
_BOXED = TableStyle(
    (
        *_CLOSE,
        ("LEFTPADDING", (0, 0), (-1, -1), 9),
        ("BOX", (0, 0), (-1, -1), 0.6, colour(INK)),
        ("LINEBEFORE", (0, 0), (0, -1), 4, colour(INK), "butt"),
    )
)
_BARRED = TableStyle(
    (
        *_CLOSE,
        ("LEFTPADDING", (0, 0), (-1, -1), 9),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
        ("BACKGROUND", (0, 0), (-1, -1), colour(INK)),
    )
)
_SIGNED = TableStyle(
    (
        TYPEFACE,
        ("GRID", (1, 0), (-1, -1), 0.5, colour(INK)),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
    )
)
