"""
A programme played through the rules: its work supposed recorded on its dates.

What is supposed is what the programme counts on and no more. Work of a requirement with a
procedure is that test, passed. Work of an age limit is a new item in the place of the old
one, good for all else as long as the old one was. The vehicle is in hand from the Monday
of a visit to its last Friday. The tests that must follow an exchange are part of the work
and taken as passed, but renew nothing by themselves: the programme does not count on it.
A concession that holds is taken as kept up by its re-checks.
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace

from fleet.engineering.calendar import Moment
from fleet.fitness.case import Case
from fleet.fitness.facts import (
    ConcessionFact,
    EquipmentFact,
    FittedFact,
    Policy,
    RequirementFact,
    StateFact,
    TestFact,
    VehicleFile,
    WorkFact,
)
from fleet.fitness.findings import Finding, Span
from fleet.fitness.rules import BOOK
from fleet.fitness.verdict import spans
from fleet.register.vocabulary import EquipmentState
from fleet.upkeep.conceding import Checked, recheck_due
from fleet.upkeep.due import later

TEST_MISSING = "M01"


@dataclass(frozen=True, slots=True)
class Stay:
    """A visit as it is supposed: its days, and what is done on which."""

    monday: dt.date
    friday: dt.date
    done: tuple[tuple[str, int | None, dt.date], ...]  # requirement, item, day


def played_spans(
    file: VehicleFile, policy: Policy, stays: Iterable[Stay], on: dt.date
) -> tuple[Span, ...]:
    """Return the brake status as the rules would have it were the visits made."""
    case = Case(played(file, policy, stays, on), policy)
    return spans(case, [f for f in BOOK.run(case) if not _after_exchange(f)])


def _after_exchange(finding: Finding) -> bool:
    """Say whether it asks for a test after an exchange that is only supposed."""
    supposed = finding.equipment is not None and finding.equipment < 0
    return finding.code == TEST_MISSING and supposed


def played(
    file: VehicleFile, policy: Policy, stays: Iterable[Stay], on: dt.date
) -> VehicleFile:
    """Return the file with the work of the visits added to it, in order of time."""
    kept = tuple(_kept_up(concession, on) for concession in file.concessions)
    file = replace(file, concessions=kept)
    known = {r.code: r for r in policy.requirements}  # the newest revision comes last
    for stay in sorted(stays, key=lambda stay: stay.monday):
        begun, ended = Moment.on(stay.monday), Moment.on(stay.friday)
        file = file.with_(work=(WorkFact(-1, "Planned visit", begun, ended),))
        for code, item, day in stay.done:
            if code in known:
                file = _done(file, known[code], item, day)
    return file


def _kept_up(concession: ConcessionFact, on: dt.date) -> ConcessionFact:
    """Return a concession that holds on a day with every re-check to come made."""
    terms = concession.since, concession.until, concession.recheck_days
    look, more = recheck_due(*terms, concession.checks), []
    while on <= look < concession.until and concession.recheck_days:
        more.append(Checked(look, holds=True))
        look = later(look, concession.recheck_days)
    return replace(concession, checks=(*concession.checks, *more))


def _done(
    file: VehicleFile, requirement: RequirementFact, item: int | None, day: dt.date
) -> VehicleFile:
    if requirement.procedure:
        here = None if item is None else _successor(file, item)
        test = TestFact(
            -len(file.tests) - 1, requirement.procedure, Moment.on(day), True, here
        )
        return file.with_(tests=(test,))
    return file if item is None else _renewed(file, _successor(file, item), day)


def _successor(file: VehicleFile, item: int) -> int:
    """Return the item that stands in the place of another since it was renewed."""
    if _fitting(file, item) is not None:
        return item
    places = [f.position for f in file.fitted if f.equipment == item]
    now = [f for f in file.fitted if f.until is None and f.position in places[-1:]]
    return now[-1].equipment if now else item


def _fitting(file: VehicleFile, item: int) -> FittedFact | None:
    return next(
        (f for f in file.fitted if f.equipment == item and f.until is None), None
    )


def _renewed(file: VehicleFile, item: int, day: dt.date) -> VehicleFile:
    """Return the file with a new item in the place of one; its tests are taken over."""
    place, old = _fitting(file, item), file.equipment.get(item)
    if place is None or old is None:
        return file
    on, key = Moment.on(day), -len(file.equipment) - 1
    new: EquipmentFact = replace(
        old, id=key, made=on, states=(StateFact(on, None, EquipmentState.SERVICEABLE),)
    )
    ended = replace(place, until=on)
    fitted = tuple(ended if f is place else f for f in file.fitted)
    taken_over = tuple(
        replace(test, id=-len(file.tests) - n, equipment=key)
        for n, test in enumerate(file.tests, 1)
        if test.equipment == item
    )
    return replace(
        file,
        fitted=(*fitted, FittedFact(key, place.position, key, on, None)),
        equipment={**file.equipment, key: new},
        tests=(*file.tests, *taken_over),
    )
