"""Usage as a running total: how far a vehicle or item had run by a day. Pure."""

import datetime as dt
from bisect import bisect_left
from collections.abc import Iterable
from enum import StrEnum
from itertools import accumulate
from math import ceil, floor
from typing import Protocol

from fleet.engineering.calendar import LATEST_DAY

_LAST = LATEST_DAY.toordinal()
_ROUNDING = 1e-9  # a limit reached to within a rounding error is reached


class Limb(StrEnum):
    """The part of a period that ran out first."""

    CALENDAR = "calendar"
    DAYS = "days in service"
    MILES = "miles"


class UsageRow(Protocol):
    """Miles run and days in service from `first` to `last`, both included."""

    @property
    def first(self) -> dt.date: ...
    @property
    def last(self) -> dt.date: ...
    @property
    def miles(self) -> float: ...
    @property
    def days(self) -> int: ...


class UsageRecord:
    """
    Usage of one vehicle or item as a running total, prorated evenly inside each log.

    Beyond the last log the total goes on at the mean rate of the `window_days` that end
    with it; before the first log, at the mean rate of all of them. Both are estimates.
    """

    def __init__(self, rows: Iterable[UsageRow], window_days: int) -> None:
        logs = _apart(sorted(rows, key=_log_order))
        self._firsts = [log[0] for log in logs]  # first and last days, as ordinals
        self._lasts = [log[1] for log in logs]
        self._totals = {
            Limb.DAYS: list(accumulate((log[2] for log in logs), initial=0.0)),
            Limb.MILES: list(accumulate((log[3] for log in logs), initial=0.0)),
        }
        self._window_days = max(1, window_days)

    @property
    def last_day(self) -> dt.date | None:
        """Return the last day usage is recorded for; None if none is."""
        return dt.date.fromordinal(self._lasts[-1]) if self._lasts else None

    def reached(
        self, limb: Limb, limit: float, after: dt.date
    ) -> tuple[dt.date | None, bool]:
        """
        Return the day on which `limit` is reached, and whether that is an estimate.

        Counted from the close of `after`. None: at the present rate, never. Raises
        ValueError when no usage is recorded.
        """
        if not self._lasts:
            raise ValueError("no usage is recorded")
        start = after.toordinal()
        target = self._total(limb, start) + limit - _ROUNDING * max(1.0, limit)
        day = self._day_of(limb, target)
        estimate = start < self._firsts[0] - 1 or (day or _LAST + 1) > self._lasts[-1]
        if day is None:
            return None, True
        return dt.date.fromordinal(max(start, min(day, _LAST))), estimate

    def a_day(self, limb: Limb) -> float:
        """Return the mean of a day of the recent past; 0 where no usage is recorded."""
        return self._rate(limb) if self._lasts else 0.0

    def _total(self, limb: Limb, day: int) -> float:
        totals = self._totals[limb]
        if day >= self._lasts[-1]:
            return totals[-1] + (day - self._lasts[-1]) * self._rate(limb)
        if day < self._firsts[0]:
            return (day - self._firsts[0] + 1) * self._mean(limb)
        at = bisect_left(self._lasts, day)
        first, last = self._firsts[at], self._lasts[at]
        share = max(0, day - first + 1) / (last - first + 1)
        return totals[at] + share * (totals[at + 1] - totals[at])

    def _day_of(self, limb: Limb, target: float) -> int | None:
        totals = self._totals[limb]
        if target > totals[-1]:
            rate = self._rate(limb)
            if rate <= 0:
                return None
            return self._lasts[-1] + ceil(min((target - totals[-1]) / rate, _LAST))
        if target <= 0:
            mean = self._mean(limb)
            back = floor(min(-target / mean, _LAST)) if mean > 0 else 0
            return max(1, self._firsts[0] - 1 - back)
        at = bisect_left(totals, target) - 1
        first, last = self._firsts[at], self._lasts[at]
        share = (target - totals[at]) / (totals[at + 1] - totals[at])
        return min(last, first + ceil(share * (last - first + 1)) - 1)

    def _rate(self, limb: Limb) -> float:
        last = self._lasts[-1]
        first = max(self._firsts[0], last - self._window_days + 1)
        totals = self._totals[limb]
        before = self._total(limb, first - 1) if first > self._firsts[0] else 0.0
        return (totals[-1] - before) / (last - first + 1)

    def _mean(self, limb: Limb) -> float:
        return self._totals[limb][-1] / (self._lasts[-1] - self._firsts[0] + 1)


_Log = tuple[int, int, float, float]  # first and last day, days in service, miles


def _apart(rows: Iterable[UsageRow]) -> list[_Log]:
    """Return logs that do not overlap; what an overlap brings is not lost."""
    logs: list[_Log] = []
    reached = 0
    for row in rows:
        first, last = row.first.toordinal(), row.last.toordinal()
        days = row.days if row.days > 0 else 0.0
        miles = row.miles if row.miles > 0 else 0.0
        if first <= reached:
            first = reached + 1
        if first <= last:
            logs.append((first, last, days, miles))
            reached = last
        elif logs:
            before = logs[-1]
            logs[-1] = (before[0], before[1], before[2] + days, before[3] + miles)
    return logs


def _log_order(row: UsageRow) -> tuple[dt.date, dt.date]:
    return row.first, row.last
