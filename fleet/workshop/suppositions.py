"""What a variant supposes otherwise than recorded, as data, and what it does to a problem."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from fleet.register.vocabulary import Word
from fleet.upkeep.due import written
from fleet.workshop.engine.absence import absent
from fleet.workshop.engine.problem import (
    WEEK,
    Capacity,
    Float,
    Pin,
    Problem,
)
from fleet.workshop.vocabulary import Place, Wish, many

Supposition = Mapping[str, Any]  # plain JSON, `kind` one of Supposed
TITLE = 100  # characters of the title of a search


class Supposed(Word):
    """What may be supposed."""

    CONTRACTOR_LATE = "contractor late", "A contractor is late"
    HOURS_LOST = "hours lost", "Hours are lost"
    VEHICLES_AWAY = "vehicles away", "Vehicles are away"
    PLACE_LOST = "place lost", "A place is lost"
    MORE_UNITS = "more units", "More exchange units"


def supposing(problem: Problem, supposed: Iterable[Supposition]) -> Problem:
    """
    Return the problem as it would be; raises ValueError for a kind that is not known.

    A late contractor brings what is away back so many weeks later and takes so many weeks
    longer with all that follows. Vehicles away fill no line of the diary and stand in no
    shop in those weeks.
    """
    for one in supposed:
        problem = _DOES[Supposed(one["kind"])](problem, one)
    return problem


def words_of(one: Supposition) -> str:
    """Return a supposition as a sentence without its full stop."""
    match Supposed(one["kind"]):
        case Supposed.CONTRACTOR_LATE:
            return f"{one['name']} is {many(one['weeks'], 'week')} late"
        case Supposed.HOURS_LOST:
            hours = f"{one['hours']} hours a week" if one.get("hours") else "all hours"
            return f"{one['name']}: {hours} lost {_days(one)}"
        case Supposed.VEHICLES_AWAY:
            return f"{', '.join(one['names'])} away {_days(one)}"
        case Supposed.PLACE_LOST:
            place = Place(one["place"]).label.lower()
            return f"{many(one['number'], place)} lost {_days(one)}"
        case _:
            return f"{one['number']} more: {one['name']}"


def title_of(supposed: Sequence[Supposition]) -> str:
    """
    Return what a variant is called that nobody named.

    All that is supposed, as far as a title holds it whole; then how many more there are.
    """
    words = [words_of(one) for one in supposed]
    for told in range(len(words), 1, -1):
        title = _title(words, told)
        if len(title) <= TITLE:
            return title
    room = TITLE - (len(_title(words, 1)) - len(words[0]))
    if len(words[0]) <= room:
        return _title(words, 1)
    whole, _, _ = words[0][:room].rpartition(" ")
    return _title([f"{whole.rstrip(',')}…", *words[1:]], 1)


def _title(words: Sequence[str], told: int) -> str:
    more = f" and {len(words) - told} more" if told < len(words) else ""
    return f"What if: {'; '.join(words[:told])}{more}"


def _days(one: Supposition) -> str:
    first, last = (date.fromisoformat(one[key]) for key in ("first", "last"))
    return f"from {written(first)} to {written(last)}"


def weeks_of(problem: Problem, first: date, last: date) -> frozenset[int]:
    """Return the weeks of the programme that two days and those between fall in."""
    begins, ends = problem.day(first) // WEEK, problem.day(last) // WEEK
    return frozenset(range(max(begins, 0), min(ends + 1, problem.weeks)))


def _weeks(problem: Problem, one: Supposition) -> frozenset[int]:
    first, last = (date.fromisoformat(one[key]) for key in ("first", "last"))
    return weeks_of(problem, first, last)


def _contractor_late(problem: Problem, one: Supposition) -> Problem:
    late = one["weeks"]

    def later(units: Float) -> Float:
        if units.group not in one["groups"]:
            return units
        back = tuple((week + late, number) for week, number in units.returns)
        longer = None if units.turnaround is None else units.turnaround + late
        return replace(units, returns=back, turnaround=longer)

    return replace(problem, floats=tuple(map(later, problem.floats)))


def _hours_lost(problem: Problem, one: Supposition) -> Problem:
    weeks, lost = _weeks(problem, one), one.get("hours")
    hours = {
        skill: tuple(
            (0 if lost is None else max(0, there - lost)) if week in weeks else there
            for week, there in enumerate(by_week)
        )
        if one.get("skill") in {skill, "", None}
        else by_week
        for skill, by_week in problem.capacity.hours.items()
    }
    return _with_capacity(problem, hours=hours)


def _place_lost(problem: Problem, one: Supposition) -> Problem:
    weeks = _weeks(problem, one)
    name = "pits" if Place(one["place"]) is Place.PIT else "roads"
    left = tuple(
        max(0, there - one["number"]) if week in weeks else there
        for week, there in enumerate(getattr(problem.capacity, name))
    )
    return _with_capacity(problem, **{name: left})


def _with_capacity(problem: Problem, **changes: Any) -> Problem:
    capacity: Capacity = replace(problem.capacity, **changes)
    return replace(problem, capacity=capacity)


def _more_units(problem: Problem, one: Supposition) -> Problem:
    floats = tuple(
        replace(f, stock=f.stock + one["number"]) if f.group == one["group"] else f
        for f in problem.floats
    )
    return replace(problem, floats=floats)


def _vehicles_away(problem: Problem, one: Supposition) -> Problem:
    weeks, away = _weeks(problem, one), set(one["vehicles"])
    pins = tuple(Pin(Wish.NOT_IN, weeks, vehicle=key) for key in sorted(away) if weeks)
    out = {
        (v.key, pool): weeks
        for v in problem.vehicles
        if v.key in away
        for pool in v.pools
    }
    return replace(absent(problem, out), pins=(*problem.pins, *pins))


_DOES: Mapping[Supposed, Callable[[Problem, Supposition], Problem]] = {
    Supposed.CONTRACTOR_LATE: _contractor_late,
    Supposed.HOURS_LOST: _hours_lost,
    Supposed.VEHICLES_AWAY: _vehicles_away,
    Supposed.PLACE_LOST: _place_lost,
    Supposed.MORE_UNITS: _more_units,
}
