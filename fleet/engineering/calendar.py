"""Dates as a workshop knows them: imprecise days, order within a day, calendar months."""

import calendar
import datetime as dt
import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Self

EARLIEST_DAY = dt.date(1850, 1, 1)
LATEST_DAY = dt.date(2199, 12, 31)
SECONDS_A_DAY = 86_400


class Precision(StrEnum):
    """How closely a date is known."""

    DAY = "day"
    MONTH = "month"
    QUARTER = "quarter"
    YEAR = "year"
    UNKNOWN = "unknown"


class Order(StrEnum):
    """Which of two moments came first, as far as the records can tell."""

    BEFORE = "before"
    AFTER = "after"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Moment:
    """
    When something happened: a span of days it must lie in, and what is known within the day.

    `earliest` and `latest` are both None for an unknown date, equal for a known day.
    `at` is the time of day where it was noted; `order` the place in the sequence of one
    day, used only between moments that carry it and whose times do not tell.
    """

    earliest: dt.date | None
    latest: dt.date | None
    at: dt.time | None = None
    order: int | None = None

    def __post_init__(self) -> None:
        if (self.earliest is None) != (self.latest is None):
            raise ValueError("an unknown date has neither bound")
        if self.earliest and self.latest and self.earliest > self.latest:
            raise ValueError(f"{self.earliest} is after {self.latest}")
        if self.at is not None and (
            self.earliest is None or self.earliest != self.latest
        ):
            raise ValueError("a time of day needs a known day")

    @classmethod
    def on(
        cls, day: dt.date, at: dt.time | None = None, order: int | None = None
    ) -> Self:
        """Return the moment of a known day."""
        return cls(day, day, at, order)

    @classmethod
    def unknown(cls) -> Self:
        """Return the moment nobody can date."""
        return cls(None, None)

    @classmethod
    def parse(cls, text: str) -> Self:
        """
        Read a date as people write it: 2019-05-03, 2019-05, 2019-Q2, 2019 or "unknown".

        Raises ValueError with a sentence for the user.
        """
        return cls(*bounds(text))

    @property
    def known(self) -> bool:
        """Say whether anything is known of the date."""
        return self.earliest is not None

    @property
    def precision(self) -> Precision:
        """Say how closely the date is known, read back from its bounds."""
        if self.earliest is None or self.latest is None:
            return Precision.UNKNOWN
        days = (self.latest - self.earliest).days
        if days == 0:
            return Precision.DAY
        if days <= 31:
            return Precision.MONTH
        return Precision.QUARTER if days <= 92 else Precision.YEAR

    @property
    def key(self) -> int | None:
        """Return the second at which a half-open interval from or to here begins or ends."""
        if self.earliest is None:
            return None
        at = self.at or dt.time.min
        seconds = at.hour * 3600 + at.minute * 60 + at.second
        return self.earliest.toordinal() * SECONDS_A_DAY + seconds

    def __str__(self) -> str:
        if self.earliest is None or self.latest is None:
            return "date unknown"
        match self.precision:
            case Precision.DAY:
                text = f"{self.earliest.day} {self.earliest:%b %Y}"
                return f"{text}, {self.at:%H:%M}" if self.at else text
            case Precision.MONTH:
                return f"{self.earliest:%b %Y}"
            case Precision.QUARTER:
                return (
                    f"quarter {(self.earliest.month + 2) // 3} of {self.earliest.year}"
                )
            case _:
                return f"{self.earliest.year}"


def bounds(text: str) -> tuple[dt.date | None, dt.date | None]:
    """
    Return the first and last day a written date can mean; (None, None) if unknown.

    Raises ValueError with a sentence for the user.
    """
    text = text.strip()
    if text.lower() in {"", "unknown", "?"}:
        return None, None
    shape = re.fullmatch(r"(\d{4})(?:-(?:[Qq]([1-4])|(\d{1,2})(?:-(\d{1,2}))?))?", text)
    if not shape:
        raise ValueError(
            "Write the date as 2019-05-03, 2019-05, 2019-Q2, 2019 or unknown."
        )
    year, quarter, month, day = (int(g) if g else None for g in shape.groups())
    assert year is not None
    try:
        if day and month:
            first = last = dt.date(year, month, day)
        elif month:
            first, last = dt.date(year, month, 1), month_end(year, month)
        elif quarter:
            first = dt.date(year, 3 * quarter - 2, 1)
            last = month_end(year, 3 * quarter)
        else:
            first, last = dt.date(year, 1, 1), dt.date(year, 12, 31)
    except ValueError:
        raise ValueError(f"There is no such date as {text}.") from None
    if first < EARLIEST_DAY or last > LATEST_DAY:
        raise ValueError(f"{text} is outside {EARLIEST_DAY.year} to {LATEST_DAY.year}.")
    return first, last


def month_end(year: int, month: int) -> dt.date:
    """Return the last day of a month."""
    return dt.date(year, month, calendar.monthrange(year, month)[1])


def add_months(day: dt.date, months: int) -> dt.date:
    """
    Return the same-numbered day `months` later, the end of a shorter month clipped.

    Count from the anchor and never chain: 31 Jan + 1 is 28 Feb, 31 Jan + 2 is 31 Mar
    (the corresponding-date rule, Dodds v Walker [1981] UKHL).
    """
    year, month0 = divmod(day.year * 12 + day.month - 1 + months, 12)
    if year > LATEST_DAY.year:
        return LATEST_DAY
    last = calendar.monthrange(year, month0 + 1)[1]
    return dt.date(year, month0 + 1, min(day.day, last))


def order_of(first: Moment, second: Moment) -> Order:
    """
    Say whether `first` was before or after `second`; unknown if the records cannot tell.

    Days decide where their bounds do not overlap; on one known day the times decide, and
    where the times are equal or missing, the stated order within the day.
    """
    if not (first.latest and second.latest and first.earliest and second.earliest):
        return Order.UNKNOWN
    if first.latest < second.earliest:
        return Order.BEFORE
    if first.earliest > second.latest:
        return Order.AFTER
    days = {first.earliest, first.latest, second.earliest, second.latest}
    return _order_within(first, second) if len(days) == 1 else Order.UNKNOWN


def _order_within(first: Moment, second: Moment) -> Order:
    """Return the order of two moments of one day."""
    if first.at and second.at and first.at != second.at:
        return Order.BEFORE if first.at < second.at else Order.AFTER
    both_or_neither = bool(first.at) == bool(second.at)
    if not both_or_neither or first.order is None or second.order is None:
        return Order.UNKNOWN
    if first.order == second.order:
        return Order.UNKNOWN
    return Order.BEFORE if first.order < second.order else Order.AFTER
