"""The two typefaces of every paper, embedded: any Latin, Greek or Cyrillic name shows."""

from functools import cache
from pathlib import Path

from reportlab import rl_config
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR = "DejaVuSans"
BOLD = "DejaVuSans-Bold"
HOME = Path(__file__).parent / "fonts"

# Else the built-in typeface is listed in every file, and it cannot be embedded.
rl_config.canvas_basefontname = REGULAR
rl_config.bulletFontName = REGULAR


@cache
def register() -> None:
    """Make the typefaces known to the PDF library, once for each process."""
    for name in (REGULAR, BOLD):
        pdfmetrics.registerFont(TTFont(name, HOME / f"{name}.ttf"))
    pdfmetrics.registerFontFamily(REGULAR, REGULAR, BOLD, REGULAR, BOLD)
