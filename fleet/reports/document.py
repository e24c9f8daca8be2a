"""The paper under every report: A4, head and foot on each page, page x of y."""

from collections.abc import Sequence
from functools import partial
from io import BytesIO
from typing import Any

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate

from fleet.reports.drawing import colour
from fleet.reports.fonts import BOLD, REGULAR, register
from fleet.reports.sheet import UNCONTROLLED, Head
from fleet.reports.typesetting import FOOT, clean, paragraph
from fleet.ui.palette import INK, INK_SOFT

MARGIN = 15 * mm
PORTRAIT: tuple[float, float] = A4
LANDSCAPE: tuple[float, float] = (A4[1], A4[0])
_HEAD, _FOOT = 13 * mm, 17 * mm  # kept free of the story at top and foot


class NumberedCanvas(Canvas):
    """A canvas that holds every page back until it knows how many there are."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._held: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802  # the library's name
        """Hold a finished page back."""
        self._held.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        """Write "page x of y" on each page and let them go."""
        for page in self._held:
            self.__dict__.update(page)
            self._number(len(self._held))
            super().showPage()
        super().save()

    def _number(self, pages: int) -> None:
        self.setFont(REGULAR, 8)
        self.setFillColor(colour(INK))
        right = self._pagesize[0] - MARGIN
        words = f"Page {self._pageNumber} of {pages}"
        self.drawRightString(right, MARGIN - 3 * mm, words)


def text_width(size: tuple[float, float]) -> float:
    """Return the width in points a story has on a page of a size."""
    return size[0] - 2 * float(MARGIN)


def build(
    story: Sequence[Flowable], head: Head, *, size: tuple[float, float] = PORTRAIT
) -> bytes:
    """Return the PDF of a story; the same story and head give the same bytes."""
    register()
    buffer = BytesIO()
    document = BaseDocTemplate(
        buffer,
        pagesize=size,
        title=clean(f"{head.title}: {head.subject}"),
        subject=clean(f"{head.status_on}. {head.records}"),
        author="Brake register",
        creator="Brake register",
        lang="en-GB",
        invariant=1,
    )
    low = MARGIN + _FOOT
    frame = Frame(
        MARGIN,
        low,
        text_width(size),
        size[1] - low - MARGIN - _HEAD,
        *(0, 0, 0, 0),
    )
    edges = partial(_edges, head)
    document.addPageTemplates(PageTemplate("page", [frame], onPage=edges))
    document.build(list(story), canvasmaker=NumberedCanvas)
    return buffer.getvalue()


def _edges(head: Head, canvas: Any, document: Any) -> None:
    width, height = document.pagesize
    canvas.saveState()
    _draw_head(canvas, head, width, height - MARGIN)
    _draw_foot(canvas, head, width)
    canvas.restoreState()


def _draw_head(canvas: Any, head: Head, width: float, top: float) -> None:
    right = width - MARGIN
    canvas.setFillColor(colour(INK))
    canvas.setFont(BOLD, 10)
    canvas.drawString(MARGIN, top - 8, clean(f"{head.title}: {head.subject}"))
    canvas.drawRightString(right, top - 8, clean(head.status_on))
    canvas.setFont(REGULAR, 7.5)
    canvas.setFillColor(colour(INK_SOFT))
    canvas.drawString(MARGIN, top - 19, clean(head.generated))
    canvas.drawRightString(right, top - 19, clean(head.records))
    canvas.setStrokeColor(colour(INK))
    canvas.setLineWidth(1.2)
    canvas.line(MARGIN, top - 25, right, top - 25)


def _draw_foot(canvas: Any, head: Head, width: float) -> None:
    caution = paragraph(head.caution, FOOT)
    room = width - 2 * MARGIN
    _, height = caution.wrap(room - 4 * mm, _FOOT)
    low = MARGIN + 2 * mm
    canvas.setFillColor(colour(INK))
    canvas.rect(MARGIN, low, 1.2 * mm, height, stroke=0, fill=1)
    caution.drawOn(canvas, MARGIN + 3 * mm, low)
    canvas.setFont(REGULAR, 8)
    canvas.drawString(MARGIN, MARGIN - 3 * mm, UNCONTROLLED)
