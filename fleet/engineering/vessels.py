"""
Walls of air and vacuum reservoirs: required thickness, rated pressure, proof, telltales.

The formulas are homogeneous: give pressure and stress in one unit and the thickness comes
in the unit of the radius. They hold for thin, round, sound steel walls under pressure from
within, at the temperature of the air about them; not for a dent, a groove, the edge of an
opening or a vacuum from within (collapse). A minimum from drawing or plate goes first.
"""

from dataclasses import dataclass
from enum import StrEnum

from fleet.engineering.refusals import positive

PROOF_FACTOR = 1.25  # 49 CFR 229.31(a) and 230.72: a quarter above working pressure
TELLTALE_LEAST_IN = 1 / 16  # 49 CFR 229.31(c)
STRESS_PART = 5.0  # 49 CFR 229.31(c): a fifth of the least tensile strength
UNKNOWN_STEEL_PSI = 10_000.0  # 49 CFR 230.72: the allowable stress of unknown steel
CROWN_FACTOR = 0.885  # UG-32(e): knuckle 6 % of the crown radius


class Head(StrEnum):
    """The shapes of a dished end for which UG-32 gives a formula."""

    HEMISPHERE = "hemisphere"
    ELLIPSE = "ellipse 2:1"
    TORISPHERE = "dished and flanged, knuckle 6 % of the crown"


class Basis(StrEnum):
    """Where a minimum thickness comes from."""

    STATED = "drawing or plate"
    FORMULA = "formula"


@dataclass(frozen=True, slots=True)
class Minimum:
    """A minimum thickness, mm, and where it comes from."""

    thickness_mm: float
    basis: Basis


def shell_thickness(
    pressure: float, radius: float, stress: float, efficiency: float = 1.0
) -> float:
    """
    Return the required thickness of a cylinder: PR/(SE - 0.6P), R inside.

    Source: ASME VIII-1 UG-27(c)(1), hoop stress, which governs unless the round seams are
    less than half as efficient. Valid up to t = R/2 and P = 0.385·SE; beyond, ValueError.
    """
    allowed = _allowed(pressure, radius, stress, efficiency)
    if pressure > 0.385 * allowed:
        raise ValueError(
            f"Above {0.385 * allowed:.4g} (0.385·S·E) the wall is thick: UG-27 does not "
            "hold. Have it calculated."
        )
    return pressure * radius / (allowed - 0.6 * pressure)


def shell_pressure(
    thickness: float, radius: float, stress: float, efficiency: float = 1.0
) -> float:
    """
    Return the rated pressure of a cylinder: SEt/(R + 0.6t), R inside.

    Source: ASME VIII-1 UG-27(c)(1). Valid up to t = R/2; beyond, ValueError.
    """
    allowed = _allowed(thickness, radius, stress, efficiency, what="The thickness")
    if thickness > radius / 2:
        raise ValueError(
            "The wall is thicker than half the radius: UG-27 does not hold. Check the "
            "figures, or have it calculated."
        )
    return allowed * thickness / (radius + 0.6 * thickness)


def shell_thickness_outside(
    pressure: float, outside_radius: float, stress: float, efficiency: float = 1.0
) -> float:
    """
    Return the required thickness of a cylinder from its outside radius: PRo/(SE + 0.4P).

    Source: ASME VIII-1 Appendix 1-1(a)(1). Valid as `shell_thickness`.
    """
    allowed = _allowed(pressure, outside_radius, stress, efficiency)
    if pressure > 0.385 * allowed:
        raise ValueError("The wall is thick: Appendix 1-1 does not hold here.")
    return pressure * outside_radius / (allowed + 0.4 * pressure)


def round_seam_thickness(
    pressure: float, radius: float, stress: float, efficiency: float
) -> float:
    """
    Return what the round (circumferential) seams require: PR/(2SE + 0.4P), R inside.

    Source: ASME VIII-1 UG-27(c)(2). Valid up to P = 1.25·SE (from memory).
    """
    allowed = _allowed(pressure, radius, stress, efficiency)
    if pressure > 1.25 * allowed:
        raise ValueError("The wall is thick: UG-27(c)(2) does not hold here.")
    return pressure * radius / (2 * allowed + 0.4 * pressure)


def head_thickness(
    head: Head, pressure: float, size: float, stress: float, efficiency: float = 1.0
) -> float:
    """
    Return the required thickness of a dished end under pressure on its hollow side.

    `size` is the inside diameter D of an ellipse, the inside crown radius L of the others:
    PD/(2SE - 0.2P), 0.885PL/(SE - 0.1P), PL/(2SE - 0.2P). Source: ASME VIII-1 UG-32(d), (e)
    and UG-27(d), lettering of 1983. Valid for t/L of 0.002 and more (L = 0.9·D of an
    ellipse) and, for a hemisphere, P up to 0.665·SE (from memory); else ValueError. It is
    the thinnest place after forming, usually the knuckle.
    """
    allowed = _allowed(pressure, size, stress, efficiency)
    if pressure > 0.665 * allowed:
        raise ValueError("The end is thick: UG-32 does not hold. Have it calculated.")
    if head is Head.TORISPHERE:
        thickness = CROWN_FACTOR * pressure * size / (allowed - 0.1 * pressure)
    else:
        thickness = pressure * size / (2 * allowed - 0.2 * pressure)
    _refuse_thin(head, thickness, size)
    return thickness


def head_pressure(
    head: Head, thickness: float, size: float, stress: float, efficiency: float = 1.0
) -> float:
    """
    Return the rated pressure of a dished end, the inverse of `head_thickness`.

    2SEt/(D + 0.2t), SEt/(0.885L + 0.1t), 2SEt/(L + 0.2t); source and limits as there.
    """
    allowed = _allowed(thickness, size, stress, efficiency, what="The thickness")
    _refuse_thin(head, thickness, size)
    if thickness > 0.356 * size:
        raise ValueError("The end is thick: UG-32 does not hold. Have it calculated.")
    if head is Head.TORISPHERE:
        return allowed * thickness / (CROWN_FACTOR * size + 0.1 * thickness)
    return 2 * allowed * thickness / (size + 0.2 * thickness)


def rated_pressure(shell: float, *heads: float) -> float:
    """Return the pressure of the weakest part."""
    return min(shell, *heads) if heads else shell


def minimum_thickness(
    *, stated_mm: float | None, formula_mm: float | None
) -> Minimum | None:
    """
    Return the minimum to hold a reading against: what drawing or plate states goes first.

    None where neither is known. Raises ValueError for a stated minimum of nothing.
    """
    if stated_mm is not None:
        return Minimum(positive(stated_mm, "The stated thickness", "mm"), Basis.STATED)
    if formula_mm is None:
        return None
    return Minimum(positive(formula_mm, "The required thickness", "mm"), Basis.FORMULA)


def proof_pressure(
    working: float, factor: float = PROOF_FACTOR, *, cold_over_hot: float = 1.0
) -> float:
    """
    Return the pressure of a hydraulic proof test, in the unit of `working`.

    1.25 times: 49 CFR 229.31(a). ASME VIII-1 UG-99: 1.3 times (1.5 before the 1999
    addenda) and the ratio of allowable stress at test to that at work, `cold_over_hot`.
    Whether and when to prove, and whether the rest of the system is taken off first, the
    written scheme says. Raises ValueError for a factor below 1.
    """
    if factor < 1 or cold_over_hot < 1:
        raise ValueError("A proof is not below the working pressure: give 1 or more.")
    return positive(working, "The working pressure", "") * factor * cold_over_hot


def allowable_stress(tensile_strength: float) -> float:
    """Return a fifth of the least tensile strength, in its unit (49 CFR 229.31(c), 230.72)."""
    return positive(tensile_strength, "The tensile strength", "") / STRESS_PART


def telltale_depth_in(
    pressure_psi: float, radius_in: float, stress_psi: float
) -> float:
    """
    Return the depth of telltale holes, in: 0.6PR/(S - 0.6P), at least 1/16 in.

    Drilled from outside, they leak before the wall is too thin. Source: 49 CFR 229.31(c),
    230.72; `stress_psi` a fifth of the least tensile strength, 10 000 if unknown.
    """
    thickness = survey_minimum(pressure_psi, radius_in, stress_psi)
    return max(0.6 * thickness, TELLTALE_LEAST_IN)


def survey_minimum(
    pressure: float, radius: float, stress: float, *, seam_in_doubt: bool = False
) -> float:
    """
    Return the least thickness for an ultrasonic survey in place of a hammer test.

    PR/(S - 0.6P), and for the second class of construction, whose seam is trusted with half
    the stress, PR/(0.5S - 0.6P). Source: 49 CFR 230.72; homogeneous units.
    """
    return shell_thickness(pressure, radius, stress, 0.5 if seam_in_doubt else 1.0)


def pressure_volume_bar_litre(pressure_bar: float, volume_l: float) -> float:
    """
    Return pressure times volume in bar·litre, by which many rules sort vessels.

    EN 286-1 and EN 286-3 cover more than 50 and up to 10 000 bar·litre (their scope
    clauses). `pressure_bar` is the greatest working gauge pressure.
    """
    pressure = positive(pressure_bar, "The pressure", "bar")
    return pressure * positive(volume_l, "The volume", "litre")


def _allowed(
    load: float,
    size: float,
    stress: float,
    efficiency: float,
    what: str = "The pressure",
) -> float:
    positive(load, what, "")
    positive(size, "The radius or diameter", "")
    if not 0 < efficiency <= 1:
        raise ValueError(
            f"A joint's efficiency lies above 0 and up to 1; {efficiency:g} does not."
        )
    return positive(stress, "The allowable stress", "") * efficiency


def _refuse_thin(head: Head, thickness: float, size: float) -> None:
    crown = 0.9 * size if head is Head.ELLIPSE else size
    if head is not Head.HEMISPHERE and thickness < 0.002 * crown:
        raise ValueError(
            "The end is thinner than a five-hundredth of its crown radius and may buckle "
            "at the knuckle: UG-32 does not hold. Have it calculated (Appendix 1-4(f))."
        )
