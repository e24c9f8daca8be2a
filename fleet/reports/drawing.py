"""A display list drawn on paper: the same shapes a page shows as SVG."""

from functools import cache
from typing import Any

from reportlab.lib.colors import Color, HexColor
from reportlab.platypus import Flowable

from fleet.reports.fonts import BOLD, REGULAR
from fleet.ui.drawing import Circle, Drawing, Item, Line, Path, Pen, Rect, Text


class Picture(Flowable):
    """A drawing that flows with the text, scaled to a width in points."""

    def __init__(self, drawing: Drawing, width: float) -> None:
        super().__init__()
        self.drawing = drawing
        self.scale = width / drawing.width
        self.width = width
        self.height = drawing.height * self.scale

    def draw(self) -> None:
        """Draw it with its lower left corner at the origin."""
        self.canv.saveState()
        self.canv.scale(self.scale, self.scale)
        for item in self.drawing.shapes():
            _draw(self.canv, item, self.drawing.height)
        self.canv.restoreState()


@cache
def colour(code: str) -> Color:
    """Return the colour of a code such as #1b2330."""
    return HexColor(code)


def _draw(canvas: Any, item: Item, top: float) -> None:
    # The list counts y downwards from its top edge, paper upwards.
    match item:
        case Rect():
            _rect(canvas, item, top)
        case Line():
            if _pen(canvas, item.pen):
                canvas.line(item.x1, top - item.y1, item.x2, top - item.y2)
        case Circle():
            how = _paint(canvas, item.pen, item.fill)
            canvas.circle(item.x, top - item.y, item.radius, **how)
        case Path():
            _path(canvas, item, top)
        case Text():
            _text(canvas, item, top)


def _rect(canvas: Any, rect: Rect, top: float) -> None:
    how = _paint(canvas, rect.pen, rect.fill)
    place = rect.x, top - rect.y - rect.height, rect.width, rect.height
    if rect.radius:
        canvas.roundRect(*place, rect.radius, **how)
    else:
        canvas.rect(*place, **how)


def _path(canvas: Any, path: Path, top: float) -> None:
    how = _paint(canvas, path.pen, path.fill)
    course = canvas.beginPath()
    for run in path.runs:
        first, *rest = [(x, top - y) for x, y in run]
        course.moveTo(*first)
        if path.curved:
            for at in range(0, len(rest), 3):
                course.curveTo(*rest[at], *rest[at + 1], *rest[at + 2])
        else:
            for point in rest:
                course.lineTo(*point)
        if path.closed:
            course.close()
    canvas.drawPath(course, **how)


def _text(canvas: Any, text: Text, top: float) -> None:
    canvas.setFont(BOLD if text.bold else REGULAR, text.size)
    canvas.setFillColor(colour(text.fill))
    write = {"middle": canvas.drawCentredString, "end": canvas.drawRightString}
    write.get(text.anchor, canvas.drawString)(text.x, top - text.y, text.words)


def _paint(canvas: Any, pen: Pen, fill: str) -> dict[str, int]:
    if fill:
        canvas.setFillColor(colour(fill))
    return {"stroke": int(_pen(canvas, pen)), "fill": int(bool(fill))}


def _pen(canvas: Any, pen: Pen) -> bool:
    if not pen.colour:
        return False
    canvas.setStrokeColor(colour(pen.colour))
    canvas.setLineWidth(pen.width)
    canvas.setDash(list(pen.dash))
    return True
