"""Half-open intervals of days, and the worst bounds an imprecise date gives them. Pure."""

import datetime as dt
from collections.abc import Iterable, Iterator

from fleet.engineering.calendar import Moment

ALWAYS = dt.date.min  # open to the past
FOREVER = dt.date.max  # open to the future

Interval = tuple[dt.date, dt.date]


def opens(moment: Moment) -> dt.date:
    """Return the first day a moment can mean; a moment nobody can date opens always."""
    return moment.earliest or ALWAYS


def closes(moment: Moment | None) -> dt.date:
    """Return the last day a moment can mean; undated or not yet: for ever."""
    return FOREVER if moment is None else moment.latest or FOREVER


def held(since: Moment, until: Moment | None) -> Interval:
    """Return the longest interval two moments can mean: how long a bad fact counts."""
    return opens(since), closes(until)


def sure(since: Moment, until: Moment | None) -> Interval:
    """Return the shortest interval two moments can mean: how long a good fact counts."""
    end = FOREVER if until is None else until.earliest or ALWAYS
    return since.latest or FOREVER, end


def overlap(first: Interval, second: Interval) -> Interval | None:
    """Return what two intervals share; None if nothing."""
    since = first[0] if first[0] > second[0] else second[0]
    until = first[1] if first[1] < second[1] else second[1]
    return (since, until) if since < until else None


def within(interval: Interval, windows: Iterable[Interval]) -> Iterator[Interval]:
    """Yield the parts of an interval that lie in any of the windows."""
    for window in windows:
        part = overlap(interval, window)
        if part is not None:
            yield part


def merged(intervals: Iterable[Interval]) -> list[Interval]:
    """Return intervals in order, those that touch or overlap joined into one."""
    joined: list[Interval] = []
    for since, until in sorted(intervals):
        if since >= until:
            continue
        if joined and since <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(until, joined[-1][1]))
        else:
            joined.append((since, until))
    return joined


def gaps(covered: Iterable[Interval], whole: Interval) -> list[Interval]:
    """Return the parts of `whole` that no interval covers, in order."""
    left: list[Interval] = []
    at, end = whole
    covered = list(covered)
    if len(covered) == 1 and covered[0][0] <= at and end <= covered[0][1]:
        return left
    for since, until in merged(covered):
        if since >= end:
            break
        if since > at:
            left.append((at, since))
        at = max(at, until)
    if at < end:
        left.append((at, end))
    return left
