"""Rules of concessions: what runs under one, and one whose re-check is overdue."""

import datetime as dt
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from fleet.fitness.case import Case
from fleet.fitness.conceding import Cover, held_once, of_overrun
from fleet.fitness.examples import AIR_TEST, AIR_YEARLY, DAY, changed, passed, policy
from fleet.fitness.facts import ConcessionFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import within
from fleet.fitness.rulebook import Example, Rule, rule
from fleet.fitness.rules.defects import conceded, open_stages
from fleet.register.vocabulary import Effect, Scope
from fleet.upkeep.due import later, written

_SOURCE = "the concession, under the operator's policy"
_A_YEAR_AGO = DAY.replace(year=DAY.year - 1)


class _Reached(NamedTuple):
    """A finding that concessions reach: its words, what it bears on, what clears it."""

    what: str
    scope: Scope
    clears: str
    position: str
    equipment: int | None
    evidence: tuple[Evidence, ...]
    covers: Sequence[Cover]


def _overrun(days: int, **terms: int) -> Example:
    """Return the coach overrun since days before the example, under a concession."""
    last = DAY - dt.timedelta(days=days + 1)
    end = later(last, terms.get("until", 30) + 1)
    granted = ConcessionFact(
        id=4,
        renewal=0,
        requirement=AIR_YEARLY.code,
        defect=None,
        equipment=None,
        since=later(last, 1),
        until=end,
        ceiling_days=60,
        condition="Not as the last vehicle.",
        recheck_days=terms.get("recheck", 60),
    )
    test = passed(1, AIR_TEST, last.replace(year=last.year - 1))
    return changed(policy(AIR_YEARLY), tests=(test,), concessions=(granted,))


@rule(
    "A01",
    "Under concession",
    why="What is overdue or defective may run for a while where somebody entitled has "
    "weighed the risk; crew must know on what terms.",
    source=_SOURCE,
    clears="Do the work the concession puts off, and record it.",
    flags=_overrun(9, until=10),
    passes=_overrun(10, until=10),
)
def under_concession(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days a concession held over an overrun or a defect."""
    for reached in _reached(case):
        for days, fact, _ in held_once(reached.covers):
            last = written(later(fact.until, -1))
            yield rule.finding(
                case,
                days,
                Effect.CONDITION,
                reached.scope,
                f"{reached.what}, allowed by concession {fact.id} up to {last}, while "
                f"re-checked every {fact.recheck_days} days",
                clears=reached.clears,
                source=f"Concession {fact.id}, under the operator's policy",
                condition=fact.condition,
                position=reached.position,
                equipment=reached.equipment,
                evidence=(_evidence(fact), *reached.evidence),
            )


@rule(
    "A02",
    "Re-check of a concession overdue",
    why="A concession nobody looks after decays into a habit; it holds from one re-check "
    "to the next.",
    source=_SOURCE,
    clears="Re-check that its terms hold and record it, or do the work.",
    flags=_overrun(9, recheck=8),
    passes=_overrun(8, recheck=8),
)
def recheck_overdue(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days a concession would hold, had it been re-checked in time."""
    for reached in _reached(case):
        for days, fact, held in reached.covers:
            if held:
                continue
            yield rule.finding(
                case,
                days,
                Effect.ADVISE,
                reached.scope,
                f"{reached.what}: concession {fact.id} has lapsed, its re-check every "
                f"{fact.recheck_days} days is overdue or found its terms not kept",
                position=reached.position,
                equipment=reached.equipment,
                evidence=(_evidence(fact), *reached.evidence),
            )


def _evidence(fact: ConcessionFact) -> Evidence:
    label = f"Concession {fact.id}"
    if fact.renewal:
        label += f", renewal {fact.renewal}"
    return Evidence("concession", fact.id, label)


def _reached(case: Case) -> Iterator[_Reached]:
    if not case.file.concessions:
        return
    yield from _overruns(case)
    for defect, stage, days in open_stages(case):
        covers = conceded(case, defect, stage, days)
        if covers and stage.assessed is not None:
            yield _Reached(
                f"Defect: {defect.title}",
                stage.assessed.scope,
                "Put the defect right, test, and release.",
                defect.position,
                defect.equipment,
                (Evidence("defect", defect.id, defect.title),),
                covers,
            )


def _overruns(case: Case) -> Iterator[_Reached]:
    for obligation in case.obligations:
        requirement, item = obligation.requirement, obligation.item
        evidence: tuple[Evidence, ...] = (
            Evidence(
                "requirement",
                requirement.code,
                f"{requirement.title}, revision {requirement.revision}",
            ),
        )
        if item is not None:
            evidence = (*evidence, Evidence("equipment", item.id, item.serial))
        for overrun in obligation.course.overruns:
            covers = [
                Cover(part, cover.concession, cover.held)
                for cover in of_overrun(case, obligation, overrun)
                for part in within(cover.days, obligation.windows)
            ]
            if covers:
                yield _Reached(
                    f"{requirement.title}: overrun since {written(overrun.since)}",
                    requirement.scope,
                    requirement.clears,
                    obligation.position,
                    obligation.equipment,
                    evidence,
                    covers,
                )
