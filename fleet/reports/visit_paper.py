"""The sheet of a shop visit: jobs, parts and cautions, with room for a pencil."""

from collections.abc import Iterator

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Spacer, TableStyle

from fleet.reports.document import PORTRAIT, build, text_width
from fleet.reports.drawing import Picture, colour
from fleet.reports.sheet import Head, Printed
from fleet.reports.square_code import square_code
from fleet.reports.typesetting import (
    CELL,
    CELL_STRONG,
    NUMBER,
    SMALL,
    STRONG,
    TYPEFACE,
    boxed,
    heading,
    paragraph,
    plain,
    signatures,
)
from fleet.reports.wall_paper import CAUTION
from fleet.ui.cautions import caution
from fleet.ui.drawing import Drawing, Pen, Rect
from fleet.ui.palette import INK, RULE
from fleet.upkeep.due import written
from fleet.workshop.wall import SheetJob, VisitSheet

WIDTH = text_width(PORTRAIT)
CODE_SIDE = 26 * mm
TICK = 6.5 * mm
CAUTIONS = (
    "movement",
    "drain_and_vent",
    "pressure_joint",
    "vacuum_drop",
    "stored_energy",
    "asbestos",
    "after_work",
    "local_instruction",
)
_TOLD = WIDTH * 0.58
_LINE = "_" * 20


def draw_visit_sheet(sheet: VisitSheet, printed: Printed, address: str) -> bytes:
    """Return the sheet as PDF; the same visit gives the same bytes. `address`: its page."""
    return build(list(_story(sheet, address)), _head(sheet, printed))


def _head(sheet: VisitSheet, printed: Printed) -> Head:
    return Head(
        "Shop visit",
        sheet.number,
        f"{written(sheet.monday)} to {written(sheet.friday)}",
        "",
        f"Generated {printed.time}",
        printed.records,
        CAUTION,
    )


def _story(sheet: VisitSheet, address: str) -> Iterator[Flowable]:
    yield _top(sheet, address)
    yield Spacer(0, 4)
    said = [caution(key) for key in CAUTIONS]
    yield boxed([paragraph(f"{one.title}. {one.text}", SMALL) for one in said], WIDTH)
    yield from heading("Jobs")
    for n, job in enumerate(sheet.jobs, 1):
        yield KeepTogether([_job(n, job)])
    yield Spacer(0, 6)
    yield KeepTogether(
        [
            paragraph("Found besides, and parts taken off for access", STRONG),
            Spacer(0, 52),
            signatures(
                [("Work done by", ""), ("Looked at by somebody else", "")], WIDTH
            ),
            Spacer(0, 4),
            paragraph(
                "Tests and fittings count once they are recorded in the register; this "
                "sheet releases nothing.",
                SMALL,
            ),
        ]
    )


def _top(sheet: VisitSheet, address: str) -> Flowable:
    where = " · ".join(word for word in (sheet.kind, sheet.depot) if word)
    hours = ", ".join(f"{number} h {skill}" for skill, number in sheet.hours)
    weeks = f"{sheet.weeks} week{'s' if sheet.weeks > 1 else ''}"
    told = [
        paragraph(sheet.number, NUMBER),
        paragraph(where, CELL),
        paragraph(
            f"In the shop from {written(sheet.monday)} to {written(sheet.friday)}, "
            f"{weeks}",
            STRONG,
        ),
        paragraph(f"{hours} in all" if hours else "No hours planned", CELL),
        paragraph(f"Programme {sheet.programme}: {sheet.title}", SMALL),
        paragraph("The square code opens this visit in the register.", SMALL),
    ]
    code = Picture(square_code(address), CODE_SIDE)
    beside = WIDTH - CODE_SIDE - 6
    return plain([[told, code]], [beside, CODE_SIDE + 6], _TOP)


def _job(number: int, job: SheetJob) -> Flowable:
    done = f", recorded as done {written(job.done_on)}" if job.done_on else ""
    asked = [
        paragraph(f"{number}. {job.title} ({job.code})", CELL_STRONG),
        *_of_what(job),
        paragraph(
            f"Due {written(job.due_on)}, planned by {written(job.done_by)}{done}"
        ),
        paragraph(_takes(job), SMALL),
    ]
    if job.parts:
        asked.append(paragraph(f"Parts: {job.parts}", CELL))
    if job.note:
        asked.append(paragraph(job.note, CELL_STRONG))
    return plain([[asked, _answer(job)]], [_TOLD, WIDTH - _TOLD], _JOB)


def _of_what(job: SheetJob) -> Iterator[Flowable]:
    words = ", ".join(word for word in (job.item, job.position) if word)
    if words:
        yield paragraph(words, CELL)
    if job.procedure_title:
        yield paragraph(f"By procedure {job.procedure_title}", CELL)


def _takes(job: SheetJob) -> str:
    hours = [f"{number} h {skill}" for skill, number in job.hours]
    unit = ["an exchange unit is fitted"] if job.exchange else []
    return " · ".join([*([job.place] if job.place else []), *hours, *unit])


def _answer(job: SheetJob) -> list[Flowable]:
    tick = Picture(_box(), TICK)
    answers = ["Done", "Not done, because:"]
    rows = [[tick, paragraph(words, CELL)] for words in answers]
    lines: list[Flowable] = [plain(rows, [TICK + 6, WIDTH - _TOLD - TICK - 6], _TICKS)]
    if job.exchange:
        lines.append(paragraph(f"Number taken off {_LINE}", SMALL))
        lines.append(Spacer(0, 6))
        lines.append(paragraph(f"Number fitted {_LINE}", SMALL))
        lines.append(Spacer(0, 6))
    lines.append(paragraph(f"By, on {_LINE}", SMALL))
    return lines


def _box() -> Drawing:
    return Drawing(TICK, TICK, (Rect(0.5, 0.5, TICK - 1, TICK - 1, Pen(INK, 1.0)),))


_TOP = TableStyle(
    (
        TYPEFACE,
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    )
)
_JOB = TableStyle(
    (
        TYPEFACE,
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
        ("LINEABOVE", (0, 0), (-1, 0), 0.6, colour(RULE)),
        ("TOPPADDING", (0, 0), (-1, -1), 5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
    )
)
_TICKS = TableStyle(
    (
        TYPEFACE,
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    )
)
