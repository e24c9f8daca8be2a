"""A blank sheet on paper: boxes big enough for cold hands."""

from collections.abc import Iterator, Sequence
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Spacer, TableStyle

from fleet.reports.blank import HOW, BlankLine, BlankSheet, Box
from fleet.reports.document import PORTRAIT, build, text_width
from fleet.reports.drawing import Picture, colour
from fleet.reports.square_code import square_code
from fleet.reports.typesetting import (
    CELL,
    CELL_STRONG,
    HEADING,
    LEVEL,
    SMALL,
    STRONG,
    TYPEFACE,
    boxed,
    heading,
    paragraph,
    plain,
    signatures,
)
from fleet.ui.drawing import Drawing, Item, Line, Pen, Rect
from fleet.ui.palette import INK, INK_SOFT, RULE

WIDTH = text_width(PORTRAIT)
CODE_SIDE = 30 * mm
BOX_HEIGHT = 12 * mm
TICK = 8 * mm
_BOX = Pen(INK, 1.0)
_FEW_TICKS, _SHORT_TICK = 2, 9  # as many words as stand side by side, and as long
_WIDTHS = (24.0, 206.0, 120.0, WIDTH - 350.0)  # number, asked, limit, answer
_ROOM = 190.0  # for the name of a place
_BOX_WIDTH = 104.0
_TOGETHER = 5  # boxes of a line that stay on one page with it


def draw_blank_sheet(sheet: BlankSheet) -> bytes:
    """Return the sheet as PDF; the same sheet gives the same bytes."""
    return build(list(_story(sheet)), sheet.head)


def _story(sheet: BlankSheet) -> Iterator[Flowable]:
    yield _top(sheet)
    yield Spacer(0, 4)
    yield boxed([paragraph(words, CELL) for words in sheet.cautions], WIDTH)
    yield Spacer(0, 6)
    yield _particulars(sheet.number)
    yield from heading("Lines, in the order they are walked")
    yield paragraph(HOW, SMALL)
    if sheet.before:
        yield paragraph(sheet.before, SMALL)
    for line in sheet.lines:
        yield from _line(line)
    yield _remarks_and_signatures()


def _top(sheet: BlankSheet) -> Flowable:
    told: list[Flowable] = [paragraph(sheet.title, HEADING)]
    rows = [
        [paragraph(name, SMALL), paragraph(words, CELL)]
        for name, words in sheet.particulars
    ]
    beside = WIDTH - CODE_SIDE - 6
    told.append(plain(rows, [74, beside - 74], _PLATE))
    told.append(paragraph("The square code opens the form to enter this in:", SMALL))
    told.append(paragraph(sheet.address, CELL))
    code = Picture(square_code(sheet.address), CODE_SIDE)
    return plain([[told, code]], [beside, CODE_SIDE + 6], _TOP)


def _particulars(number: str) -> Flowable:
    """Return the boxes for what is asked of every test, the number in its own if known."""
    rows = [
        ["Vehicle or item", "Date", "Time"],
        ["Place", "Air temperature, °C", "Gauge or rig numbers"],
    ]
    cells: list[list[Any]] = [
        [paragraph(words, SMALL) for words in row] for row in rows
    ]
    cells[0][0] = [cells[0][0], paragraph(number, LEVEL)]
    widths = [WIDTH * 0.4, WIDTH * 0.25, WIDTH * 0.35]
    return plain(cells, widths, _FORM, rowHeights=[BOX_HEIGHT + 8] * len(rows))


def _line(line: BlankLine) -> Iterator[Flowable]:
    """Yield a line with its boxes; it begins on a page where the first of them fit."""
    if len(line.boxes) == 1 and not line.boxes[0].label and not line.open_places:
        box = line.boxes[0]
        yield KeepTogether([_row(line, _asked(line), _limit(line, box), box)])
        return
    head = _row(line, _asked(line), _limit(line))
    rows = [_place(line, box) for box in line.boxes]
    first = len(rows) if len(rows) <= _TOGETHER else 2
    yield KeepTogether([head, *rows[:first]])
    yield from rows[first:]


def _asked(line: BlankLine) -> list[Flowable]:
    hint = [paragraph(line.hint, SMALL)] if line.hint else []
    return [paragraph(line.asked, CELL_STRONG), *hint]


def _limit(line: BlankLine, box: Box | None = None) -> list[Flowable]:
    told: list[Flowable] = [paragraph(line.limit, CELL_STRONG)]
    return [*told, *_last(box)] if box else told


def _last(box: Box) -> list[Flowable]:
    return [paragraph(f"Last: {box.before}", SMALL)] if box.before else []


def _row(
    line: BlankLine,
    asked: list[Flowable],
    limit: list[Flowable],
    box: Box | None = None,
) -> Flowable:
    cells = [paragraph(line.number, STRONG), asked, limit, _answer(box) if box else ""]
    return plain([cells], _WIDTHS, _ASKED)


def _place(line: BlankLine, box: Box) -> Flowable:
    """Return the row of one place of a line; one without a name has room to write it."""
    named = paragraph(box.label, CELL) if box.label else Picture(_to_write_on(), _ROOM)
    number = paragraph(line.number, SMALL)
    return plain([[number, named, _last(box) or "", _answer(box)]], _WIDTHS, _ANSWER)


def _answer(box: Box) -> Flowable:
    if box.ticks:
        return _ticks(box.ticks)
    written = Picture(_empty(_BOX_WIDTH, BOX_HEIGHT), _BOX_WIDTH)
    widths = [_BOX_WIDTH + 4, _WIDTHS[3] - _BOX_WIDTH - 4]
    return plain([[written, paragraph(box.unit, CELL)]], widths, _TICKS)


def _ticks(words: Sequence[str]) -> Flowable:
    """Return a box to tick before each of some words, side by side or one a row."""
    tick = Picture(_empty(TICK, TICK), TICK)
    cells = [[tick, paragraph(said, CELL)] for said in words]
    room = _WIDTHS[3]
    if len(words) > _FEW_TICKS or max(map(len, words)) > _SHORT_TICK:
        return plain(cells, [TICK + 6, room - TICK - 6], _TICKS)
    row = [part for cell in cells for part in cell]
    share = room / len(words)
    return plain([row], [TICK + 6, share - TICK - 6] * len(words), _TICKS)


def _to_write_on() -> Drawing:
    pen = Pen(INK_SOFT, 0.7, (1.5, 2.0))
    return Drawing(
        _ROOM, BOX_HEIGHT, (Line(0, BOX_HEIGHT - 3, _ROOM, BOX_HEIGHT - 3, pen),)
    )


def _empty(width: float, height: float) -> Drawing:
    edge: Item = Rect(0.5, 0.5, width - 1, height - 1, _BOX)
    return Drawing(width, height, (edge,))


def _remarks_and_signatures() -> Flowable:
    remarks = plain(
        [[paragraph("Remarks, and why a line was not done", SMALL)]],
        [WIDTH],
        _FORM,
        rowHeights=[3 * BOX_HEIGHT],
    )
    signers = [(did, "") for did in ("Tested by", "Counter-signed by", "Entered by")]
    signed = signatures(signers, WIDTH, height=BOX_HEIGHT)
    title = paragraph("Signed by hand", HEADING)
    return KeepTogether([Spacer(0, 8), remarks, title, signed])


_TIGHT = (
    TYPEFACE,
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 4),
    ("TOPPADDING", (0, 0), (-1, -1), 1),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
)
_PLATE = TableStyle(_TIGHT)
_TOP = TableStyle((*_TIGHT, ("RIGHTPADDING", (1, 0), (1, -1), 0)))
_FORM = TableStyle(
    (
        TYPEFACE,
        ("GRID", (0, 0), (-1, -1), 1, colour(INK)),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
    )
)
_ASKED = TableStyle(
    (
        *_TIGHT,
        ("TOPPADDING", (0, 0), (-1, -1), 5),
        ("RIGHTPADDING", (1, 0), (2, -1), 10),
        ("LINEABOVE", (0, 0), (-1, 0), 0.5, colour(INK)),
    )
)
_ANSWER = TableStyle(
    (
        *_TIGHT,
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
        ("LINEABOVE", (1, 0), (-1, 0), 0.5, colour(RULE)),
    )
)
_TICKS = TableStyle((*_TIGHT, ("VALIGN", (0, 0), (-1, -1), "MIDDLE")))
