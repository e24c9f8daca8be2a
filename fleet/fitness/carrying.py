"""Usage an item has seen: that of every vehicle, while it carried the item. Pure."""

import datetime as dt
from collections.abc import Iterable, Sequence

from fleet.fitness.facts import FittedFact, UsageFact

Carried = tuple[FittedFact, UsageFact]  # a fitting, and a usage of its vehicle


def usage_of_items(
    items: Iterable[int],
    fitted: Sequence[FittedFact],
    usage: tuple[UsageFact, ...],
    elsewhere: Iterable[Carried],
) -> dict[int, tuple[UsageFact, ...]]:
    """
    Return the usage of each item, in order of time.

    `usage` and `fitted` are those of the vehicle in hand, `elsewhere` what its items saw
    on others. An item on the vehicle all the time shares the vehicle's usage.
    """
    found: dict[int, list[UsageFact]] = {item: [] for item in items}
    whole: dict[int, tuple[UsageFact, ...]] = {}
    for fitting in fitted:
        if fitting.equipment not in found:
            continue
        if _throughout(fitting, usage):
            whole[fitting.equipment] = usage
        else:
            shares = (share(fitting, logged) for logged in usage)
            found[fitting.equipment] += filter(None, shares)
    for fitting, logged in elsewhere:
        part = share(fitting, logged)
        if part is not None and fitting.equipment in found:
            found[fitting.equipment].append(part)
    return {item: _joined(whole.get(item, ()), more) for item, more in found.items()}


def share(fitting: FittedFact, logged: UsageFact) -> UsageFact | None:
    """
    Return the part of a usage that falls within a fitting; None if nothing does.

    Miles and days are taken in proportion. A date that is not precise counts so that
    the item has seen more.
    """
    begin, stop = _days(fitting)
    first, last = max(logged.first, begin), min(logged.last, stop)
    if first > last:
        return None
    if first == logged.first and last == logged.last:
        return logged
    part = ((last - first).days + 1) / ((logged.last - logged.first).days + 1)
    return UsageFact(first, last, logged.miles * part, round(logged.days * part))


def _days(fitting: FittedFact) -> tuple[dt.date, dt.date]:
    """Return the first and the last day; the day it came off counts for what followed."""
    begin = fitting.since.earliest or dt.date.min
    if fitting.until is None or fitting.until.latest is None:
        return begin, dt.date.max
    return begin, fitting.until.latest - dt.timedelta(days=1)


def _throughout(fitting: FittedFact, usage: tuple[UsageFact, ...]) -> bool:
    begin, stop = _days(fitting)
    return not usage or (begin <= usage[0].first and usage[-1].last <= stop)


def _joined(
    usage: tuple[UsageFact, ...], more: list[UsageFact]
) -> tuple[UsageFact, ...]:
    if not more:
        return usage
    return tuple(
        sorted((*usage, *more), key=lambda logged: (logged.first, logged.last))
    )
