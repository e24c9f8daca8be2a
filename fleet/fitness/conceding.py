"""Concessions in a vehicle's file: read from their rows, and the days they cover. Pure."""

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from fleet.fitness.facts import ConcessionFact
from fleet.fitness.intervals import FOREVER, Interval, gaps, overlap
from fleet.register.vocabulary import Effect
from fleet.upkeep.conceding import Checked, held_days
from fleet.upkeep.due import Overrun, later

if TYPE_CHECKING:
    from fleet.fitness.case import Case
    from fleet.fitness.obligations import Obligation


class Cover(NamedTuple):
    """Days of an overrun or defect that a concession reaches, and whether it held."""

    days: Interval
    concession: ConcessionFact
    held: bool


def concessions_of(rows: Iterable[Sequence[Any]]) -> tuple[ConcessionFact, ...]:
    """Return the grants in rows of a grant beside a re-check, each once."""
    grants: dict[tuple[int, int], Sequence[Any]] = {}
    checks: dict[int, dict[Checked, None]] = {}
    for row in rows:
        grants[row[1], row[2]] = row
        if row[12] is not None:
            check = Checked(dt.date.fromisoformat(row[12]), bool(row[13]))
            checks.setdefault(row[1], {})[check] = None
    return tuple(
        _grant(row, tuple(sorted(checks.get(key, ()))))
        for (key, _), row in sorted(grants.items())
    )


def _grant(row: Sequence[Any], checks: tuple[Checked, ...]) -> ConcessionFact:
    until = later(dt.date.fromisoformat(row[7]), 1)
    if row[8] is not None:
        until = min(until, dt.date.fromisoformat(row[8]))
    return ConcessionFact(
        id=row[1],
        renewal=row[2],
        requirement=row[3],
        defect=row[4],
        equipment=row[5],
        since=dt.date.fromisoformat(row[6]),
        until=until,
        ceiling_days=row[9],
        condition=row[10],
        recheck_days=row[11],
        checks=checks,
    )


def of_overrun(case: "Case", obligation: "Obligation", overrun: Overrun) -> list[Cover]:
    """
    Return what concessions reach of an overrun.

    A concession is spent once the work was done: it reaches no overrun of a period that
    began after it was granted.
    """
    if not case.file.concessions or _light(obligation.requirement.effect):
        return []
    begun = overrun.edge.anchor.on.earliest
    return [
        cover
        for fact in case.file.concessions
        if fact.requirement == obligation.requirement.code
        and fact.equipment == obligation.equipment
        and (begun is None or begun < fact.since)
        for cover in _covers(
            fact, (overrun.since, overrun.until or FOREVER), overrun.since
        )
    ]


def of_defect(
    case: "Case", defect: int, raised: dt.date, assessed: dt.date, days: Interval
) -> list[Cover]:
    """
    Return what concessions reach of the days a defect was open under one assessment.

    Assessed anew after it was granted, the defect is no longer what was conceded.
    """
    return [
        cover
        for fact in case.file.concessions
        if fact.defect == defect and assessed <= fact.since
        for cover in _covers(fact, days, later(raised, 1))
    ]


def reaches(fact: ConcessionFact, last_good: dt.date, day: dt.date) -> dt.date | None:
    """Return from when a grant that holds on a day no longer does; None if it does not."""
    first = later(last_good, 1)
    for cover in _covers(fact, (fact.since, fact.until), first):
        if cover.held and cover.days[0] <= day < cover.days[1]:
            return min(fact.until, later(first, fact.ceiling_days))
    return None


def bare(days: Interval, covers: Iterable[Cover]) -> list[Interval]:
    """Return the days on which no concession held."""
    return gaps((cover.days for cover in covers if cover.held), days)


def held_once(covers: Iterable[Cover]) -> Iterator[Cover]:
    """Yield the covers that hold, no day twice: the one that begins first counts."""
    reached = dt.date.min
    for cover in sorted(covers, key=_order):
        part = overlap(cover.days, (reached, FOREVER))
        if cover.held and part:
            yield Cover(part, cover.concession, held=True)
            reached = part[1]


def _covers(fact: ConcessionFact, days: Interval, first: dt.date) -> Iterator[Cover]:
    """Yield the parts of days a grant reaches; `first` is the day after the last good."""
    ends = min(fact.until, later(first, fact.ceiling_days))
    allowed = overlap((fact.since, ends), days)
    if allowed is None:
        return
    held = held_days(fact.since, fact.until, fact.recheck_days, fact.checks)
    for part in held:
        if both := overlap(part, allowed):
            yield Cover(both, fact, held=True)
    for part in gaps(held, allowed):
        yield Cover(part, fact, held=False)


def _light(effect: Effect) -> bool:
    """Say whether an effect allows as much as a concession would, or more."""
    return effect in (Effect.ADVISE, Effect.CONDITION)


def _order(cover: Cover) -> tuple[dt.date, int, int]:
    return cover.days[0], cover.concession.id, cover.concession.renewal
