"""Rules of test records: what a test found holds until a later one clears it."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from fleet.engineering.calendar import Moment, Order, order_of
from fleet.fitness.case import Case, title_of
from fleet.fitness.examples import AIR_TEST, DAY, days_ago, passed, sound
from fleet.fitness.facts import FailedLine, TestFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import FOREVER, opens
from fleet.fitness.rulebook import Rule, rule
from fleet.fitness.rules.faults import weighed
from fleet.register.vocabulary import Effect, Scope

_SLOW = FailedLine(
    "Release time", Scope.AIR_BRAKE, Effect.ISOLATE, "28 s, limit 15 to 20 s"
)
_FAILED = replace(passed(90, AIR_TEST, days_ago(10)), passed=False, failed=(_SLOW,))
_UNFINISHED = replace(passed(90, AIR_TEST, days_ago(10)), passed=False, unanswered=2)


@rule(
    "T01",
    "Last test failed",
    why="A line that was not met stays a fault until a later test is seen to clear it.",
    source="common practice",
    clears="Put the fault right, test again and record it.",
    flags=sound(tests=(_FAILED, passed(91, AIR_TEST, days_ago(-1)))),
    passes=sound(tests=(_FAILED, passed(91, AIR_TEST, DAY))),
)
def last_test_failed(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield each failed line until a later complete test of the procedure."""
    for test in case.file.tests:
        if not test.failed:
            continue
        until, note = cleared(case, test)
        title = title_of(case.policy, test.procedure)
        for line in test.failed:
            effect = line.effect
            if effect is not Effect.ADVISE:  # advice does not call the pipe faulty
                effect = weighed(line.scope, effect)
            found = f"{line.text}: {line.found}" if line.found else line.text
            text = f"{title} of {test.on} failed, {found}{note}"
            yield from of_test(rule, case, test, until, effect, line.scope, text)


@rule(
    "T02",
    "Test not complete",
    why="A test with unanswered lines is not passed; what was not looked at is not known.",
    source="common practice",
    clears="Do the whole test and record every line.",
    flags=sound(tests=(_UNFINISHED, passed(91, AIR_TEST, days_ago(-1)))),
    passes=sound(tests=(_UNFINISHED, passed(91, AIR_TEST, DAY))),
)
def test_incomplete(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield a test that was not passed without a failed line, until a complete one."""
    for test in case.file.tests:
        if test.unanswered <= 0 and (test.passed or test.failed):
            continue
        until, note = cleared(case, test)
        scope, effect = bearing(case, test)
        title = title_of(case.policy, test.procedure)
        lines = "line" if test.unanswered == 1 else "lines"
        what = f"{test.unanswered} {lines} not answered"
        if test.unanswered <= 0:
            what = "not passed"
        text = f"{title} of {test.on} not complete, {what}{note}"
        yield from of_test(rule, case, test, until, effect, scope, text, missing=True)


def cleared(case: Case, test: TestFact) -> tuple[dt.date, str]:
    """
    Return the day a later complete test takes over, and a note on one that does not.

    One with an instrument in doubt never does: what it met is not known to be met.
    """
    until = FOREVER
    unordered: list[Moment] = []
    for other in case.tests[test.procedure, test.equipment]:
        whole = other.unanswered <= 0 and (other.passed or other.failed)
        if other is test or not whole or other.doubts:
            continue
        order = order_of(test.on, other.on)
        if order is Order.BEFORE and other.on.latest:
            until = min(until, other.on.latest)
        elif order is Order.UNKNOWN and other.passed:
            unordered.append(other.on)
    return until, uncounted(unordered)


def uncounted(passes: list[Moment]) -> str:
    """Return, as the tail of a text, why the latest of passed tests does not count."""
    if not passes:
        return ""
    on = max(passes, key=lambda on: (on.known, on.latest or FOREVER, on.key or 0))
    if not on.known:
        return "; a passed test of unknown date does not count"
    return f"; the passed test of {on} does not count: which came first is not recorded"


def bearing(case: Case, test: TestFact) -> tuple[Scope, Effect]:
    """Return the scope and effect a test has through the requirements that ask for it."""
    asking = [
        (r.effect.weight, r.scope, r.effect)
        for r in case.policy.requirements
        if r.procedure == test.procedure
    ]
    if not asking:
        return Scope.VEHICLE, Effect.DISCOUNT
    heaviest = max(asking)
    return heaviest[1], heaviest[2]


def of_test(
    rule: Rule,
    case: Case,
    test: TestFact,
    until: dt.date,
    effect: Effect,
    scope: Scope,
    text: str,
    *,
    also: tuple[Evidence, ...] = (),
    since: dt.date | None = None,
    **more: Any,
) -> Iterator[Finding]:
    """Yield a finding of a test over the days its subject was on the vehicle."""
    days = since or opens(test.on), until
    title = title_of(case.policy, test.procedure)
    evidence = Evidence("test", test.id, f"{title}, {test.on}")
    for part in case.while_carried(test.equipment, days):
        yield rule.finding(
            case,
            part,
            effect,
            scope,
            text,
            position=case.place_of(test.equipment),
            equipment=test.equipment,
            evidence=(evidence, *also),
            **more,
        )
