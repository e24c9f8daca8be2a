"""What can be supposed of a programme: the choices there are, and the form that asks."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from fleet.people.models import Skill
from fleet.workshop.engine.problem import Problem
from fleet.workshop.models import (
    ContractorVersion,
    ExchangeGroupVersion,
    WorkTimeVersion,
)
from fleet.workshop.showing import span_words
from fleet.workshop.suppositions import Supposed, Supposition
from fleet.workshop.vocabulary import Each, Place

WORKING_DAYS = 5
Choice = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Choices:
    """What the form offers, by key and words; and what is meant by each key."""

    contractors: dict[str, tuple[str, list[str]]]  # name, groups it overhauls
    sources: dict[str, WorkTimeVersion]
    vehicles: dict[str, str]
    groups: dict[str, str]
    skills: list[Choice]  # that job plans or recorded hours use


def choices_of(problem: Problem) -> Choices:
    """Return what can be supposed of a problem; three queries."""
    groups: dict[str, list[str]] = {}
    held = ExchangeGroupVersion.objects.current().select_related("group")
    for row in held.filter(contractor__isnull=False):
        groups.setdefault(str(row.contractor_id), []).append(row.group.code)
    return Choices(
        {
            str(row.contractor_id): (row.name, groups.get(str(row.contractor_id), []))
            for row in ContractorVersion.objects.current()
        },
        {str(row.pk): row for row in WorkTimeVersion.objects.current()},
        {v.key: v.label for v in problem.vehicles},
        {f.group: f.label for f in problem.floats},
        _skills(problem),
    )


def _skills(problem: Problem) -> list[Choice]:
    used = {*problem.capacity.hours, *(s for job in problem.jobs for s in job.hours)}
    return [(skill, label) for skill, label in Skill.choices if skill in used]


def source_words(row: WorkTimeVersion) -> str:
    """Return whose hours these are, and when: many a work weekend bears the same name."""
    skill, days = Skill(row.skill).label, span_words(row.first, row.last)
    return f"{row.title}, {days}: {skill}, {row.hours} h {Each(row.each).label}"


def contractor_late(choices: Choices, key: str, weeks: int) -> Supposition:
    """Suppose a contractor so many weeks late with all that is away and all to come."""
    name, groups = choices.contractors[key]
    kind = Supposed.CONTRACTOR_LATE.value
    return {"kind": kind, "name": name, "groups": groups, "weeks": weeks}


def source_lost(choices: Choices, key: str, problem: Problem) -> Supposition:
    """Suppose a source of hours, such as a work weekend, away."""
    row = choices.sources[key]
    last = row.last or problem.date_of(7 * problem.weeks - 1)
    return {
        "kind": Supposed.HOURS_LOST.value,
        "name": row.title,
        "skill": row.skill,
        "hours": _a_week(row, last),
        **_days(row.first, last),
    }


def _a_week(row: WorkTimeVersion, last: dt.date) -> int:
    """Return the most that a source gives in one week."""
    days = (last - row.first).days + 1
    match Each(row.each):
        case Each.WEEK:
            return row.hours
        case Each.DAY:
            return row.hours * min(days, 7)
        case _:
            weeks = max(1, -(-days // 7))
            return -(-row.hours // weeks)


def hours_lost(
    skill: str, first: dt.date, last: dt.date, hours: int | None
) -> Supposition:
    """Suppose hours of a skill, or of all, lost each week of some days."""
    name = Skill(skill).label if skill else "All skills"
    kind = Supposed.HOURS_LOST.value
    return {
        "kind": kind,
        "name": name,
        "skill": skill,
        "hours": hours,
        **_days(first, last),
    }


def vehicles_away(
    choices: Choices, keys: list[str], first: dt.date, last: dt.date
) -> Supposition:
    """Suppose vehicles lent, or otherwise away."""
    names = [choices.vehicles[key] for key in keys]
    kind = Supposed.VEHICLES_AWAY.value
    return {"kind": kind, "vehicles": keys, "names": names, **_days(first, last)}


def place_lost(place: str, number: int, first: dt.date, last: dt.date) -> Supposition:
    """Suppose roads or pits lost."""
    kind = Supposed.PLACE_LOST.value
    return {
        "kind": kind,
        "place": Place(place).value,
        "number": number,
        **_days(first, last),
    }


def more_units(choices: Choices, group: str, number: int) -> Supposition:
    """Suppose more exchange units in store from the start."""
    kind = Supposed.MORE_UNITS.value
    return {
        "kind": kind,
        "group": group,
        "name": choices.groups[group],
        "number": number,
    }


def _days(first: dt.date, last: dt.date) -> dict[str, Any]:
    return {"first": first.isoformat(), "last": last.isoformat()}


def pairs(named: dict[str, Any]) -> Iterator[Choice]:
    """Yield key and words of each choice."""
    for key, words in named.items():
        yield key, str(words[0] if isinstance(words, tuple) else words)
