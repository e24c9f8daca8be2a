"""Rules of what the vehicle and the practice are built on: type, conditions, brakes."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace

from fleet.fitness.case import Case
from fleet.fitness.examples import (
    AIR_POSITIONS,
    CONDITIONS,
    DAY,
    ENTERED,
    SOUND_AIR,
    changed,
    particulars,
    policy,
    sound,
)
from fleet.fitness.facts import TypeRevisionFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import FOREVER, gaps
from fleet.fitness.rulebook import Example, Rule, rule
from fleet.fitness.rules.isolation import scope_of
from fleet.register.vocabulary import Effect, Fitment, Scope, System

_NEXT_DAY = DAY + dt.timedelta(days=1)


@rule(
    "B01",
    "Built piped only",
    why="A vehicle with a through pipe and no brake does not brake.",
    source="common practice",
    clears="Nothing: the vehicle has no brake of this system.",
    flags=changed(particulars=(particulars(air=Fitment.PIPED),)),
    passes=sound(),
)
def piped_only(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days the vehicle was only piped for a system."""
    for phase in case.phases:
        for system in System:
            if phase.particulars.fitment(system) is Fitment.PIPED:
                yield rule.finding(
                    case,
                    (phase.since, phase.until),
                    Effect.DISCOUNT,
                    scope_of(system),
                    f"Built piped, no {system.label.lower()} brake",
                )


def _typed(until: dt.date | None) -> Example:
    revision = TypeRevisionFact(ENTERED, until, 1, AIR_POSITIONS)
    return Example(replace(SOUND_AIR, types={"COACH": (revision,)}), policy(), DAY)


@rule(
    "K01",
    "Vehicle type not in force",
    why="Without the positions of its type nobody knows what should be on the vehicle.",
    source="common practice",
    clears="Record the type and its positions for the time that is missing.",
    flags=_typed(DAY),
    passes=_typed(_NEXT_DAY),
)
def type_unknown(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days no revision of the vehicle's type was in force."""
    for code, days in case.types:
        revisions = case.file.types.get(code, ())
        known = ((r.since, r.until or FOREVER) for r in revisions)
        for part in gaps(known, days):
            yield rule.finding(
                case,
                part,
                Effect.STOP,
                Scope.VEHICLE,
                f"No positions in force for vehicle type {code or 'not stated'}",
                evidence=(Evidence("type", code, code),),
                missing=True,
            )


@rule(
    "K02",
    "No general conditions in force",
    why="Without the operator's conditions nobody has said what the vehicle is held to.",
    source="common practice",
    clears="Put the operator's general conditions in force.",
    flags=sound(policy(conditions=(replace(CONDITIONS, until=DAY),))),
    passes=sound(policy(conditions=(replace(CONDITIONS, until=_NEXT_DAY),))),
)
def no_conditions(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days no general conditions of the operator were in force."""
    known = ((c.since, c.until or FOREVER) for c in case.policy.conditions)
    for days in gaps(known, (case.begin, FOREVER)):
        yield rule.finding(
            case,
            days,
            Effect.DISCOUNT,
            Scope.VEHICLE,
            "No general conditions of the operator in force",
            missing=True,
        )
