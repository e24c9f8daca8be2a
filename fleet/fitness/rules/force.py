"""The rule of brake force: a fall against the type's figure or the last result asks why."""

import datetime as dt
from collections.abc import Iterator

from fleet.engineering.calendar import Moment
from fleet.engineering.figures import Figures, change_of_force
from fleet.fitness.case import Case, title_of
from fleet.fitness.examples import (
    AIR_POSITIONS,
    AIR_TEST,
    ENTERED,
    TESTED,
    changed,
    passed,
)
from fleet.fitness.facts import TestFact, TypeRevisionFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import FOREVER, Interval
from fleet.fitness.rulebook import Rule, rule
from fleet.register.vocabulary import Scope, System

PRESSURE, STROKE = "maximum", "stroke"
_SCOPES = {System.AIR: Scope.AIR_BRAKE, System.VACUUM: Scope.VACUUM_BRAKE}

# One cylinder of 254 mm, ratio 6.5, efficiency 0.8, 3.8 bar by the type, no spring.
_FIGURES = Figures(
    1, 254.0, 120.0, ratio=6.5, efficiency=0.8, blocks=8, full_cylinder_bar=3.8
)
_TYPE = TypeRevisionFact(ENTERED, None, 1, AIR_POSITIONS, ((System.AIR, _FIGURES),))


def _tested(bar: float) -> TestFact:
    measures = ((f"{System.AIR}.{PRESSURE}", bar),)
    return passed(90, AIR_TEST, TESTED, measures=measures)


@rule(
    "F01",
    "Brake force has fallen",
    why="A force that falls by more than wear and weather explain has a cause: a reservoir "
    "that gives out, long travel, a leak, a setting, worn or dry gear. It is to be found "
    "before it grows.",
    source="On-track-plant standard of Great Britain (RIS-1530 from memory), brakes: a "
    "fall of more than 10 % against earlier results asks why; the percentage is the "
    "operator's",
    clears="Find out why, put it right, and measure again.",
    # 10 % less of 3.8 bar is 3.42 bar: without a spring force goes with pressure.
    flags=changed(types={"COACH": (_TYPE,)}, tests=(_tested(3.41),)),
    passes=changed(types={"COACH": (_TYPE,)}, tests=(_tested(3.43),)),
)
def force_fallen(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield each fall of force, until the force is measured again."""
    for system in System:
        measured = list(measured_forces(case, system))
        for at, (test, figures, force) in enumerate(measured):
            previous = measured[at - 1][2] if at else None
            after = measured[at + 1][0].on if at + 1 < len(measured) else None
            days = _latest(test.on), _latest(after) if after else FOREVER
            yield from _fallen(rule, case, system, test, figures, force, previous, days)


def _fallen(
    rule: Rule,
    case: Case,
    system: System,
    test: TestFact,
    figures: Figures,
    force: float,
    previous: float | None,
    days: Interval,
) -> Iterator[Finding]:
    title = title_of(case.policy, test.procedure)
    for part, conditions in case.conditions_over(days):
        change = change_of_force(
            figures, force, previous, fall_percent=conditions.force_fall_percent
        )
        if not change.questions:
            continue
        yield rule.finding(
            case,
            part,
            conditions.force_fall_effect,
            _SCOPES[system],
            f"{title} of {test.on}: block force {force:.1f} kN. {change.questions[0]}",
            evidence=(Evidence("test", test.id, f"{title}, {test.on}"),),
            condition=f"{system.label} brake force low: {change.questions[0]}",
        )


def measured_forces(
    case: Case, system: System
) -> Iterator[tuple[TestFact, Figures, float]]:
    """Yield every dated test the force follows from, in order, with the force in kN."""
    dated = [t for t in case.file.tests if t.measures and t.on.latest]
    for test in sorted(dated, key=_when):
        figures = _figures_on(case, system, _latest(test.on))
        force = _force(dict(test.measures), system, figures) if figures else None
        if figures and force:
            yield test, figures, force


def _force(
    measures: dict[str, float], system: System, figures: Figures
) -> float | None:
    return figures.force_from(
        measures.get(f"{system}.{PRESSURE}"), measures.get(f"{system}.{STROKE}")
    )


def _figures_on(case: Case, system: System, day: dt.date) -> Figures | None:
    for code, (since, until) in case.types:
        if since <= day < until:
            for revision in case.file.types.get(code, ()):
                if revision.since <= day < (revision.until or FOREVER):
                    return dict(revision.figures).get(system)
    return None


def _latest(on: Moment) -> dt.date:
    return on.latest or dt.date.max


def _when(test: TestFact) -> tuple[dt.date, int, int]:
    return _latest(test.on), test.on.key or 0, test.id
