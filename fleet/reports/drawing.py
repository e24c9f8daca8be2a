"""A display list drawn on paper: the same shapes a page shows as SVG."""

from functools import cache
from typing import Any

from reportlab.lib.colors import Color, HexColor
from reportlab.platypus import Flowable

from fleet.reports.fonts import BOLD, REGULAR
from fleet.ui.drawing import NO_PEN, Circle, Drawing, Item, Line, Path, Pen, Rect, Text


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
        hand = _Hand(self.canv, self.drawing.height)
        for item in self.drawing.shapes():
            hand.draw(item)
        self.canv.restoreState()


@cache
def colour(code: str) -> Color:
    """Return the colour of a code such as #1b2330."""
    return HexColor(code)


class _Hand:
    """
    Draws the shapes of one picture, changing pen and fill only where they differ.

    The list counts y downwards from its top edge, paper upwards.
    """

    def __init__(self, canvas: Any, top: float) -> None:
        self._canvas = canvas
        self._top = top
        self._held = NO_PEN
        self._fill = ""

    def draw(self, item: Item) -> None:
        """Draw one shape."""
        match item:
            case Rect():
                self._rect(item)
            case Line():
                if self._takes(item.pen):
                    low, high = self._top - item.y1, self._top - item.y2
                    self._canvas.line(item.x1, low, item.x2, high)
            case Circle():
                how = self._paint(item.pen, item.fill)
                self._canvas.circle(item.x, self._top - item.y, item.radius, **how)
            case Path():
                self._path(item)
            case Text():
                self._text(item)

    def _rect(self, rect: Rect) -> None:
        how = self._paint(rect.pen, rect.fill)
        low = self._top - rect.y - rect.height
        place = rect.x, low, rect.width, rect.height
        if rect.radius:
            self._canvas.roundRect(*place, rect.radius, **how)
        else:
            self._canvas.rect(*place, **how)

    def _path(self, path: Path) -> None:
        how = self._paint(path.pen, path.fill)
        course = self._canvas.beginPath()
        for run in path.runs:
            first, *rest = [(x, self._top - y) for x, y in run]
            course.moveTo(*first)
            if path.curved:
                for at in range(0, len(rest), 3):
                    course.curveTo(*rest[at], *rest[at + 1], *rest[at + 2])
            else:
                for point in rest:
                    course.lineTo(*point)
            if path.closed:
                course.close()
        self._canvas.drawPath(course, **how)

    def _text(self, text: Text) -> None:
        canvas = self._canvas
        canvas.setFont(BOLD if text.bold else REGULAR, text.size)
        self._fills(text.fill)
        write = {"middle": canvas.drawCentredString, "end": canvas.drawRightString}
        put = write.get(text.anchor, canvas.drawString)
        put(text.x, self._top - text.y, text.words)

    def _paint(self, pen: Pen, fill: str) -> dict[str, int]:
        self._fills(fill)
        return {"stroke": int(self._takes(pen)), "fill": int(bool(fill))}

    def _fills(self, fill: str) -> None:
        if fill and fill != self._fill:
            self._canvas.setFillColor(colour(fill))
            self._fill = fill

    def _takes(self, pen: Pen) -> bool:
        """Take up a pen; say whether it draws at all."""
        if not pen.colour:
            return False
        if pen.colour != self._held.colour:
            self._canvas.setStrokeColor(colour(pen.colour))
        if pen.width != self._held.width or not self._held.colour:
            self._canvas.setLineWidth(pen.width)
        if pen.dash != self._held.dash or not self._held.colour:
            self._canvas.setDash(list(pen.dash))
        self._held = pen
        return True
