"""
Leakage from pressure readings: the rate, how sure it is, and the free air behind it.

Pressures are gauge, in bar; a rate is positive where pressure falls. A straight line holds
while the pressure falls by a small part (up to about 5 % of the absolute pressure); over a
larger drop the mean rate is less than the rate at the start, see `start_over_mean`. The
volume must be closed: no feed, no application or release while the readings are taken.
Vacuum leaks inward and follows other laws: `fleet.engineering.vacuum`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from math import log

from fleet.engineering.flow import STANDARD_ATMOSPHERE_BAR, kelvin
from fleet.engineering.refusals import not_negative, positive
from fleet.engineering.trend import Line, fit_line
from fleet.engineering.units import UNITS, unit_named

_NORMAL_95 = 1.959964  # two-sided 95 % of the normal distribution


class Judgement(StrEnum):
    """What the readings allow to be said of a limit."""

    WITHIN = "within the limit"
    BEYOND = "beyond the limit"
    TOO_SHORT = "too short to judge"
    TOO_NOISY = "too noisy to judge"


@dataclass(frozen=True, slots=True)
class PressureReading:
    """A gauge pressure in bar at a time in seconds, with the air temperature if taken."""

    seconds: float
    bar: float
    celsius: float | None = None


@dataclass(frozen=True, slots=True)
class TypedRate:
    """A rate in the unit the readings were typed in, exactly."""

    value: Decimal
    unit: str


@dataclass(frozen=True, slots=True)
class LeakRate:
    """
    A rate in bar/min, positive where the pressure falls, with what it rests on.

    `uncertainty_bar_per_min` is the half width at 95 % confidence; None where two readings
    without a stated error leave nothing to tell it by. `scatter` says that it comes from
    the scatter of the readings rather than from the error of one reading.
    """

    bar_per_min: float
    uncertainty_bar_per_min: float | None
    seconds: float
    readings: int
    temperature_corrected: bool
    scatter: bool


@dataclass(frozen=True, slots=True)
class Verdict:
    """A judgement against a limit, and a sentence that says why."""

    judgement: Judgement
    sentence: str


@dataclass(frozen=True, slots=True)
class VehicleLeak:
    """The leak of one vehicle on its own: its volume in litres, its rate in bar/min."""

    volume_l: float
    bar_per_min: float

    def __post_init__(self) -> None:
        positive(self.volume_l, "The volume of a vehicle", "l")


@dataclass(frozen=True, slots=True)
class TrainLeak:
    """The leak of vehicles coupled together; `shares` is each one's part of the whole."""

    volume_l: float
    bar_per_min: float
    free_air_l_per_min: float
    shares: tuple[float, ...]


def typed_rate(first: Decimal, last: Decimal, unit: str, minutes: Decimal) -> TypedRate:
    """
    Return the fall a minute in the unit of the gauge, exactly: 70 to 65 psi in 1 min.

    For pressure, and for vacuum, where a fall is a loss of vacuum. Raises ValueError.
    """
    name = f"{unit_named(unit)}/min"
    if name not in UNITS:
        raise ValueError(f"“{unit}” is no unit of pressure or vacuum.")
    if not minutes.is_finite() or minutes <= 0:
        raise ValueError("The time between the readings must be more than 0 min.")
    return TypedRate((first - last) / minutes, name)


def leak_rate(
    readings: Sequence[PressureReading],
    *,
    reading_u_bar: float | None = None,
    atmosphere_bar: float = STANDARD_ATMOSPHERE_BAR,
) -> LeakRate:
    """
    Return the leak rate by least squares through two readings or more.

    With a temperature on every reading the pressures are first brought to that of the
    first (`p_abs · T_ref / T`): cooling air falls without a leak. `reading_u_bar` is the
    standard uncertainty of one reading; the result is then never surer than the gauge.
    Source: ideal gas, as 40 CFR 1065.644; two readings GUM, `u(rate) = √2 · u / t`.
    Raises ValueError for fewer than two readings or temperatures on some of them.
    """
    times = [reading.seconds for reading in readings]
    line = fit_line(times, _corrected_bar(readings, atmosphere_bar))
    half_width, scatter = _half_width(line, reading_u_bar)
    return LeakRate(
        bar_per_min=-line.slope * 60,
        uncertainty_bar_per_min=None if half_width is None else half_width * 60,
        seconds=max(times) - min(times),
        readings=len(readings),
        temperature_corrected=readings[0].celsius is not None,
        scatter=scatter,
    )


def judge(
    rate: LeakRate, limit_bar_per_min: float, *, shortest_seconds: float = 0.0
) -> Verdict:
    """
    Say whether the rate is within the limit, or why that cannot be told.

    The limit itself is allowed. Where the limit lies inside the uncertainty the readings
    are too noisy, or, if the error of a single reading alone makes it so, too short.
    """
    positive(limit_bar_per_min, "The limit", "bar/min")
    if rate.seconds < shortest_seconds:
        return Verdict(
            Judgement.TOO_SHORT,
            f"The readings span {rate.seconds:g} s; at least {shortest_seconds:g} s are "
            "needed.",
        )
    distance = abs(rate.bar_per_min - limit_bar_per_min)
    if (rate.uncertainty_bar_per_min or 0.0) > distance:
        return _undecided(rate, limit_bar_per_min)
    # Readings in one unit and a limit in another agree only to the last digit.
    within = rate.bar_per_min <= limit_bar_per_min * (1 + 1e-9)
    judgement = Judgement.WITHIN if within else Judgement.BEYOND
    return Verdict(judgement, f"{_words(rate)}, limit {limit_bar_per_min:.3g} bar/min.")


def free_air_l_per_min(
    volume_l: float,
    bar_per_min: float,
    *,
    celsius: float | None = None,
    free_celsius: float | None = None,
    atmosphere_bar: float = STANDARD_ATMOSPHERE_BAR,
) -> float:
    """
    Return the free air that leaves a volume, l/min: `V · Δp / (p_atm · Δt)`.

    At the temperature of the vessel unless both temperatures are given, then at
    `free_celsius`. Source: ideal gas; 40 CFR 1065.644, Eq. 1, has the same structure.
    """
    positive(volume_l, "The volume", "l")
    positive(atmosphere_bar, "The atmospheric pressure", "bar")
    if (celsius is None) != (free_celsius is None):
        raise ValueError("Give both temperatures, of the vessel and of the free air.")
    flow = volume_l * bar_per_min / atmosphere_bar
    if celsius is None or free_celsius is None:
        return flow
    return flow * kelvin(free_celsius) / kelvin(celsius)


def equivalent_volume_l(
    free_air_l_per_min: float,
    bar_per_min: float,
    *,
    atmosphere_bar: float = STANDARD_ATMOSPHERE_BAR,
) -> float:
    """Return the volume in litres from which that flow makes that rate of fall."""
    positive(free_air_l_per_min, "The flow of free air", "l/min")
    positive(bar_per_min, "The rate", "bar/min")
    return free_air_l_per_min * atmosphere_bar / bar_per_min


def start_over_mean(
    first_bar: float,
    last_bar: float,
    *,
    atmosphere_bar: float = STANDARD_ATMOSPHERE_BAR,
) -> float:
    """
    Return by how much the rate at the start exceeds the mean over a drop, 1 or more.

    For a choked leak, proportional to absolute pressure: `ln(p0/p1)/(1 - p1/p0)`. Valid
    while the pressure stays above about 0.9 bar, below which the leak is not choked.
    """
    not_negative(last_bar, "The last pressure", "bar")
    if first_bar < last_bar:
        raise ValueError("The first pressure must not be below the last.")
    ratio = (last_bar + atmosphere_bar) / (first_bar + atmosphere_bar)
    return 1.0 if ratio == 1 else -log(ratio) / (1 - ratio)


def whole_train(
    vehicles: Sequence[VehicleLeak],
    *,
    atmosphere_bar: float = STANDARD_ATMOSPHERE_BAR,
) -> TrainLeak:
    """
    Return the leak of vehicles coupled together, each measured at about one pressure.

    The air adds up; the rate is the mean weighted by volume, so a bad vehicle hides in a
    long train. The joints between vehicles come on top.
    """
    if not vehicles:
        raise ValueError("Give at least one vehicle.")
    volume = sum(vehicle.volume_l for vehicle in vehicles)
    lost = [vehicle.volume_l * vehicle.bar_per_min for vehicle in vehicles]
    rate = sum(lost) / volume
    return TrainLeak(
        volume_l=volume,
        bar_per_min=rate,
        free_air_l_per_min=free_air_l_per_min(
            volume, rate, atmosphere_bar=atmosphere_bar
        ),
        shares=tuple(part / sum(lost) if sum(lost) else 0.0 for part in lost),
    )


def _corrected_bar(
    readings: Sequence[PressureReading], atmosphere_bar: float
) -> list[float]:
    celsius = [reading.celsius for reading in readings]
    taken = [one for one in celsius if one is not None]
    if not taken:
        return [reading.bar for reading in readings]
    if len(taken) < len(readings):
        raise ValueError("Give the temperature of every reading, or of none.")
    reference = kelvin(taken[0])
    return [
        (reading.bar + atmosphere_bar) * reference / kelvin(one) - atmosphere_bar
        for reading, one in zip(readings, taken, strict=True)
    ]


def _half_width(line: Line, reading_u: float | None) -> tuple[float | None, bool]:
    """Return the half width of the slope at 95 %, and whether scatter made it."""
    fitted = line.half_width_95
    if reading_u is None:
        return fitted, fitted is not None
    # Also for two readings, where the spread of the times is t / √2: √2 · u / t.
    gauge = _NORMAL_95 * not_negative(reading_u, "The error of a reading", "bar")
    gauge /= line.spread
    return max(gauge, fitted or 0.0), fitted is not None and fitted > gauge


def _undecided(rate: LeakRate, limit: float) -> Verdict:
    reason = (
        f"{_words(rate)}, so the limit of {limit:.3g} bar/min lies inside the error"
    )
    if rate.scatter:
        return Verdict(
            Judgement.TOO_NOISY,
            f"{reason}: the readings scatter too much. Look for what disturbs them and "
            "take them again.",
        )
    return Verdict(
        Judgement.TOO_SHORT,
        f"{reason} of the gauge. Wait longer between the readings, or use a finer gauge.",
    )


def _words(rate: LeakRate) -> str:
    band = rate.uncertainty_bar_per_min
    if band is None:
        return f"{rate.bar_per_min:.3g} bar/min by two readings, error unknown"
    return f"{rate.bar_per_min:.3g} ± {band:.2g} bar/min"
