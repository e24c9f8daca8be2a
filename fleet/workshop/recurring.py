"""When work falls due again after it was done on a day. Pure."""

import datetime as dt
from math import ceil
from typing import NamedTuple

from fleet.engineering.calendar import LATEST_DAY
from fleet.upkeep.due import Period, later

DAYS_A_YEAR = 365
_DECIMALS = 6  # of a day


class Rate(NamedTuple):
    """What a vehicle does in a day of the recent past, or is asked to do."""

    days: float = 0.0  # in service
    miles: float = 0.0

    def at(self, days: float) -> "Rate":
        """Return the rate at so many days in service a day, with as many miles to each."""
        return Rate(days, days * self.miles / self.days if self.days else 0.0)


def next_due(done: dt.date, period: Period, rate: Rate) -> dt.date | None:
    """
    Return the last day of the period that begins when the work is done on a day.

    Months end with the corresponding date, as everywhere (fleet.engineering.calendar);
    miles and days in service go on at `rate`. None: at that rate it never comes.
    """
    ends = [period.after(done)]
    for limit, each_day in (
        (period.days_in_service, rate.days),
        (period.miles, rate.miles),
    ):
        if limit is not None and each_day > 0:
            # Rounded first: a hair over a whole day comes of the sum, not of the usage.
            needed = ceil(round(limit / each_day, _DECIMALS))
            days = min(needed, LATEST_DAY.toordinal())
            ends.append(later(done, max(1, days)))
    return min((day for day in ends if day is not None), default=None)


def lasts(done: dt.date, period: Period, rate: Rate) -> int | None:
    """Return how many days a period lasts when it begins on a day; None: for ever."""
    ends = next_due(done, period, rate)
    return None if ends is None else max(1, (ends - done).days)
