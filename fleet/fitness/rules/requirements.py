"""Rules of upkeep: requirements never met, run out, or not to be worked out."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.fitness.case import Case
from fleet.fitness.conceding import bare, of_overrun
from fleet.fitness.examples import (
    AIR_TEST,
    AIR_YEARLY,
    DAY,
    DISTRIBUTOR_OVERHAUL,
    HOSE,
    HOSE_AGE,
    OVERHAUL,
    changed,
    item,
    passed,
    policy,
    sound,
)
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import ALWAYS, FOREVER, Interval, overlap, within
from fleet.fitness.obligations import Obligation
from fleet.fitness.rulebook import Rule, rule
from fleet.upkeep.due import later, written
from fleet.upkeep.vocabulary import CountedFrom

_SOURCE = "the operator's requirement"
_A_YEAR_AGO = DAY.replace(year=DAY.year - 1)


@rule(
    "R01",
    "Requirement never met",
    why="What was never done proves nothing.",
    source=_SOURCE,
    clears="Do the work and record it.",
    flags=changed(policy(AIR_YEARLY), tests=()),
    passes=changed(policy(AIR_YEARLY), tests=(passed(1, AIR_TEST, DAY),)),
)
def never_met(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days before a requirement was first met."""
    for obligation in case.obligations:
        if obligation.undated:
            continue
        first = obligation.course.first_good
        if first == ALWAYS:
            continue
        title = obligation.requirement.title
        text = f"{title}: never done"
        if first is not None:
            text = f"{title}: not done before {written(first)}"
        yield from _lapse(rule, case, obligation, (ALWAYS, first or FOREVER), text)


@rule(
    "R02",
    "Requirement of the vehicle overrun",
    why="Wear and leakage are bounded only between examinations that are in time.",
    source=_SOURCE,
    clears="Do the work and record it.",
    flags=changed(
        policy(AIR_YEARLY),
        tests=(passed(1, AIR_TEST, _A_YEAR_AGO - dt.timedelta(days=1)),),
    ),
    passes=changed(policy(AIR_YEARLY), tests=(passed(1, AIR_TEST, _A_YEAR_AGO),)),
)
def vehicle_overrun(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days a requirement of the vehicle had run out."""
    for obligation in case.obligations:
        if obligation.item is None:
            yield from _overruns(rule, case, obligation)


@rule(
    "R03",
    "Requirement of equipment overrun",
    why="An item is known to be sound only between examinations that are in time.",
    source=_SOURCE,
    clears="Exchange the item, or do the work and record it.",
    flags=sound(
        policy(
            replace(DISTRIBUTOR_OVERHAUL, counted_from=CountedFrom.LAST_DONE, months=12)
        ),
        tests=(passed(90, OVERHAUL, _A_YEAR_AGO - dt.timedelta(days=1), equipment=3),),
    ),
    passes=sound(
        policy(
            replace(DISTRIBUTOR_OVERHAUL, counted_from=CountedFrom.LAST_DONE, months=12)
        ),
        tests=(passed(90, OVERHAUL, _A_YEAR_AGO, equipment=3),),
    ),
)
def equipment_overrun(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days a requirement of a fitted item had run out."""
    for obligation in case.obligations:
        if obligation.item is not None and obligation.requirement.procedure:
            yield from _overruns(rule, case, obligation)


def _made_eight_years_before(day: dt.date) -> dict[int, Any]:
    made = Moment.on(day.replace(year=day.year - 8))
    return {1: item(1, HOSE, made=made)}


@rule(
    "R04",
    "Age limit reached",
    why="Rubber and seals age whether they are used or not; only renewal helps.",
    source=_SOURCE,
    clears="Exchange the item for one within its age.",
    flags=sound(
        policy(HOSE_AGE),
        equipment=_made_eight_years_before(DAY - dt.timedelta(days=1)),
    ),
    passes=sound(policy(HOSE_AGE), equipment=_made_eight_years_before(DAY)),
)
def age_limit(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days a fitted item was past its age."""
    for obligation in case.obligations:
        if obligation.item is not None and not obligation.requirement.procedure:
            yield from _overruns(rule, case, obligation)


@rule(
    "R05",
    "Date not known",
    why="A period cannot be counted from a date or a usage nobody recorded; unknown is "
    "never fit.",
    source=_SOURCE,
    clears="Find and record the date, or do the work again.",
    flags=sound(policy(HOSE_AGE), equipment={1: item(1, HOSE, made=Moment.unknown())}),
    passes=sound(
        policy(HOSE_AGE), equipment={1: item(1, HOSE, made=Moment.parse("2019"))}
    ),
)
def date_unknown(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days for which a due date cannot be worked out."""
    for obligation in case.obligations:
        title = obligation.requirement.title
        if obligation.undated:
            first = obligation.course.first_good or FOREVER
            text = f"{title}: {obligation.undated} is not known"
            days = (ALWAYS, first)
            yield from _lapse(rule, case, obligation, days, text, missing=True)
        due = obligation.course.due
        if due is not None and due.unknown:
            text = f"{title}: no usage is recorded to count {due.period.words} by"
            days = (ALWAYS, FOREVER)
            yield from _lapse(rule, case, obligation, days, text, missing=True)


def _overruns(rule: Rule, case: Case, obligation: Obligation) -> Iterator[Finding]:
    requirement = obligation.requirement
    for overrun in obligation.course.overruns:
        days = (overrun.since, overrun.until or FOREVER)
        if not any(overlap(days, window) for window in obligation.windows):
            continue
        covers = of_overrun(case, obligation, overrun)
        edge = overrun.edge
        last = edge.last_good_day or later(overrun.since, -1)
        what = "overrun" if requirement.procedure else "age limit reached"
        text = (
            f"{requirement.title}: {what}, last good day {written(last)} ({edge.basis}"
        )
        if requirement.tolerance_days:
            text += f", tolerance {requirement.tolerance_days} days"
        for part in bare(days, covers) if covers else (days,):
            yield from _lapse(
                rule, case, obligation, part, text + ")", forecast=edge.forecast
            )


@lru_cache(maxsize=1_024)
def _leans_on(code: str, title: str, revision: int) -> Evidence:
    return Evidence("requirement", code, f"{title}, revision {revision}")


def _lapse(
    rule: Rule,
    case: Case,
    obligation: Obligation,
    days: Interval,
    text: str,
    *,
    missing: bool = False,
    forecast: bool = False,
) -> Iterator[Finding]:
    """Yield a finding for each window of an obligation that an interval touches."""
    requirement, item = obligation.requirement, obligation.item
    for part in within(days, obligation.windows):
        evidence: tuple[Evidence, ...] = (
            _leans_on(requirement.code, requirement.title, requirement.revision),
        )
        if item is not None:
            evidence = (*evidence, Evidence("equipment", item.id, item.serial))
        yield rule.finding(
            case,
            part,
            requirement.effect,
            requirement.scope,
            f"{text} — {item.kind.label.lower()} {item.serial}" if item else text,
            clears=requirement.clears,
            source=requirement.source,
            condition=requirement.condition,
            position=obligation.position,
            equipment=obligation.equipment,
            evidence=evidence,
            missing=missing,
            forecast=forecast,
        )
