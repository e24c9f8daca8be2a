"""
The required wall of a reservoir and where it comes from: drawing or plate, else formula.

A formula needs every figure of `WallFigures`; what is not recorded is never guessed, and
a vessel without a required wall is one nobody can judge.
"""

from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from functools import lru_cache

from fleet.engineering.vessels import (
    Basis,
    Head,
    head_thickness,
    minimum_thickness,
    shell_thickness,
    shell_thickness_outside,
)

BAR_IN_A_MPA = 10.0
_STEP = Decimal("0.01")  # a formula's millimetres are rounded up to this


@dataclass(frozen=True, slots=True)
class WallFigures:
    """
    What the formulas need, from drawing or plate: bar, mm, MPa; None: not recorded.

    `efficiency` is that of the worst joint. `crown_mm` is the inside crown radius, asked
    of a dished and flanged end only.
    """

    pressure_bar: float | None = None
    diameter_mm: float | None = None
    outside: bool = False
    stress_mpa: float | None = None
    efficiency: float | None = None
    head: Head | None = None
    crown_mm: float | None = None

    @property
    def lacking(self) -> tuple[str, ...]:
        """Return in words what a formula would still need."""
        needed: list[tuple[str, object]] = [
            ("working pressure", self.pressure_bar),
            ("diameter", self.diameter_mm),
            ("allowable stress", self.stress_mpa),
            ("joint efficiency", self.efficiency),
            ("shape of the ends", self.head),
        ]
        if self.head is Head.TORISPHERE:
            needed.append(("crown radius of the ends", self.crown_mm))
        return tuple(words for words, value in needed if value is None)


@dataclass(frozen=True, slots=True)
class RequiredWall:
    """The least wall, mm (None: not known), and in words where it comes from."""

    thickness_mm: float | None
    basis: str

    @property
    def words(self) -> str:
        """Return thickness and basis: "4 mm by drawing or plate"."""
        if self.thickness_mm is None:
            return f"not known: {self.basis}"
        return f"{self.thickness_mm:g} mm {self.basis}"


@lru_cache(maxsize=1_024)
def required_wall(stated_mm: float | None, figures: WallFigures) -> RequiredWall:
    """
    Return the wall to hold every reading of a vessel against, whichever point it is of.

    What drawing or plate states goes first, for the whole vessel. Else the greater of
    shell and ends by ASME VIII-1 UG-27 and UG-32 (`vessels`), rounded up to 0.01 mm; of
    an outside diameter the ends are reckoned as if it were inside, which is not less. No
    corrosion is allowed for and no least plate of a code: it is the wall at which the
    vessel leaves use. Where a formula does not hold, the basis says why.
    """
    if stated_mm is not None and stated_mm > 0:
        stated = minimum_thickness(stated_mm=stated_mm, formula_mm=None)
        assert stated is not None
        return RequiredWall(stated.thickness_mm, f"by {stated.basis.value}")
    if figures.lacking:
        lacking = ", ".join(figures.lacking)
        return RequiredWall(
            None,
            f"no minimum from {Basis.STATED.value} is recorded, and the formula lacks "
            f"the {lacking}",
        )
    try:
        shell, ends = _shell(figures), _ends(figures)
    except ValueError as refused:
        return RequiredWall(
            None,
            f"no minimum from {Basis.STATED.value} is recorded, and the formula gives "
            f"none: {str(refused).rstrip('.')}",
        )
    return RequiredWall(
        max(shell, ends),
        f"by {Basis.FORMULA.value}, shell {shell:g} mm (ASME VIII-1 UG-27) and ends "
        f"{ends:g} mm (UG-32), as no minimum from {Basis.STATED.value} is recorded",
    )


def _shell(figures: WallFigures) -> float:
    pressure, diameter, stress, efficiency = _numbers(figures)
    formula = shell_thickness_outside if figures.outside else shell_thickness
    return _up(formula(pressure, diameter / 2, stress, efficiency))


def _ends(figures: WallFigures) -> float:
    pressure, diameter, stress, efficiency = _numbers(figures)
    assert figures.head is not None
    sizes = {
        Head.ELLIPSE: diameter,
        Head.HEMISPHERE: diameter / 2,
        Head.TORISPHERE: figures.crown_mm or 0.0,
    }
    size = sizes[figures.head]
    return _up(head_thickness(figures.head, pressure, size, stress, efficiency))


def _numbers(figures: WallFigures) -> tuple[float, float, float, float]:
    """Return pressure and stress in MPa, the diameter in mm, the efficiency."""
    return (
        (figures.pressure_bar or 0.0) / BAR_IN_A_MPA,
        figures.diameter_mm or 0.0,
        figures.stress_mpa or 0.0,
        figures.efficiency or 0.0,
    )


def _up(thickness_mm: float) -> float:
    return float(Decimal(thickness_mm).quantize(_STEP, rounding=ROUND_CEILING))
