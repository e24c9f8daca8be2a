"""Thickness surveys of a vessel: how fast each point thins, and when to look again."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import inf, sqrt

from fleet.engineering.calendar import LATEST_DAY, add_months
from fleet.engineering.refusals import not_negative, positive

DAYS_A_YEAR = 365.25
HALF = 0.5  # API 510, 6.4 and 7: the next survey not later than half the remaining life


@dataclass(frozen=True, slots=True)
class ThicknessReading:
    """A wall thickness in mm at a named point, with the reading's own error, mm."""

    point: str
    on: dt.date
    thickness_mm: float
    error_mm: float = 0.0

    def __post_init__(self) -> None:
        positive(self.thickness_mm, f"The thickness at {self.point}", "mm")
        not_negative(self.error_mm, "The reading error", "mm")


@dataclass(frozen=True, slots=True)
class PointLife:
    """
    One point: rates in mm a year (None with one reading), life in years from its last.

    `rate` is the greater of long-term and short-term rate, and never less than
    `rate_error`, what the readings' own error leaves open; `within_error` says that it
    is the error that governs. `life_years` is None where nothing shows the point to thin.
    """

    point: str
    last: ThicknessReading
    required_mm: float
    long_term: float | None
    short_term: float | None
    rate_error: float
    rate: float | None
    within_error: bool
    life_years: float | None

    @property
    def below(self) -> bool:
        """Say whether the last reading is under the required thickness."""
        return self.last.thickness_mm < self.required_mm


@dataclass(frozen=True, slots=True)
class VesselLife:
    """
    A vessel by its worst point.

    `next_on` is the last day for the next survey, `life_ends_on` the day on which the worst
    point reaches its required thickness, None if none is foreseen. `reason` says in words
    which point and which bound governs. `not_read` are points of earlier surveys that the
    last one left out: nothing is known of them since.
    """

    worst: PointLife
    points: tuple[PointLife, ...]
    next_on: dt.date
    life_ends_on: dt.date | None
    reason: str
    not_read: tuple[str, ...]


def vessel_life(
    readings: Iterable[ThicknessReading],
    required_mm: float | Mapping[str, float],
    *,
    ceiling_months: int,
) -> VesselLife:
    """
    Judge a vessel's surveys: half the remaining life or the ceiling, whichever is first.

    `required_mm` is the minimum of the whole vessel or of each point (shell, ends). Uniform
    thinning is assumed: pits between the points are not seen, and a changed duty (longer out
    of use, undrained water) makes the past rate no guide. A wall that seems to grow is
    reading error: its rate is then the error's own, √2·u/T between two readings of error u.
    Source: API 510, 10th ed., clause 7 (rates, remaining life), 6.4 (half life); GUM (error).
    Raises ValueError without readings.
    """
    surveys = _by_point(readings)
    if not surveys:
        raise ValueError("Give at least one thickness reading.")
    if ceiling_months < 1:
        raise ValueError("The longest interval must be a month or more.")
    points = tuple(
        point_life(series, _required(required_mm, name))
        for name, series in surveys.items()
    )
    last_on = max(point.last.on for point in points)
    worst = min(points, key=lambda p: (_ends(p), p.last.thickness_mm - p.required_mm))
    next_on, reason = _next(points, worst, ceiling_months)
    return VesselLife(
        worst,
        points,
        next_on,
        _life_ends(worst),
        reason,
        tuple(point.point for point in points if point.last.on < last_on),
    )


def point_life(readings: Sequence[ThicknessReading], required_mm: float) -> PointLife:
    """
    Judge the readings of one point, oldest first where they are not in order already.

    Long-term rate from the first reading, short-term from the last but one; the greater
    governs. Raises ValueError for two readings on one day.
    """
    positive(required_mm, "The required thickness", "mm")
    series = sorted(readings, key=lambda reading: reading.on)
    first, last = series[0], series[-1]
    if len({reading.on for reading in series}) < len(series):
        raise ValueError(
            f"{first.point} was read twice on a day: keep the lower reading."
        )
    if len(series) == 1:
        life = None if last.thickness_mm >= required_mm else 0.0
        return PointLife(
            first.point, last, required_mm, None, None, 0.0, None, False, life
        )
    long_term, short_term = (
        corrosion_rate(first, last),
        corrosion_rate(series[-2], last),
    )
    error = rate_error(first, last)
    rate = max(long_term, short_term, error)
    return PointLife(
        first.point,
        last,
        required_mm,
        long_term,
        short_term,
        error,
        rate,
        max(long_term, short_term) < error,
        remaining_life(last.thickness_mm, required_mm, rate),
    )


def corrosion_rate(earlier: ThicknessReading, later: ThicknessReading) -> float:
    """Return the loss in mm a year between two readings; below zero where it grew."""
    return (earlier.thickness_mm - later.thickness_mm) / years_between(
        earlier.on, later.on
    )


def rate_error(earlier: ThicknessReading, later: ThicknessReading) -> float:
    """Return the standard error of that rate, mm a year: √(u1² + u2²)/T (GUM)."""
    error = sqrt(earlier.error_mm**2 + later.error_mm**2)
    return error / years_between(earlier.on, later.on)


def remaining_life(
    thickness_mm: float, required_mm: float, rate: float
) -> float | None:
    """
    Return years until the required thickness at `rate` mm a year: (t - t_required)/rate.

    0 where it is reached already; None at no rate, or a negative one: that is not an
    eternal life but a reading that tells nothing. Source: API 510 clause 7.2.
    """
    if thickness_mm <= required_mm:
        return 0.0
    return (thickness_mm - required_mm) / rate if rate > 0 else None


def years_between(earlier: dt.date, later: dt.date) -> float:
    """Return the years from one day to a later one, of 365.25 days; else ValueError."""
    days = (later - earlier).days
    if days < 1:
        raise ValueError(f"{later} is not after {earlier}.")
    return days / DAYS_A_YEAR


def after_years(day: dt.date, years: float) -> dt.date:
    """Return the whole day before `years` are over, no later than the calendar goes."""
    days = min(years * DAYS_A_YEAR, (LATEST_DAY - day).days)
    return day + dt.timedelta(days=int(days))


def _by_point(
    readings: Iterable[ThicknessReading],
) -> dict[str, list[ThicknessReading]]:
    surveys: dict[str, list[ThicknessReading]] = {}
    for reading in readings:
        surveys.setdefault(reading.point, []).append(reading)
    return surveys


def _required(required: float | Mapping[str, float], point: str) -> float:
    if isinstance(required, Mapping):
        if point not in required:
            raise ValueError(f"Give the required thickness of {point}.")
        return required[point]
    return required


def _ends(point: PointLife) -> float:
    """Return the day the point's life ends, counted, for ordering."""
    life = inf if point.life_years is None else point.life_years
    return point.last.on.toordinal() + life * DAYS_A_YEAR


def _life_ends(point: PointLife) -> dt.date | None:
    if point.life_years is None:
        return None
    return after_years(point.last.on, point.life_years)


def _next(
    points: Sequence[PointLife], worst: PointLife, ceiling_months: int
) -> tuple[dt.date, str]:
    ceiling = min(add_months(point.last.on, ceiling_months) for point in points)
    halves = [
        (after_years(point.last.on, point.life_years * HALF), point)
        for point in points
        if point.life_years is not None
    ]
    half, point = min(halves, key=lambda h: h[0], default=(LATEST_DAY, worst))
    if half >= ceiling:
        return (
            ceiling,
            f"{ceiling_months} months after the survey, the longest allowed.",
        )
    if point.life_years == 0:
        return (
            half,
            f"{point.point} is down to its required thickness: no life is left.",
        )
    error = (
        ", the rate that the reading error leaves open" if point.within_error else ""
    )
    return half, (
        f"Half the remaining life of {point.point}: {point.life_years:.1f} years at "
        f"{point.rate:.3f} mm a year{error}."
    )
