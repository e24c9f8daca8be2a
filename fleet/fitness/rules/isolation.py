"""Rules of brake isolations: complete, not complete, of part of the brake."""

from collections.abc import Iterator
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.fitness.case import Case
from fleet.fitness.examples import days_ago, sound
from fleet.fitness.facts import IsolationFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import held
from fleet.fitness.rulebook import Example, Rule, rule
from fleet.register.vocabulary import Effect, Scope, System


def _isolated(until: int, **changes: Any) -> Example:
    """Return the sound coach with its air brake isolated until days before the example."""
    facts = {"whole": True, "complete": True, **changes}
    ends = Moment.on(days_ago(until))
    fact = IsolationFact(90, System.AIR, Moment.on(days_ago(9)), ends, **facts)
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
        if isolation.whole and isolation.complete:
            text = f"Brake isolated: {isolation.system.label.lower()}"
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
            name = isolation.system.label.lower()
            text = f"Isolation record not complete: {name} brake"
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
            name = isolation.system.label.lower()
            text = f"Part of the {name} brake isolated"
            words = f"{text}: count the reduced braked weight."
            yield _finding(
                rule,
                case,
                isolation,
                Effect.CONDITION,
                text,
                isolation.condition or words,
            )


def _finding(
    rule: Rule,
    case: Case,
    isolation: IsolationFact,
    effect: Effect,
    text: str,
    condition: str = "",
) -> Finding:
    since = isolation.since
    return rule.finding(
        case,
        held(since, isolation.until),
        effect,
        scope_of(isolation.system),
        text,
        condition=condition,
        evidence=(Evidence("isolation", isolation.id, f"Isolation of {since}"),),
    )
