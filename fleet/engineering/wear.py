"""
How parts wear: brake blocks thinning, piston travel growing, and when a limit is reached.

A straight line through the readings since the last renewal. It holds while the duty stays
what it was; a stored vehicle does not wear, and one that goes back to work wears again.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from fleet.engineering.calendar import LATEST_DAY
from fleet.engineering.refusals import not_negative, positive
from fleet.engineering.trend import Line, fit_line, t_95

DAYS_A_YEAR = 365.25
TWO_SIDED_95 = 1.96  # of the normal distribution, for a stated reading error


class Grows(StrEnum):
    """Which way a part wears."""

    DOWN = "thins"  # block thickness: the limit lies below
    UP = "lengthens"  # piston travel: the limit lies above


class Standing(StrEnum):
    """How a reading stands to the two limits, which are never mixed."""

    IN_ORDER = "in order"
    NOT_TO_RELEASE = "not to be released: it would reach its limit before the next look"
    CONDEMNED = "beyond the condemning limit"


@dataclass(frozen=True, slots=True)
class WearReading:
    """A length in mm on a day."""

    on: dt.date
    mm: float


@dataclass(frozen=True, slots=True)
class WearTrend:
    """
    Wear in mm a year, positive as the part wears, and when the limit is reached.

    `band` is the half width at 95 % of the rate, None where two readings of no stated
    error leave nothing to tell it by. `reached_on` is None where nothing shows wear;
    `earliest_on` and `latest_on` bound it, None where the band holds no wear (never, at
    that edge) or is not known. `since` is the first reading counted.
    """

    rate: float
    band: float | None
    reached_on: dt.date | None
    earliest_on: dt.date | None
    latest_on: dt.date | None
    since: dt.date
    readings: int


def wear_trend(
    readings: Sequence[WearReading],
    limit_mm: float,
    *,
    grows: Grows = Grows.DOWN,
    error_mm: float = 0.0,
) -> WearTrend:
    """
    Return the recent rate and the day the limit is reached, from the last reading on.

    Readings before the last renewal are left out: a renewal is a step against the wear of
    more than three reading errors and a tenth of the way worn. The band is the greater of
    the scatter's and of that from `error_mm`, the standard error of a reading.
    Raises ValueError without two readings since then.
    """
    not_negative(error_mm, "The reading error", "mm")
    positive(limit_mm, "The limit", "mm")
    series = since_renewal(readings, grows=grows, error_mm=error_mm)
    if len(series) < 2:
        raise ValueError("A trend needs two readings since the part was renewed.")
    line = _worn(series, grows)
    rate, band = line.slope * DAYS_A_YEAR, _band(line, error_mm)
    left = _left(series[-1], limit_mm, grows)
    slow = None if band is None else rate - band
    fast = None if band is None else rate + band
    return WearTrend(
        rate,
        band,
        _day(series[-1].on, left, rate),
        _day(series[-1].on, left, fast),
        _day(series[-1].on, left, slow),
        series[0].on,
        len(series),
    )


def since_renewal(
    readings: Sequence[WearReading], *, grows: Grows, error_mm: float = 0.0
) -> list[WearReading]:
    """Return the readings since the last step against the wear, oldest first."""
    series = sorted(readings, key=lambda reading: reading.on)
    if len({reading.on for reading in series}) < len(series):
        raise ValueError("Two readings are of one day: keep the worse one.")
    sign = 1 if grows is Grows.DOWN else -1
    heights = [sign * reading.mm for reading in series]
    worn = max(heights, default=0.0) - min(heights, default=0.0)
    step = max(3 * error_mm, 0.1 * worn)
    first = 0
    for at in range(1, len(heights)):
        if heights[at] - heights[at - 1] > step:
            first = at
    return series[first:]


def release_limit_mm(
    condemning_mm: float,
    rate_mm_per_year: float,
    months_to_next: float,
    *,
    grows: Grows = Grows.DOWN,
) -> float:
    """
    Return the limit at which not to release: condemning plus the wear till the next look.

    `rate_mm_per_year` is the wear expected, better the upper edge of its band; below zero
    counts as none. Common practice: a part above its condemning limit may still not last.
    """
    positive(condemning_mm, "The condemning limit", "mm")
    not_negative(months_to_next, "The time to the next examination", "months")
    wear = max(rate_mm_per_year, 0.0) * months_to_next / 12
    return condemning_mm + wear if grows is Grows.DOWN else condemning_mm - wear


def standing(
    mm: float,
    *,
    condemning_mm: float,
    release_mm: float | None,
    grows: Grows = Grows.DOWN,
) -> Standing:
    """
    Say how a reading stands; at a limit is still within it.

    Raises ValueError for a release limit on the wrong side of the condemning one.
    """
    sign = 1 if grows is Grows.DOWN else -1
    positive(mm, "The reading", "mm")
    if release_mm is not None and sign * release_mm < sign * condemning_mm:
        raise ValueError(
            "The release limit must be reached before the condemning limit."
        )
    if sign * mm < sign * condemning_mm:
        return Standing.CONDEMNED
    if release_mm is not None and sign * mm < sign * release_mm:
        return Standing.NOT_TO_RELEASE
    return Standing.IN_ORDER


def _worn(series: Sequence[WearReading], grows: Grows) -> Line:
    """Return the line of wear in mm against days, rising as the part wears."""
    sign = -1 if grows is Grows.DOWN else 1
    start = series[0].on
    days = [float((reading.on - start).days) for reading in series]
    return fit_line(days, [sign * reading.mm for reading in series])


def _band(line: Line, error_mm: float) -> float | None:
    stated = TWO_SIDED_95 * error_mm / line.spread
    seen = 0.0
    if line.standard_error is not None:
        seen = t_95(line.points - 2) * line.standard_error
    if not stated and line.standard_error is None:
        return None
    return max(stated, seen) * DAYS_A_YEAR


def _left(last: WearReading, limit_mm: float, grows: Grows) -> float:
    left = last.mm - limit_mm
    return left if grows is Grows.DOWN else -left


def _day(last: dt.date, left: float, rate: float | None) -> dt.date | None:
    """Return the last whole day within the limit; the day of the reading if beyond it."""
    if left <= 0:
        return last
    if rate is None or rate <= 0:
        return None
    days = left / rate * DAYS_A_YEAR
    most = (LATEST_DAY - last).days
    return last + dt.timedelta(days=int(days)) if days < most else None
