"""An address as a square code that a telephone's camera reads."""

from reportlab.graphics.barcode.qr import QrCodeWidget

from fleet.ui.drawing import Drawing, Item, Rect
from fleet.ui.palette import SHEET

QUIET = 4  # modules kept white around the code (ISO/IEC 18004, 7.3.7, from memory)
BLACK = "#000000"
LEVEL = "M"  # a seventh of it may be dirt (ISO/IEC 18004, from memory)


def square_code(address: str) -> Drawing:
    """
    Return the code of an address, each module a point square.

    Raises ValueError for an address longer than a code holds.
    """
    code = QrCodeWidget(address, barLevel=LEVEL).qr
    code.make()
    count = code.getModuleCount()
    side = float(count + 2 * QUIET)
    items: list[Item] = [Rect(0, 0, side, side, fill=SHEET)]
    for row in range(count):
        dark = [bool(code.isDark(row, column)) for column in range(count)]
        items += [
            Rect(QUIET + first, QUIET + row, last - first, 1, fill=BLACK)
            for first, last in _runs(dark)
        ]
    return Drawing(side, side, tuple(items))


def _runs(dark: list[bool]) -> list[tuple[int, int]]:
    """Return the stretches of dark modules, from and up to: one bar has no seams."""
    edges = [
        at
        for at, (a, b) in enumerate(zip([False, *dark], [*dark, False], strict=True))
        if a != b
    ]
    return list(zip(edges[::2], edges[1::2], strict=True))
