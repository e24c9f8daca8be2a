"""What calibrations say of an instrument at a moment, and of the tests it served. Pure."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from fleet.engineering.calendar import Moment, Order, add_months, order_of
from fleet.engineering.units import straight_line
from fleet.register.vocabulary import Word


class Standing(Word):
    """How an instrument stood at a moment, by what had been recorded up to then."""

    GOOD = "good", "In calibration"
    LAPSED = "lapsed", "Calibration lapsed"
    NEVER = "never", "Never calibrated"
    WRONG = "wrong", "Left outside its class"
    WITHDRAWN = "withdrawn", "Withdrawn"


@dataclass(frozen=True, slots=True)
class Comparison:
    """A calibration: how the instrument was found and left, and its last good day."""

    on: Moment
    found_good: bool
    left_good: bool
    good_until: dt.date


@dataclass(frozen=True, slots=True)
class Record:
    """
    All that is recorded of an instrument's trustworthiness; comparisons in any order.

    `withdrawn` are half-open intervals of moments, the second None while it lasts.
    """

    comparisons: tuple[Comparison, ...] = ()
    withdrawn: tuple[tuple[Moment, Moment | None], ...] = ()


def limit_of_error(
    accuracy_class: Decimal, range_low: Decimal, range_high: Decimal
) -> Decimal:
    """
    Return the greatest error either way, in the unit of the range: class % of the span.

    EN 837-1:1996, table 11, gives ± the class in per cent of the span for classes 0.1 to
    4. It holds at the reference temperature; what warmth adds is not in it.
    """
    return accuracy_class * (range_high - range_low) / 100


def within_limit(error: Decimal, unit: str, limit: Decimal, limit_unit: str) -> bool:
    """
    Say whether an error, either way, is within a limit; equal to it is within.

    An error is a difference: only the size of the unit counts, not where its zero lies.
    Raises ValueError with a sentence where the units do not measure the same.
    """
    slope, _ = straight_line(unit, limit_unit)
    return abs(error * slope) <= limit


def good_for(on: dt.date, months: int) -> dt.date:
    """Return the last good day of a calibration: the same day, so many months on."""
    return add_months(on, months)


def standing_at(record: Record, at: Moment) -> Standing:
    """
    Return how an instrument stood at a moment, not looking at what was found later.

    A calibration counts where it is known to have come before; the last good day is
    inclusive, and of an imprecise moment its last day counts.
    """
    if any(_may_hold(at, since, until) for since, until in record.withdrawn):
        return Standing.WITHDRAWN
    last = last_before(record, at)
    if last is None:
        return Standing.NEVER
    if not last.left_good:
        return Standing.WRONG
    lapsed = at.latest is None or at.latest > last.good_until
    return Standing.LAPSED if lapsed else Standing.GOOD


def standing_on(record: Record, day: dt.date) -> Standing:
    """Return how an instrument stands at the close of a day."""
    close = Moment.on(day)
    if any(_may_hold(close, since, until) for since, until in record.withdrawn):
        return Standing.WITHDRAWN
    done = [c for c in record.comparisons if c.on.latest and c.on.latest <= day]
    last = max(done, key=_order, default=None)
    if last is None:
        return Standing.NEVER
    if not last.left_good:
        return Standing.WRONG
    return Standing.LAPSED if day > last.good_until else Standing.GOOD


def last_before(record: Record, at: Moment) -> Comparison | None:
    """Return the last calibration known to have come before a moment."""
    before = [c for c in record.comparisons if order_of(c.on, at) is Order.BEFORE]
    return max(before, key=_order, default=None)


def next_after(record: Record, at: Moment) -> list[Comparison]:
    """Return the calibration after a moment, with any not known to be before it."""
    after = [c for c in record.comparisons if order_of(c.on, at) is Order.AFTER]
    unsure = [c for c in record.comparisons if order_of(c.on, at) is Order.UNKNOWN]
    return unsure + ([min(after, key=_order)] if after else [])


def doubt(record: Record, at: Moment) -> str:
    """
    Return why a reading taken at a moment is in doubt, in words; "" where it is not.

    Found wrong at the next calibration: in doubt, however good its paper was. Found good
    there: re-verified, even where the calibration had lapsed or there was none, unless
    the one before had left it wrong.
    """
    following = next_after(record, at)
    for comparison in sorted(following, key=_order):
        if not comparison.found_good:
            return f"found wrong when calibrated on {comparison.on}"
    standing = standing_at(record, at)
    if standing is Standing.GOOD:
        return ""
    if following and at.known and standing is not Standing.WRONG:
        return ""
    return _words(standing, last_before(record, at))


def last_good_before(record: Record, comparison: Comparison) -> Comparison | None:
    """Return the last calibration before one that left the instrument good."""
    earlier = [
        c for c in record.comparisons if c.left_good and _order(c) < _order(comparison)
    ]
    return max(earlier, key=_order, default=None)


def in_question(
    at: Moment, last_good: Comparison | None, found_wrong: Comparison
) -> bool:
    """Say whether a reading of a moment lies between the two, as far as is known."""
    if order_of(at, found_wrong.on) is Order.AFTER:
        return False
    return last_good is None or order_of(at, last_good.on) is not Order.BEFORE


def _words(standing: Standing, last: Comparison | None) -> str:
    match standing:
        case Standing.LAPSED if last is not None:
            day = last.good_until
            return f"out of calibration, last good day {day.day} {day:%b %Y}"
        case Standing.WRONG if last is not None:
            return f"left outside its class when calibrated on {last.on}"
        case Standing.WITHDRAWN:
            return "withdrawn from use"
        case _:
            return "not calibrated before"


def _may_hold(at: Moment, since: Moment, until: Moment | None) -> bool:
    """Say whether a moment may lie in an interval."""
    if until is not None and order_of(at, until) is Order.AFTER:
        return False
    if until is not None and at.known and until.key == at.key:
        return False
    return order_of(at, since) is not Order.BEFORE


def _order(comparison: Comparison) -> tuple[dt.date, int, int]:
    on = comparison.on
    return on.latest or dt.date.min, on.key or 0, on.order or 0
