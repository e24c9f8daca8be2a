"""
From braked-weight percentage to deceleration, build-up time and stopping distance.

The conversion model of ERTMS/ETCS SUBSET-026-3, A.3.7 to A.3.9: a model to compare with,
made for emergency brake curves with later corrections, not a measured or promised distance.
Valid for 30 to 250 %, up to 200 km/h, trains to 900 m in P and 1 500 m in goods working.
"""

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from fleet.engineering.force import GRAVITY_M_PER_S2
from fleet.engineering.refusals import not_negative, positive

LEAST_PERCENTAGE, MOST_PERCENTAGE, MOST_KM_H = 30, 250, 200
KM_H_PER_M_S = 3.6
# Speeds, km/h, up to which each cubic in λ holds, and a0..a3 (A.3.7.6).
_STEPS: tuple[tuple[float, tuple[float, float, float, float]], ...] = (
    (100.0, (0.0663, 4.72e-3, 6.10e-5, -6.30e-7)),
    (120.0, (0.1300, 5.14e-3, -4.54e-6, 2.73e-7)),
    (150.0, (0.0479, 5.81e-3, -6.76e-6, 5.58e-8)),
    (180.0, (0.0480, 5.52e-3, -3.85e-6, 3.00e-8)),
    (float(MOST_KM_H), (0.0559, 5.06e-3, 1.66e-6, 3.23e-9)),
)


class BrakePosition(StrEnum):
    """The working for which build-up times are given."""

    PASSENGER_P = "passenger train, P"
    GOODS_P = "goods train, P"
    GOODS_G = "goods train, G"


@dataclass(frozen=True, slots=True)
class SpeedBand:
    """A deceleration in m/s² between two speeds in km/h, level track, brakes full on."""

    from_km_h: float
    to_km_h: float
    deceleration: float


@dataclass(frozen=True, slots=True)
class Stop:
    """A stop: distance before the brakes act and braking, m, and their sum."""

    free_m: float
    braking_m: float

    @property
    def total_m(self) -> float:
        """Return the whole distance, m."""
        return self.free_m + self.braking_m


def limit_speed_km_h(percentage: float) -> float:
    """Return the speed up to which the basic deceleration holds: 16.85·λ^0.428 (A.3.7.4)."""
    _refuse_percentage(percentage)
    return 16.85 * float(percentage**0.428)


def basic_deceleration(percentage: float) -> float:
    """Return the deceleration below that speed, m/s²: 0.0075·λ + 0.076 (A.3.7.5)."""
    _refuse_percentage(percentage)
    return 0.0075 * percentage + 0.076


def speed_bands(percentage: float) -> tuple[SpeedBand, ...]:
    """
    Return the decelerations from standstill to 200 km/h.

    Source: SUBSET-026-3 A.3.7, basic values without the correction factors K, for dry rail.
    Raises ValueError outside 30 to 250 %.
    """
    limit = min(limit_speed_km_h(percentage), float(MOST_KM_H))
    bands = [SpeedBand(0.0, limit, basic_deceleration(percentage))]
    for top, (a0, a1, a2, a3) in _STEPS:
        if top > bands[-1].to_km_h:
            at = a0 + a1 * percentage + a2 * percentage**2 + a3 * percentage**3
            bands.append(SpeedBand(bands[-1].to_km_h, top, at))
    return tuple(bands)


def build_up_s(
    position: BrakePosition, length_m: float, *, traction_to_cut: bool = False
) -> float:
    """
    Return the build-up time of the emergency brake, s, from the length of the train.

    Source: SUBSET-026-3 A.3.8 and A.3.9. In P trains under 400 m count as 400 m;
    `traction_to_cut` adds a fifth (P) or 0.16 (G). Raises ValueError beyond 900 m
    (passenger) or 1 500 m.
    """
    longest = 900 if position is BrakePosition.PASSENGER_P else 1_500
    if positive(length_m, "The train's length", "m") > longest:
        raise ValueError(f"The model is for trains up to {longest} m in {position}.")
    hundreds = length_m / 100
    goods = position is BrakePosition.GOODS_G
    if length_m > 900:
        basic = (-0.4 if goods else -0.5) + 1.6 * hundreds + 0.03 * hundreds**2
    elif goods:
        basic = 12.0 + 0.05 * hundreds**2
    else:
        basic = 2.3 + 0.17 * max(hundreds, 4.0) ** 2
    more = (0.16 if goods else 0.20) if traction_to_cut else 0.0
    return basic * (1 + more)


def braking_distance_m(
    speed_km_h: float, deceleration: float, *, falls: float = 0.0, to_km_h: float = 0.0
) -> float:
    """
    Return the distance between two speeds at a constant deceleration in m/s².

    (v² - u²)/(2(a - g·falls)): `falls` is the gradient, rise over run, positive where the
    line falls. Raises ValueError where the gradient outweighs the brake.
    """
    not_negative(to_km_h, "The speed", "km/h")
    net = positive(deceleration, "The deceleration", "m/s²") - GRAVITY_M_PER_S2 * falls
    if net <= 0:
        raise ValueError("The brake does not hold on that gradient: there is no stop.")
    if speed_km_h < to_km_h:
        raise ValueError("A stop ends slower than it begins.")
    fast, slow = speed_km_h / KM_H_PER_M_S, to_km_h / KM_H_PER_M_S
    return (fast**2 - slow**2) / (2 * net)


def stopping_distance(
    percentage: float, speed_km_h: float, *, free_s: float, falls: float = 0.0
) -> Stop:
    """
    Return a stop by the model: `free_s` at full speed, then the bands down to standstill.

    `free_s` is the time in which nothing is counted to brake, such as `build_up_s`. Speed
    gained on a falling gradient in that time is not counted. Raises ValueError outside
    30 to 250 % and 200 km/h.
    """
    if not 0 < speed_km_h <= MOST_KM_H:
        raise ValueError(
            f"The model is for up to {MOST_KM_H} km/h, not {speed_km_h:g}."
        )
    not_negative(free_s, "The free time", "s")
    bands = speed_bands(percentage)
    edges = [band.from_km_h for band in bands if band.from_km_h < speed_km_h]
    braking = sum(
        braking_distance_m(fast, band.deceleration, falls=falls, to_km_h=slow)
        for band, (slow, fast) in zip(
            bands, pairwise([*edges, speed_km_h]), strict=False
        )
    )
    return Stop(speed_km_h / KM_H_PER_M_S * free_s, braking)


def _refuse_percentage(percentage: float) -> None:
    if not LEAST_PERCENTAGE <= percentage <= MOST_PERCENTAGE:
        raise ValueError(
            f"The model is for {LEAST_PERCENTAGE} to {MOST_PERCENTAGE} %, "
            f"not {percentage:g}."
        )
