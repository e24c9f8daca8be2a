"""Rules of reservoirs: a wall below its required thickness, half its life used up."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.fitness.case import Case, Placed, sentence
from fleet.fitness.examples import RESERVOIR, days_ago, item, sound
from fleet.fitness.facts import EquipmentFact, SurveyFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import FOREVER, Interval, overlap
from fleet.fitness.rulebook import Rule, rule
from fleet.fitness.surveys import known_by_surveys
from fleet.register.vocabulary import Effect, Scope
from fleet.upkeep.due import later, written

_WITH_MARGIN_MM, _LEAST_MM = 5.0, 4.0


def _surveyed(*surveys: tuple[int, float], least: float | None) -> Any:
    """Return the example's reservoir, read so many days ago with so many mm."""
    facts = tuple(
        SurveyFact(Moment.on(days_ago(ago)), "RES", 70 + n, (("Belly", mm, 0.0),))
        for n, (ago, mm) in enumerate(surveys)
    )
    reservoir = item(4, RESERVOIR, surveys=facts, minimum_thickness_mm=least)
    return sound(equipment={4: reservoir})


@rule(
    "V01",
    "Reservoir below its required thickness",
    why="A wall thinner than drawing or plate asks for may burst, and its rating no longer "
    "holds. Where neither states a minimum, that of ASME VIII-1 UG-27 and UG-32 stands for "
    "it; where that cannot be worked out either, a survey proves nothing.",
    source="49 CFR 230.72 and API 510 clause 7, as summarised in the operator's notes: a "
    "part below its required thickness is not to stay in use",
    clears="Isolate from every pipe, drain and label; exchange the reservoir. Where only "
    "the required thickness is lacking, record it from plate or drawing, or the figures "
    "the formula asks for.",
    flags=_surveyed((30, 3.9), least=_LEAST_MM),
    passes=_surveyed((30, 4.0), least=_LEAST_MM),
)
def below_thickness(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days a fitted vessel was known to be too thin, or could not be judged."""
    for placed, vessel in _vessels(case):
        if vessel.minimum_thickness_mm is None:
            text = (
                "was surveyed, but its required thickness is not known: "
                f"{vessel.minimum_basis}"
            )
            first = min(s.on.earliest or case.begin for s in vessel.surveys)
            yield from _fault(rule, case, placed, (first, FOREVER), text, missing=True)
        for known in known_by_surveys(vessel):
            point, mm = known.thinnest
            if mm < known.life.worst.required_mm:
                text = (
                    f"has {mm:g} mm left at {point}, required "
                    f"{known.life.worst.required_mm:g} mm {vessel.minimum_basis}"
                )
                yield from _fault(rule, case, placed, known.days, text)


@rule(
    "V02",
    "Half of a reservoir's remaining life used up",
    why="The rate of corrosion is known only from the past; looking again when half the "
    "life it leaves is used up bounds the error.",
    source="API 510, 10th ed., clause 6.4: not later than half the remaining life or the "
    "ceiling, whichever is first; the ceiling is the operator's requirement",
    clears="Survey the reservoir again at the same points, or exchange it.",
    # 1 mm lost in 1000 days leaves 1 mm, that is 1000 days; half of them are over or not.
    flags=_surveyed((1502, 6.0), (502, _WITH_MARGIN_MM), least=_LEAST_MM),
    passes=_surveyed((1498, 6.0), (498, _WITH_MARGIN_MM), least=_LEAST_MM),
)
def half_life_over(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days after half of the life left at a survey, until the next survey."""
    for placed, vessel in _vessels(case):
        for known in known_by_surveys(vessel):
            if known.half_on is None or known.life.worst.below:
                continue  # below is V01's
            days = later(known.half_on, 1), known.days[1]
            if days[0] < days[1]:
                text = (
                    f"was to be surveyed again by {written(known.half_on)} "
                    f"({_reason(known.life.reason)})"
                )
                yield from _fault(rule, case, placed, days, text)


def _vessels(case: Case) -> Iterator[tuple[Placed, EquipmentFact]]:
    for placed in case.placed:
        if placed.item is not None and placed.item.surveys:
            yield placed, placed.item


def _reason(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:].rstrip(".")


def _fault(
    rule: Rule,
    case: Case,
    placed: Placed,
    held: Interval,
    text: str,
    *,
    missing: bool = False,
) -> Iterator[Finding]:
    days = overlap(held, placed.days)
    if not days:
        return
    _, position, fitting, vessel = placed
    assert vessel is not None
    scope = position.scope if position else Scope.VEHICLE
    effect = (
        Effect.STOP if scope is Scope.VEHICLE or scope.through_pipe else Effect.ISOLATE
    )
    label = position.label if position else fitting.position
    yield rule.finding(
        case,
        days,
        effect,
        scope,
        f"{sentence(label)} {vessel.serial} {text}",
        position=fitting.position,
        equipment=vessel.id,
        evidence=(
            Evidence("equipment", vessel.id, vessel.serial),
            *_tests(vessel, held[0]),
        ),
        missing=missing,
    )


def _tests(vessel: EquipmentFact, day: dt.date) -> tuple[Evidence, ...]:
    """Return the newest survey up to a day as evidence."""
    dated = [s for s in vessel.surveys if s.on.earliest and s.on.earliest <= day]
    if not dated:
        return ()
    newest = max(dated, key=lambda s: (s.on.earliest, s.test))
    return (Evidence("test", newest.test, f"Thickness survey, {newest.on}"),)
