"""Rules of isolations: complete, not complete, of part of a brake, of the handbrake."""

from collections.abc import Iterator
from typing import Any

from fleet.defects.vocabulary import Brake
from fleet.engineering.calendar import Moment
from fleet.fitness.case import Case
from fleet.fitness.examples import days_ago, sound
from fleet.fitness.facts import IsolationFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import Interval, held
from fleet.fitness.rulebook import Example, Rule, rule
from fleet.register.vocabulary import Effect, Scope, System


def _isolated(until: int, brake: Brake = Brake.AIR, **changes: Any) -> Example:
    """Return the sound coach with a brake isolated until days before the example."""
    facts = {"whole": True, "complete": True, **changes}
    ends = Moment.on(days_ago(until))
    fact = IsolationFact(90, brake, Moment.on(days_ago(9)), ends, **facts)
    return sound(isolations=(fact,))


def scope_of(system: System) -> Scope:
    """Return the scope of a system's brake."""
    return Scope.AIR_BRAKE if system is System.AIR else Scope.VACUUM_BRAKE


@rule(
    "I01",
    "Brake isolated",
    why="An isolated brake does not brake; the vehicle may only be conveyed as piped.",
    source="common practice",
    clears="Put the brake right, restore it and test.",
    flags=_isolated(until=-1),
    passes=_isolated(until=0),
)
def brake_isolated(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days the whole brake of a system was isolated, its record complete."""
    for isolation in case.file.isolations:
        hand = isolation.brake is Brake.HAND
        if isolation.whole and isolation.complete and not hand:
            text = f"Brake isolated: {System(isolation.brake).label.lower()}"
            yield _finding(rule, case, isolation, Effect.DISCOUNT, text)


@rule(
    "I02",
    "Isolation record not complete",
    why="A brake taken for isolated that is not may drag or apply; every cock, reservoir "
    "and block has to be answered for.",
    source="common practice",
    clears="Answer every line of the isolation record.",
    flags=_isolated(until=-1, complete=False),
    passes=_isolated(until=0, complete=False),
)
def isolation_incomplete(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days an isolation was begun but its record not complete."""
    for isolation in case.file.isolations:
        if not isolation.complete:
            name = isolation.brake.label.lower()
            text = f"Isolation record not complete: {name}"
            yield _finding(rule, case, isolation, Effect.STOP, text)


@rule(
    "I03",
    "Part of the brake isolated",
    why="With part of the brake cut out the vehicle brakes less than its weight asks.",
    source="common practice",
    clears="Put the part right, restore it and test.",
    flags=_isolated(until=-1, whole=False, condition="Braked weight 18 t, not 36 t."),
    passes=_isolated(until=0, whole=False, condition="Braked weight 18 t, not 36 t."),
)
def part_isolated(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days part of a brake was cut out, with the words crew must see."""
    for isolation in case.file.isolations:
        if isolation.complete and not isolation.whole:
            name = isolation.brake.label.lower()
            text = f"Part of the {name} isolated"
            words = f"{text}: count the reduced braked weight."
            yield _finding(
                rule,
                case,
                isolation,
                Effect.CONDITION,
                text,
                isolation.condition or words,
            )


@rule(
    "I06",
    "Handbrake out of use",
    why="A handbrake disconnected or barred from use holds nothing: a vehicle left "
    "standing on it, or a train that counts on it, may run away.",
    source="the operator's general conditions",
    clears="Put the handbrake right, restore it and test it.",
    flags=_isolated(until=-1, brake=Brake.HAND),
    passes=_isolated(until=0, brake=Brake.HAND),
)
def hand_brake_out(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days the handbrake was out of use, its record complete or not."""
    for isolation in case.file.isolations:
        if isolation.brake is not Brake.HAND:
            continue
        days = held(isolation.since, isolation.until)
        for part, conditions in case.conditions_over(days):
            words = f"{conditions.hand_brake_out_condition} {isolation.condition}"
            yield _finding(
                rule,
                case,
                isolation,
                conditions.hand_brake_out_effect,
                "Handbrake out of use",
                words.strip(),
                part,
                conditions.source,
            )


def _finding(
    rule: Rule,
    case: Case,
    isolation: IsolationFact,
    effect: Effect,
    text: str,
    condition: str = "",
    days: Interval | None = None,
    source: str = "",
) -> Finding:
    since = isolation.since
    return rule.finding(
        case,
        days or held(since, isolation.until),
        effect,
        isolation.brake.scope,
        text,
        source=source,
        condition=condition,
        evidence=(Evidence("isolation", isolation.id, f"Isolation of {since}"),),
    )
