"""The fleet fitness report on paper."""

from collections.abc import Iterator, Sequence
from typing import Any

from reportlab.platypus import Flowable, Spacer

from fleet.reports.document import LANDSCAPE, build, text_width
from fleet.reports.drawing import Picture
from fleet.reports.fleet_report import (
    DUE_DAYS,
    FleetSheet,
    VehicleLine,
    WordsLine,
)
from fleet.reports.sheet import DASH
from fleet.reports.typesetting import (
    BODY,
    CELL,
    CELL_STRONG,
    LEVEL,
    NUMBER,
    STRONG,
    boxed,
    heading,
    ledger,
    mark,
    paragraph,
)

WIDTH = text_width(LANDSCAPE)
_VEHICLE = (56.0, 104.0, 32.0, 82.0, 32.0, 82.0, 116.0, 90.0)
_STRIP = WIDTH - sum(_VEHICLE)


def draw_fleet_report(sheet: FleetSheet) -> bytes:
    """Return the report as PDF; the same sheet gives the same bytes."""
    return build(list(_story(sheet)), sheet.head, size=LANDSCAPE)


def _story(sheet: FleetSheet) -> Iterator[Flowable]:
    yield paragraph(sheet.total, NUMBER)
    if sheet.head.remark:
        yield boxed([paragraph(sheet.head.remark, STRONG)], WIDTH)
    yield Spacer(0, 4)
    yield from _counts(sheet)
    yield Spacer(0, 6)
    yield boxed([paragraph(words, CELL) for words in sheet.cautions], WIDTH)
    yield from heading("Every vehicle")
    yield from _vehicles(sheet.vehicles)
    if sheet.waiting:
        yield from heading("Not yet reassessed: not to be taken as fit")
        yield paragraph(", ".join(sheet.waiting))
    yield from _words("Not to run", sheet.stopped)
    yield from _words("Convey as piped", sheet.piped)
    yield from _words("Fit braked, with conditions", sheet.conditional)
    yield from _due(sheet)


def _counts(sheet: FleetSheet) -> Iterator[Flowable]:
    rows = [
        [
            mark(line.mark),
            paragraph(line.mark.words, LEVEL),
            paragraph(str(line.air), LEVEL),
            paragraph(str(line.vacuum), LEVEL),
        ]
        for line in sheet.counts
    ]
    columns = ("", "Brake status", "In an air train", "In a vacuum train")
    yield from ledger(columns, rows, (32, 220, 90, 90))


def _vehicles(lines: Sequence[VehicleLine]) -> Iterator[Flowable]:
    if not lines:
        yield paragraph("None.", BODY)
    columns = (
        "Vehicle",
        "Type, depot, standing",
        *("", "Air"),
        *("", "Vacuum"),
        "Conditions",
        "Fit until",
        "Six months back, 18 on",
    )
    rows = [_vehicle(line) for line in lines]
    yield from ledger(columns, rows, (*_VEHICLE, _STRIP))


def _vehicle(line: VehicleLine) -> list[Any]:
    return [
        paragraph(line.number, CELL_STRONG),
        line.type,
        mark(line.air),
        line.air.words,
        mark(line.vacuum),
        line.vacuum.words,
        line.conditions,
        line.until,
        Picture(line.strip, _STRIP - 6) if line.strip else DASH,
    ]


def _words(title: str, lines: Sequence[WordsLine]) -> Iterator[Flowable]:
    yield from heading(f"{title}: why")
    if not lines:
        yield paragraph("None.", BODY)
    rows = [
        [paragraph(line.number, CELL_STRONG), line.level, line.words] for line in lines
    ]
    widths = (70.0, 150.0)
    columns = ("Vehicle", "Brake status", "In words")
    yield from ledger(columns, rows, (*widths, WIDTH - sum(widths)))


def _due(sheet: FleetSheet) -> Iterator[Flowable]:
    yield from heading(f"Overdue, and due within {DUE_DAYS} days")
    if not sheet.due:
        yield paragraph("Nothing.", BODY)
    rows = [
        (
            d.day,
            paragraph(d.number, CELL_STRONG),
            d.title,
            d.subject,
            d.effect,
            d.basis,
        )
        for d in sheet.due
    ]
    widths = (118.0, 58.0, 150.0, 150.0, 110.0)
    columns = ("Due", "Vehicle", "Requirement", "Of", "If overrun", "Basis")
    yield from ledger(columns, rows, (*widths, WIDTH - sum(widths)))
