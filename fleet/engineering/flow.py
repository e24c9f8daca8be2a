"""
Air through a small hole: choked and sub-critical flow of an ideal gas.

Isentropic nozzle flow with a coefficient for the shape of the hole. Valid for short holes
(a choke, a leak past a seat), not for long pipes, where friction governs, nor for seeping
through pores, which follows another law. Temperatures stay as they are (isothermal
vessels): a vessel filled or emptied within seconds warms or cools and the time found here
is some ten per cent out. Free air is air at the atmospheric pressure given and at the
temperature of the air in front of the hole.
"""

from dataclasses import dataclass
from math import exp, expm1, log, pi, sqrt

from fleet.engineering.refusals import not_negative, positive

STANDARD_ATMOSPHERE_BAR = 1.01325  # 10th CGPM 1954, Resolution 4
KELVIN_AT_0_C = 273.15
AIR_J_PER_KG_K = 287.05  # dry air; International Standard Atmosphere, ISO 2533:1975
_GAMMA = 1.4  # dry air near room temperature

# Coefficients printed with a table of the discharge of air through an orifice.
SHARP_EDGED = 0.65
WELL_ROUNDED = 0.97

_EXPONENT = (_GAMMA - 1) / _GAMMA
# Behind a hole at less than 0.528 of the pressure in front, the flow is choked.
CRITICAL_RATIO: float = (2 / (_GAMMA + 1)) ** (1 / _EXPONENT)
_SONIC: float = sqrt(_GAMMA) * (2 / (_GAMMA + 1)) ** ((_GAMMA + 1) / (2 * (_GAMMA - 1)))
_STEPS = 64  # of Simpson's rule; the error is below one part in a million


@dataclass(frozen=True, slots=True)
class Choke:
    """A round hole: diameter in mm, coefficient of discharge from its shape (0 to 1)."""

    diameter_mm: float
    coefficient: float

    def __post_init__(self) -> None:
        positive(self.diameter_mm, "The diameter of the choke", "mm")
        positive(self.coefficient, "The coefficient of discharge", "")
        if self.coefficient > 1:
            raise ValueError(
                "A coefficient of discharge is at most 1; a sharp-edged hole has "
                "about 0.65, a well-rounded one 0.97."
            )

    @property
    def area_mm2(self) -> float:
        """Return the area of the hole in mm²."""
        return pi * self.diameter_mm**2 / 4


def kelvin(celsius: float) -> float:
    """Return an absolute temperature; refuse what lies below absolute zero."""
    return positive(celsius + KELVIN_AT_0_C, "The absolute temperature", "K")


def choked_share(ratio: float) -> float:
    """
    Return the flow as a share of the choked flow, 1 where the flow is choked.

    `ratio` is absolute pressure behind the hole by that in front of it, 0 to 1.
    """
    if not 0 <= ratio <= 1:
        raise ValueError(
            "Air flows from the higher pressure to the lower; the ratio of absolute "
            f"pressures lies between 0 and 1, not at {ratio:g}."
        )
    return 1.0 if ratio <= CRITICAL_RATIO else _psi(ratio) / _psi(CRITICAL_RATIO)


def free_air_l_per_min(
    choke: Choke,
    *,
    upstream_bar_abs: float,
    downstream_bar_abs: float,
    celsius: float,
    atmosphere_bar: float = STANDARD_ATMOSPHERE_BAR,
) -> float:
    """
    Return the free air through a choke, l/min; both pressures absolute.

    Source: isentropic nozzle flow; agrees with the constant 0.5303 of S. A. Moss
    (American Machinist, 20 September 1906) within 0.3 %.
    """
    positive(upstream_bar_abs, "The absolute pressure in front of the choke", "bar")
    not_negative(downstream_bar_abs, "The absolute pressure behind the choke", "bar")
    positive(atmosphere_bar, "The atmospheric pressure", "bar")
    share = choked_share(downstream_bar_abs / upstream_bar_abs)
    metres_per_s = _SONIC * sqrt(AIR_J_PER_KG_K * kelvin(celsius))
    m3_per_s = choke.coefficient * choke.area_mm2 * 1e-6 * metres_per_s * share
    return m3_per_s * upstream_bar_abs / atmosphere_bar * 60_000


def hole_mm(
    choked_l_per_min: float,
    *,
    coefficient: float = SHARP_EDGED,
    celsius: float = 20.0,
) -> float:
    """Return the diameter in mm of the hole that draws so much atmospheric air, choked."""
    positive(choked_l_per_min, "The flow of free air", "l/min")
    one = free_air_l_per_min(
        Choke(1.0, coefficient),
        upstream_bar_abs=STANDARD_ATMOSPHERE_BAR,
        downstream_bar_abs=0.0,
        celsius=celsius,
    )
    return sqrt(choked_l_per_min / one)


def filling_time(first_ratio: float, last_ratio: float) -> float:
    """
    Return the time to fill a vessel from a constant supply, in units of V·p/(p_a·Q).

    V is the volume, p the absolute supply pressure, p_a the atmospheric pressure and Q
    the choked flow of free air. The ratios are of absolute pressure in the vessel to the
    supply. It is the share of the supply gained for as long as the flow stays choked, and
    more from there on. Raises ValueError where the vessel would have to empty.
    """
    if not 0 <= first_ratio <= last_ratio <= 1:
        raise ValueError(
            "A vessel fills from a lower to a higher pressure, and not above its supply."
        )
    eased = _eased(max(first_ratio, CRITICAL_RATIO), last_ratio)
    return choked_part(first_ratio, last_ratio) + eased


def filled_after(first_ratio: float, time: float) -> float:
    """Return the pressure ratio reached after a time in the units of `filling_time`."""
    not_negative(time, "The time", "")
    if filling_time(first_ratio, 1.0) <= time:
        return 1.0
    low, high = first_ratio, 1.0
    for _ in range(50):
        middle = (low + high) / 2
        reached = filling_time(first_ratio, middle) <= time
        low, high = (middle, high) if reached else (low, middle)
    return low


def choked_part(first_ratio: float, last_ratio: float) -> float:
    """Return the part of a filling during which the flow is choked, in the same units."""
    return max(0.0, min(last_ratio, CRITICAL_RATIO) - first_ratio)


def _psi(ratio: float) -> float:
    return exp(log(ratio) / _GAMMA) * sqrt(-expm1(_EXPONENT * log(ratio)))


def _eased(first_ratio: float, last_ratio: float) -> float:
    """Integrate 1 / choked_share over the sub-critical part, by Simpson's rule."""
    if last_ratio <= first_ratio:
        return 0.0
    # With ratio = 1 - u² the integrand stays finite where the flow dies out.
    low, high = sqrt(1 - last_ratio), sqrt(1 - first_ratio)
    step = (high - low) / _STEPS
    inner = sum(
        (4 if i % 2 else 2) * _slowness(low + i * step) for i in range(1, _STEPS)
    )
    return step / 3 * (_slowness(low) + inner + _slowness(high))


def _slowness(u: float) -> float:
    ratio = 1 - u * u
    if u < 1e-6:
        return 2 * _psi(CRITICAL_RATIO) / sqrt(_EXPONENT)
    return 2 * u * _psi(CRITICAL_RATIO) / _psi(ratio)
