"""Rules of competence: who tested or released was assessed for it, or another signs."""

import datetime as dt
from collections.abc import Iterator, Sequence

from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment
from fleet.fitness.case import Case, title_of
from fleet.fitness.examples import AIR_TEST, DAY, days_ago, passed, sound
from fleet.fitness.facts import DefectStepFact, TestFact, WorkFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import Interval, closes, opens
from fleet.fitness.rulebook import Example, Rule, rule
from fleet.fitness.rules.results import bearing, cleared, of_test
from fleet.register.vocabulary import Scope


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


def _signed_on(fact: TestFact | DefectStepFact | WorkFact) -> dt.date:
    if fact.signed is None:
        return dt.date.max
    return fact.signed.latest or dt.date.max


def _release_signed(on: dt.date) -> Example:
    """Return the sound coach, work released by one not competent, signed for on a day."""
    since, until = Moment.on(days_ago(12)), Moment.on(days_ago(10))
    lacking, signed = "release to traffic", Moment.on(on)
    return sound(work=(WorkFact(90, "Hose exchanged", since, until, lacking, signed),))


@rule(
    "C02",
    "Assessed or released without competence, not counter-signed",
    why="Who lets a brake back into traffic must have been found able to judge it.",
    source="the operator's general conditions",
    clears="Somebody competent looks at it and counter-signs.",
    flags=_release_signed(days_ago(-1)),
    passes=_release_signed(DAY),
)
def not_competent_to_release(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield what was assessed or released by somebody not competent, until it is signed."""
    for defect in case.file.defects:
        for at, step in enumerate(defect.steps):
            if step.lacking:
                later = (_signed_on(step), *_decided(defect.steps[at + 1 :]))
                days = opens(step.on), min(later)
                for part in case.while_carried(defect.equipment, days):
                    evidence = Evidence("defect", defect.id, defect.title)
                    what = f"Defect “{defect.title}”"
                    yield from _unsigned(
                        rule, case, part, step, what, step.scope, evidence
                    )
    for work in case.file.work:
        if work.lacking and work.until is not None:
            days = opens(work.until), _signed_on(work)
            evidence = Evidence("released", work.id, work.what)
            what = f"Work released on {work.until} ({work.what})"
            yield from _unsigned(rule, case, days, work, what, Scope.VEHICLE, evidence)


def _decided(later: Sequence[DefectStepFact]) -> Iterator[dt.date]:
    """Yield when somebody competent assessed or released anew what another had."""
    for step in later:
        if not step.lacking and (step.step in _DID or step.step == Step.RELEASED):
            yield closes(step.on)


def _unsigned(
    rule: Rule,
    case: Case,
    days: Interval,
    fact: DefectStepFact | WorkFact,
    what: str,
    scope: Scope,
    evidence: Evidence,
) -> Iterator[Finding]:
    for part, conditions in case.conditions_over(days):
        yield rule.finding(
            case,
            part,
            conditions.uncertified_effect,
            scope,
            f"{what}: whoever {_DID.get(getattr(fact, 'step', ''), 'released it')} held "
            f"no competence for {fact.lacking} that day, and nobody has counter-signed",
            clears=f"Somebody competent for {fact.lacking} looks at it and "
            "counter-signs it.",
            source=conditions.source or rule.source,
            evidence=(evidence,),
        )


_DID = {
    Step.ASSESSED.value: "assessed it",
    Step.NO_FAULT.value: "found no fault",
}
