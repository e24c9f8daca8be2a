"""The rule of the other system: running on one brake, the other must be dead."""

from collections.abc import Iterator, Sequence

from fleet.fitness.case import Case, Phase
from fleet.fitness.examples import DAY, PRACTICE, SOUND_AIR, SOUND_DUAL
from fleet.fitness.facts import Conditions
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import FOREVER, Interval, gaps, merged, overlap
from fleet.fitness.rulebook import Example, Rule, following_rule
from fleet.fitness.rules.isolation import scope_of
from fleet.register.vocabulary import Effect, Fitment, System


@following_rule(
    "O01",
    "Other system not shown dead",
    why="A brake that is charged or holding while the train is worked on the other system "
    "drags, applies, or fights it.",
    source="the operator's general conditions",
    clears="Put the other system right; see it dead before running on this one.",
    flags=Example(SOUND_DUAL, PRACTICE, DAY),
    passes=Example(SOUND_AIR, PRACTICE, DAY),
)
def other_system(
    rule: Rule, case: Case, findings: Sequence[Finding]
) -> Iterator[Finding]:
    """
    Yield, for each system, the words about the other one.

    A condition while the other is held back or isolated; advice while both are sound.
    """
    for system in System:
        both = merged(_days(p) for p in case.phases if _has_both(p, system))
        if not both:
            continue
        faults = merged(_held_back(findings, system.other))
        for days in both:
            back = [part for fault in faults if (part := overlap(fault, days))]
            for part in back:
                yield from _words(rule, case, part, system, Effect.CONDITION)
            for part in gaps(back, days):
                yield from _words(rule, case, part, system, Effect.ADVISE)


def _days(phase: Phase) -> Interval:
    return phase.since, phase.until


def _has_both(phase: Phase, system: System) -> bool:
    fitted = phase.particulars.fitment(system) is not Fitment.NONE
    return fitted and phase.particulars.fitment(system.other) is Fitment.BRAKED


def _held_back(findings: Sequence[Finding], other: System) -> Iterator[Interval]:
    """Yield the days the other system alone was kept from working as a brake."""
    for finding in findings:
        if finding.effect in _HOLD_BACK and finding.scope.systems == (other,):
            yield finding.since, finding.until or FOREVER


_HOLD_BACK = (Effect.DISCOUNT, Effect.ISOLATE, Effect.STOP)


def _words(
    rule: Rule, case: Case, days: Interval, system: System, effect: Effect
) -> Iterator[Finding]:
    train = "an air" if system is System.AIR else "a vacuum"
    other = system.other.label.lower()
    text = f"In {train} train the {other} brake must be dead"
    if effect is Effect.CONDITION:
        text = f"{system.other.label} brake not available; it must be dead in {train} train"
    for part, conditions in case.conditions_over(days):
        yield rule.finding(
            case,
            part,
            effect,
            scope_of(system),
            text,
            source=conditions.source,
            condition=f"In {train} train: {_dead(conditions, system.other)}.",
            evidence=(Evidence("vehicle", case.file.id, "Dual-braked"),),
        )


def _dead(conditions: Conditions, system: System) -> str:
    if system is System.AIR:
        return conditions.air_dead_words
    return conditions.vacuum_dead_words
