"""The rule of competence: who tested was assessed to test, or somebody signs for it."""

import datetime as dt
from collections.abc import Iterator

from fleet.engineering.calendar import Moment
from fleet.fitness.case import Case, title_of
from fleet.fitness.examples import AIR_TEST, DAY, days_ago, passed, sound
from fleet.fitness.facts import TestFact
from fleet.fitness.findings import Finding
from fleet.fitness.intervals import opens
from fleet.fitness.rulebook import Example, Rule, rule
from fleet.fitness.rules.results import bearing, cleared, of_test


def _signed(on: dt.date) -> Example:
    """Return the sound coach, tested by somebody not competent, signed for on a day."""
    unsure = passed(
        90, AIR_TEST, days_ago(10), lacking="air brake tests", signed=Moment.on(on)
    )
    return sound(tests=(unsure,))


@rule(
    "C01",
    "Tested without competence, not counter-signed",
    why="The test may be good, but nobody assessed to judge it has said so.",
    source="the operator's general conditions",
    clears="Somebody competent looks the test over and counter-signs it.",
    flags=_signed(days_ago(-1)),
    passes=_signed(DAY),
)
def not_competent(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield a passed test by somebody not competent, until it is signed or done again."""
    for test in case.file.tests:
        if not (test.counts and test.lacking):
            continue
        until = min(cleared(case, test)[0], _signed_on(test))
        scope, _ = bearing(case, test)
        title = title_of(case.policy, test.procedure)
        for (since, ends), conditions in case.conditions_over((opens(test.on), until)):
            yield from of_test(
                rule,
                case,
                test,
                ends,
                conditions.uncertified_effect,
                scope,
                f"{title} of {test.on}: whoever did it held no competence for "
                f"{test.lacking} that day, and nobody has counter-signed",
                since=since,
                clears=f"Somebody competent for {test.lacking} looks the test over and "
                "counter-signs it.",
                source=conditions.source or rule.source,
            )


def _signed_on(test: TestFact) -> dt.date:
    if test.signed is None:
        return dt.date.max
    return test.signed.latest or dt.date.max
