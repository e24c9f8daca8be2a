"""The rule of silent usage: a count nobody keeps up is no evidence."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace

from fleet.fitness.case import Case
from fleet.fitness.examples import AIR_YEARLY, SOUND_AIR, changed, days_ago, policy
from fleet.fitness.facts import UsageFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import FOREVER, Interval, merged
from fleet.fitness.rulebook import Example, Rule, rule
from fleet.register.vocabulary import Scope
from fleet.upkeep.due import later, written


def _last_used(days: int) -> Example:
    """Return the sound coach, a mileage requirement on it, usage up to days ago."""
    last = UsageFact(days_ago(days + 30), days_ago(days), 500.0, 20)
    earlier = tuple(u for u in SOUND_AIR.usage if u.last < last.first)
    practice = policy(replace(AIR_YEARLY, miles=10_000.0))
    return changed(practice, usage=(*earlier, last))


@rule(
    "U01",
    "Usage silent",
    why="A period in miles or days in service is only worth what the log is kept up.",
    source="the operator's general conditions",
    clears="Record the usage.",
    flags=_last_used(61),
    passes=_last_used(60),
)
def usage_silent(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days on which usage had been silent too long where it is counted by."""
    windows = merged(
        window
        for obligation in case.obligations
        if obligation.counts_usage
        for window in obligation.windows
    )
    if not windows:
        return
    logged = [(u.first, u.last) for u in case.file.usage]
    logged += [(since, _day_before(until)) for since, until in case.stored]
    logged.sort()
    least = min(c.usage_silent_days for _, c in case.conditions)
    for since, until in windows:
        for gap in _wide_gaps(logged, max(since, case.begin), until, least):
            yield from _silence(rule, case, gap)


def _day_before(day: dt.date) -> dt.date:
    return day if day == FOREVER else later(day, -1)


def _wide_gaps(
    logged: list[Interval], at: dt.date, end: dt.date, least_days: int
) -> Iterator[Interval]:
    """Yield the gaps wider than the shortest silence; logs are many, gaps are few."""
    quiet = dt.timedelta(least_days + 1)
    reached = later(at, -1)
    for first, last in logged:
        if first >= end:
            break
        if first - reached > quiet:
            yield later(reached, 1), first
        reached = max(reached, last)
    if reached < end and end - reached > quiet:
        yield later(reached, 1), end


def _silence(rule: Rule, case: Case, gap: Interval) -> Iterator[Finding]:
    for (since, until), conditions in case.conditions_over(gap):
        silent = later(gap[0], conditions.usage_silent_days)
        if silent >= until:
            continue
        days = conditions.usage_silent_days
        text = f"No usage recorded after {written(later(gap[0], -1))}"
        yield rule.finding(
            case,
            (max(since, silent), until),
            conditions.usage_silent_effect,
            Scope.VEHICLE,
            f"{text} for more than {days} days; due dates by usage are estimates",
            source=conditions.source,
            evidence=(Evidence("usage", case.file.id, "Usage"),),
        )
