"""The rule of instruments: a test is worth what it was measured with."""

from collections.abc import Iterator

from fleet.fitness.case import Case, title_of
from fleet.fitness.examples import AIR_TEST, DAY, days_ago, passed, sound
from fleet.fitness.facts import Doubt
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.rulebook import Rule, rule
from fleet.fitness.rules.results import bearing, cleared, of_test
from fleet.register.vocabulary import Effect

_GAUGE = Doubt(7, "TG-4 (test gauge) out of calibration, last good day 20 May 2026")
_DOUBTED = passed(90, AIR_TEST, days_ago(10), doubts=(_GAUGE,))


@rule(
    "G01",
    "Measured with an instrument in doubt",
    why="A reading is worth what the gauge is worth: out of calibration on the day, or "
    "found wrong at the next one, nobody knows what the pressure was. A test that failed "
    "still counts as failed.",
    source="common practice; EN 837-1:1996, table 11, for the limit of error",
    clears="Do the test again with an instrument in calibration, or have the instrument "
    "calibrated before anybody adjusts it: found good, its tests count again.",
    flags=sound(tests=(_DOUBTED, passed(91, AIR_TEST, days_ago(-1)))),
    passes=sound(tests=(_DOUBTED, passed(91, AIR_TEST, DAY))),
)
def instrument_in_doubt(rule: Rule, case: Case) -> Iterator[Finding]:
    """
    Yield a passed test that does not count, until a later one of its kind does.

    What its not counting does to the vehicle is for the rules that asked for it.
    """
    for test in case.file.tests:
        if not (test.passed and test.doubts):
            continue
        until, note = cleared(case, test)
        scope, _ = bearing(case, test)
        title = title_of(case.policy, test.procedure)
        doubts = "; ".join(doubt.words for doubt in test.doubts)
        yield from of_test(
            rule,
            case,
            test,
            until,
            Effect.ADVISE,
            scope,
            f"{title} of {test.on} does not count: {doubts}{note}",
            also=tuple(
                Evidence("instrument", doubt.instrument, doubt.words.split(" (")[0])
                for doubt in test.doubts
            ),
        )
