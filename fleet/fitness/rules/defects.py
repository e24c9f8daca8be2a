"""Rules of defects: an open ticket holds until it is released."""

from collections.abc import Iterator
from typing import NamedTuple

from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment
from fleet.fitness.case import Case
from fleet.fitness.conceding import Cover, bare, of_defect
from fleet.fitness.examples import days_ago, sound
from fleet.fitness.facts import DefectFact, DefectStepFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import Interval, closes, opens
from fleet.fitness.rulebook import Rule, rule
from fleet.fitness.rules.faults import weighed
from fleet.register.vocabulary import Effect, Scope

_ENDS = frozenset(step.value for step in Step if step.ends)


def _slow_to_release(**steps: int) -> tuple[DefectFact, ...]:
    """Return a defect with its steps at days before the day of the examples."""
    taken = tuple(
        DefectStepFact(Moment.on(days_ago(days)), name, Scope.AIR_BRAKE, Effect.ISOLATE)
        for name, days in steps.items()
    )
    return (DefectFact(90, "Distributor slow to release", 3, "distributor", taken),)


class Stage(NamedTuple):
    """Days of a defect with one assessment, None while it has none."""

    days: Interval
    first: DefectStepFact
    assessed: DefectStepFact | None


@rule(
    "D01",
    "Defect not assessed",
    why="Until somebody entitled has assessed a defect, it must be taken at its worst.",
    source="the operator's general conditions",
    clears="Assess the defect.",
    flags=sound(defects=_slow_to_release(raised=5)),
    passes=sound(defects=_slow_to_release(raised=5, assessed=0)),
)
def defect_not_assessed(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days a raised defect waited for its assessment."""
    for defect, stage, days in open_stages(case):
        if stage.assessed is not None:
            continue
        scope = stage.first.scope
        for part, conditions in case.conditions_over(days):
            effect = Effect.STOP if scope.through_pipe else conditions.unassessed_effect
            text = f"Defect not yet assessed: {defect.title}"
            yield _finding(rule, case, defect, part, effect, scope, text)


@rule(
    "D02",
    "Defect open",
    why="A defect holds until the work is proved and the vehicle or item released.",
    source="common practice",
    clears="Put the defect right, test, and release.",
    flags=sound(defects=_slow_to_release(raised=5, assessed=4, done=1, released=-1)),
    passes=sound(defects=_slow_to_release(raised=5, assessed=4, done=1, released=0)),
)
def defect_open(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days an assessed defect was not yet released."""
    for defect, stage, days in open_stages(case):
        if stage.assessed is None:
            continue
        scope = stage.assessed.scope
        effect = weighed(scope, stage.assessed.effect)
        text = f"Defect: {defect.title}"
        condition = stage.assessed.condition
        covers = conceded(case, defect, stage, days)
        for part in bare(days, covers) if covers else (days,):
            yield _finding(rule, case, defect, part, effect, scope, text, condition)


def conceded(
    case: Case, defect: DefectFact, stage: Stage, days: Interval
) -> list[Cover]:
    """Return what concessions reach of a stage; never the fault of a through pipe."""
    assessed = stage.assessed
    if not case.file.concessions or assessed is None or assessed.scope.through_pipe:
        return []
    if assessed.effect in (Effect.ADVISE, Effect.CONDITION):
        return []
    raised = opens(defect.steps[0].on)
    return of_defect(case, defect.id, raised, stage.days[0], days)


def open_stages(case: Case) -> Iterator[tuple[DefectFact, Stage, Interval]]:
    """Yield every defect with each assessment of it, and the days it bore on here."""
    for defect in case.file.defects:
        for stage in _stages(defect):
            for days in case.while_carried(defect.equipment, stage.days):
                yield defect, stage, days


def _stages(defect: DefectFact) -> Iterator[Stage]:
    """Yield the open stages of a defect, at the worst its dates can mean."""
    steps = defect.steps
    assessed: DefectStepFact | None = None
    at = 0
    while at < len(steps):
        first = steps[at]
        if first.step in _ENDS:
            assessed = None
            at += 1
            continue
        if first.step == Step.ASSESSED:
            assessed = first
        at += 1
        while at < len(steps) and _goes_on(steps[at]):
            at += 1
        until = steps[at].on if at < len(steps) else None
        floor = opens(steps[0].on)
        days = max(opens(first.on), floor), closes(until)
        yield Stage(days, first, assessed)


def _goes_on(step: DefectStepFact) -> bool:
    return step.step not in _ENDS and step.step != Step.ASSESSED


def _finding(
    rule: Rule,
    case: Case,
    defect: DefectFact,
    days: Interval,
    effect: Effect,
    scope: Scope,
    text: str,
    condition: str = "",
) -> Finding:
    return rule.finding(
        case,
        days,
        effect,
        scope,
        text,
        condition=condition,
        position=defect.position,
        equipment=defect.equipment,
        evidence=(Evidence("defect", defect.id, defect.title),),
    )
