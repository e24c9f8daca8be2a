"""When periodic work falls due: dates and usage in, due dates and overruns out. Pure."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

from fleet.engineering.calendar import LATEST_DAY, Moment, add_months
from fleet.upkeep.usage import Limb, UsageRecord

_LAST = LATEST_DAY.toordinal()
_ANY_TIME = dt.date.min
NOT_REACHED = "; at the recorded usage it is not reached"
_IN_YEARS_FROM = 3  # 24 months are said in months, 8 years in years

months_after = lru_cache(maxsize=65_536)(add_months)


@lru_cache(maxsize=65_536)
def written(day: dt.date) -> str:
    """Return a day as pages and papers write it: 3 Mar 2024."""
    return f"{day.day} {day:%b %Y}"


def later(day: dt.date, days: int) -> dt.date:
    """Return the day `days` calendar days on, never beyond the last day of the calendar."""
    ordinal = day.toordinal() + days
    if 1 <= ordinal <= _LAST:
        return dt.date.fromordinal(ordinal)
    return LATEST_DAY if days > 0 else dt.date.min


# Days out of use, half-open; the end is None while nobody knows it.
Away = tuple[dt.date, dt.date | None]


class Period(NamedTuple):
    """How long a requirement lasts, whichever comes first; no limb at all: once only."""

    months: int | None = None
    days_in_service: int | None = None
    miles: float | None = None
    tolerance_days: int = 0
    days: int | None = None  # of the calendar
    still_days: int | None = (
        None  # out of use so long on end, the calendar stands still
    )

    @property
    def counts_usage(self) -> bool:
        """Say whether miles or days in service bear on it."""
        return self.days_in_service is not None or self.miles is not None

    @property
    def counts_calendar(self) -> bool:
        """Say whether months or days of the calendar bear on it."""
        return self.months is not None or self.days is not None

    @property
    def words(self) -> str:
        """Return the period in words."""
        return _in_words(self.months, self.days, self.days_in_service, self.miles)

    def after(self, start: dt.date) -> dt.date | None:
        """Return the last day by the calendar; None where only usage counts."""
        ends = []
        if self.months is not None:
            ends.append(months_after(start, self.months))
        if self.days is not None:
            ends.append(later(start, self.days))
        return min(ends, default=None)


@lru_cache(maxsize=1_024)
def _in_words(
    months: int | None, calendar: int | None, days: int | None, miles: float | None
) -> str:
    limbs = [_months_in_words(months)] if months is not None else []
    if calendar is not None:
        limbs.append(f"{calendar:,} days".replace(",", " "))
    if days is not None:
        limbs.append(f"{days:,} days in service".replace(",", " "))
    if miles is not None:
        limbs.append(f"{miles:,.0f} miles".replace(",", " "))
    return " or ".join(limbs) or "once"


def _months_in_words(months: int) -> str:
    years, rest = divmod(months, 12)
    if years >= _IN_YEARS_FROM and not rest:
        return f"{years} years"
    return "1 month" if months == 1 else f"{months} months"


class Anchor(NamedTuple):
    """What a period is counted from; the verb begins the basis sentence."""

    on: Moment
    verb: str = "counted from"

    @property
    def words(self) -> str:
        """Return the anchor in words, with the day an imprecise date was taken as."""
        if self.on.earliest is None:
            return f"{self.verb} {self.on}"
        if self.on.earliest == self.on.latest:
            return f"{self.verb} {written(self.on.earliest)}"
        return f"{self.verb} {self.on}, taken as {written(self.on.earliest)}"


@dataclass(frozen=True)
class Edge:
    """
    Where a period ends. `due_on` is the last day within it, itself still good.

    `due_on` None: it does not run out, or cannot be worked out; the basis says which.
    """

    anchor: Anchor
    period: Period
    due_on: dt.date | None
    limb: Limb | None = None
    forecast: bool = False
    usage_to: dt.date | None = None
    credited_days: int = 0  # out of use, by which the calendar was extended
    away_since: dt.date | None = None  # out of use, not back yet: nothing credited

    @property
    def last_good_day(self) -> dt.date | None:
        """Return the due date with the tolerance added."""
        if self.due_on is None or not self.period.tolerance_days:
            return self.due_on
        return later(self.due_on, self.period.tolerance_days)

    @property
    def unknown(self) -> bool:
        """Say whether only usage counts and none is recorded."""
        return (
            self.period.counts_usage
            and not self.period.counts_calendar
            and self.usage_to is None
        )

    @cached_property
    def basis(self) -> str:
        """Return the sentence that names anchor, period and what ran out first."""
        period = self.period
        text = f"{self.anchor.words}, {period.words}"
        limbs = (period.months, period.days, period.days_in_service, period.miles)
        if self.credited_days:
            text += f", extended by {self.credited_days} days out of use"
        if self.away_since:
            away = written(self.away_since)
            text += f", out of use since {away}: credited once it is back"
        if self.limb and sum(limb is not None for limb in limbs) > 1:
            text += f", whichever first: {self.limb}"
        if self.forecast and self.usage_to and self.limb is not Limb.CALENDAR:
            text += f", forecast from usage up to {written(self.usage_to)}"
        if period.counts_usage and self.usage_to is None:
            text += "; no usage is recorded, so usage is not counted"
        elif self.due_on is None and period.counts_usage:
            text += NOT_REACHED
        return text


class _Credit(NamedTuple):
    """A due date after what was credited for days out of use."""

    due: dt.date
    days: int = 0
    away_since: dt.date | None = None


def _credit(
    start: dt.date, due: dt.date, still_days: int | None, away: Sequence[Away]
) -> _Credit:
    """
    Extend a due date by each period out of use of at least `still_days` since the start.

    In the manner of 49 CFR 229.33 (from memory) and 229.23(d). A period that begins
    after the date extended so far was too late: the work was due by then, and the
    tolerance is for doing it, not for standing. A period that has not ended counts for
    nothing yet: nobody knows how long it will be, and what is not known never helps.
    """
    found = _Credit(due)
    for since, until in sorted(away, key=_away_order) if still_days else ():
        first = max(since, later(start, 1))
        if first > found.due:
            break
        if until is None:
            return _Credit(found.due, found.days, since)
        days = (until - first).days
        if still_days and days >= still_days:
            found = _Credit(later(found.due, days), found.days + days)
    return found


def _away_order(period: Away) -> dt.date:
    return period[0]


def edge(
    anchor: Anchor,
    period: Period,
    usage: UsageRecord | None = None,
    away: Sequence[Away] = (),
) -> Edge:
    """
    Return where the period counted from an anchor ends, whichever limb comes first.

    The day of the anchor does not count (Dodds v Walker [1981] UKHL: the period ends
    with the corresponding date). `away` are the days out of use, apart from each other.
    Raises ValueError for an unknown date.
    """
    start = anchor.on.earliest
    if start is None:
        raise ValueError("a period cannot be counted from an unknown date")
    due, limb, forecast = None, None, False
    days, since = 0, None
    plain = period.after(start)
    if plain is not None:
        due, days, since = _credit(start, plain, period.still_days, away)
        limb, forecast = Limb.CALENDAR, since is not None
    if not period.counts_usage:
        return Edge(anchor, period, due, limb, forecast, None, days, since)
    usage_to = usage.last_day if usage else None
    for usage_limb, limit in (
        (Limb.DAYS, period.days_in_service),
        (Limb.MILES, period.miles),
    ):
        if limit is None or usage is None or usage_to is None:
            continue
        day, estimate = usage.reached(usage_limb, limit, start)
        if day is not None and (due is None or day < due):
            due, limb, forecast = day, usage_limb, estimate
    return Edge(anchor, period, due, limb, forecast, usage_to, days, since)


class Overrun(NamedTuple):
    """From `since` up to `until` (None: until it is done) the period had run out."""

    since: dt.date
    until: dt.date | None
    edge: Edge


class Course(NamedTuple):
    """
    A requirement of one subject through all its history.

    `first_good` is the day it was first met: None if it never was, the first day of the
    calendar where a made or fitted date starts it. `due` is the edge it now runs to.
    """

    first_good: dt.date | None
    overruns: tuple[Overrun, ...]
    due: Edge | None


_NEVER = Course(None, (), None)


# From when a period counts as good, its last good day, the date it is counted from, and
# its edge where that had to be made to know the day.
_Run = tuple[dt.date, dt.date | None, Moment, Edge | None]


def course(
    done: Sequence[Moment],
    period: Period,
    usage: UsageRecord | None = None,
    start: Anchor | None = None,
    away: Sequence[Away] = (),
) -> Course:
    """
    Work out every overrun of a requirement, and the edge it now runs to.

    `done` are the times it was met, in any order; unknown dates cannot count. `start`
    is a made or fitted date the first period is counted from. An imprecise date counts
    at its worst: the next period runs from its first day, and an overrun before it is
    cleared only from its last. `away` are the days out of use, apart from each other.
    """
    runs: list[_Run] = []
    if start is not None and start.on.earliest is not None:
        runs.append(_from_edge(_ANY_TIME, edge(start, period, usage, away)))
    only_months = period.days is None and not period.counts_usage
    plain = only_months and not (period.still_days and away)
    if period.months is not None and plain:
        tolerance = period.tolerance_days
        runs += [_by_months(on, period.months, tolerance) for on in done if on.latest]
    else:
        runs += [
            _from_edge(on.latest, edge(Anchor(on), period, usage, away))
            for on in done
            if on.latest
        ]
    if not runs:
        return _NEVER
    runs.sort(key=_run_order)
    return _follow(runs, period, usage, away)


def _follow(
    runs: list[_Run],
    period: Period,
    usage: UsageRecord | None,
    away: Sequence[Away],
) -> Course:
    overruns: list[Overrun] = []
    good_to, current = runs[0][1], runs[0]
    for run in runs[1:]:
        since, ends = run[0], run[1]
        if good_to is None:
            break  # it does not run out
        if good_to < since and (opens := later(good_to, 1)) < since:
            overruns.append(
                Overrun(opens, since, _edge_of(current, period, usage, away))
            )
        if ends is None or ends >= good_to:
            good_to, current = ends, run
    due = _edge_of(current, period, usage, away)
    if good_to is not None:
        overruns.append(Overrun(later(good_to, 1), None, due))
    return Course(runs[0][0], tuple(overruns), due)


def _edge_of(
    run: _Run, period: Period, usage: UsageRecord | None, away: Sequence[Away]
) -> Edge:
    return run[3] or edge(Anchor(run[2]), period, usage, away)


def _by_months(on: Moment, months: int, tolerance_days: int) -> _Run:
    assert on.earliest is not None
    assert on.latest is not None
    last = months_after(on.earliest, months)
    if tolerance_days:
        last = later(last, tolerance_days)
    if last < on.latest:
        last = later(on.latest, -1)  # less precise than its period: proves nothing
    return on.latest, last, on, None


def _from_edge(since: dt.date, there: Edge) -> _Run:
    last = there.last_good_day
    if last is not None and last < since and since != _ANY_TIME:
        last = later(since, -1)
    return since, last, there.anchor.on, there


def _run_order(run: _Run) -> tuple[dt.date, dt.date]:
    return run[0], run[2].earliest or run[0]
