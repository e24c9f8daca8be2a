"""What is kept of the workshop, in the words its pages show."""

import datetime as dt
from collections.abc import Callable
from typing import Any

from fleet.people.models import Skill
from fleet.register.vocabulary import System
from fleet.workshop.models import (
    ClosureVersion,
    ContractorVersion,
    DiaryLineVersion,
    ShopPlaceVersion,
    WorkTimeVersion,
)
from fleet.workshop.naming import place_name, type_name, vehicle_number
from fleet.workshop.vocabulary import Each, Place, many

Facts = list[tuple[str, str]]

SHORT = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
WEEKEND, WORKING, DAILY = "67", "12345", "1234567"


def day_words(day: dt.date) -> str:
    """Return a day as pages write it."""
    return f"{day.day} {day:%b %Y}"


def span_words(first: dt.date, last: dt.date | None) -> str:
    """Return a span of days, both included: "1 to 31 May 2027"."""
    if last is None:
        return f"from {day_words(first)} until further notice"
    if first == last:
        return day_words(first)
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {day_words(last)}"
    if first.year == last.year:
        return f"{first.day} {first:%b} to {day_words(last)}"
    return f"{day_words(first)} to {day_words(last)}"


def weekday_words(weekdays: str) -> str:
    """Return days of the week, runs of three and more drawn together: "Tue to Thu, Sun"."""
    named = {DAILY: "daily", WEEKEND: "Sat, Sun", WORKING: "Mon to Fri"}
    if weekdays in named:
        return named[weekdays]
    runs: list[list[int]] = []
    for number in sorted(int(n) - 1 for n in weekdays):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(_run_words(run) for run in runs)


def _run_words(run: list[int]) -> str:
    if len(run) > 2:  # noqa: PLR2004  # two days are named, three are a run
        return f"{SHORT[run[0]]} to {SHORT[run[-1]]}"
    return ", ".join(SHORT[n] for n in run)


def facts_of(version: Any) -> Facts:
    """Return what a version says, as pairs of heading and words."""
    return _FACTS[type(version)](version)


def _line(row: DiaryLineVersion) -> Facts:
    wanted = f"{row.vehicles} of any type"
    if row.vehicle_id is not None:
        wanted = vehicle_number(row.vehicle_id)
    elif row.vehicle_type_id is not None:
        wanted = f"{row.vehicles} of type {type_name(row.vehicle_type_id)}"
    return [
        ("What runs", row.title),
        ("When", f"{span_words(row.first, row.last)}, {weekday_words(row.weekdays)}"),
        ("Wanted", wanted),
        ("Fit braked on", System(row.system).label.lower()),
        ("A day short counts", str(row.weight)),
    ]


def _place(row: ShopPlaceVersion) -> Facts:
    return [
        ("Name", row.name),
        ("What it is", Place(row.kind).label),
        ("When", span_words(row.first, row.last)),
    ]


def _hours(row: WorkTimeVersion) -> Facts:
    return [
        ("Whose", row.title),
        ("Skill", Skill(row.skill).label),
        ("Hours", f"{row.hours} h {Each(row.each).label}"),
        ("When", span_words(row.first, row.last)),
    ]


def _closure(row: ClosureVersion) -> Facts:
    shut = "The whole shop" if row.place_id is None else place_name(row.place_id)
    return [
        ("Why", row.title),
        ("What is shut", shut),
        ("When", span_words(row.first, row.last)),
    ]


def _contractor(row: ContractorVersion) -> Facts:
    ended = [("No longer used from", day_words(row.ended_on))] if row.ended_on else []
    return [
        ("Name", row.name),
        ("Takes", f"{many(row.lead_weeks, 'week')} from sending to return"),
        ("Note", row.note or "none"),
        *ended,
    ]


_FACTS: dict[type, Callable[[Any], Facts]] = {
    DiaryLineVersion: _line,
    ShopPlaceVersion: _place,
    WorkTimeVersion: _hours,
    ClosureVersion: _closure,
    ContractorVersion: _contractor,
}
