"""Records a statement lists: open defects, isolations, work, last tests, due dates. Pure."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from fleet.defects.vocabulary import Brake, Step
from fleet.engineering.calendar import Moment, add_months
from fleet.fitness.case import Case, title_of
from fleet.fitness.facts import DefectFact, DefectStepFact, TestFact
from fleet.fitness.findings import Due, Verdict
from fleet.fitness.intervals import held, opens
from fleet.upkeep.due import written

WHOLE_VEHICLE = "Vehicle"
DUE_MONTHS = 18


@dataclass(frozen=True, slots=True)
class DefectLine:
    """An open defect."""

    number: str
    title: str
    where: str
    standing: str
    effect: str


@dataclass(frozen=True, slots=True)
class TestLine:
    """The last record of one procedure on the vehicle or one of its items."""

    __test__ = False  # not a pytest class

    day: str
    title: str
    subject: str
    result: str
    signed: str


@dataclass(frozen=True, slots=True)
class DueLine:
    """A requirement and when it falls due."""

    day: str
    last_good: str
    title: str
    subject: str
    basis: str


def fitted_on(case: Case, on: dt.date) -> dict[int, str]:
    """Return the items on the vehicle at the close of a day, each with its position."""
    return {
        presence.fitting.equipment: presence.fitting.position
        for presence in case.presences
        if presence.since <= on < presence.until
    }


def place_words(case: Case, position: str, on: dt.date) -> str:
    """Return the label of a position as the type stood on a day."""
    for layout in case.layouts:
        if layout.since <= on < layout.until and position in layout.positions:
            return layout.positions[position].label
    return position


def item_words(case: Case, equipment: int | None, position: str, on: dt.date) -> str:
    """Return what a record is about: the vehicle, or a place and the item in it."""
    place = place_words(case, position, on) if position else ""
    item = case.file.equipment.get(equipment) if equipment is not None else None
    if item is None:
        return _capital(place) or WHOLE_VEHICLE
    return f"{_capital(place) or item.kind.label} {item.serial}".strip()


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def open_defects_of(case: Case, on: dt.date) -> Iterator[DefectFact]:
    """Yield what `open_defects` tells of."""
    fitted = fitted_on(case, on)
    for defect in case.file.defects:
        here = defect.equipment is None or defect.equipment in fitted
        if here and _standing(defect, on) is not None:
            yield defect


def open_defects(case: Case, on: dt.date) -> Iterator[DefectLine]:
    """Yield the defects open at the close of a day, an item's only where it is fitted."""
    for defect in open_defects_of(case, on):
        step = _standing(defect, on)
        assert step is not None  # it is open
        assessed = any(Step(s.step) is not Step.RAISED for s in _taken(defect, on))
        effect = f"{step.effect.label} ({step.scope.label.lower()})"
        yield DefectLine(
            f"Defect {defect.id}",
            defect.title,
            item_words(case, defect.equipment, defect.position, on),
            f"{Step(step.step).label}, {step.on}",
            effect if assessed else "Not yet assessed",
        )


def _taken(defect: DefectFact, on: dt.date) -> list[DefectStepFact]:
    """Return the steps taken by a day; one that clears counts from its last day only."""
    return [
        step
        for step in defect.steps
        if (_sure(step.on) if Step(step.step).ends else opens(step.on)) <= on
    ]


def _sure(moment: Moment) -> dt.date:
    return moment.latest or dt.date.max


def _standing(defect: DefectFact, on: dt.date) -> DefectStepFact | None:
    taken = _taken(defect, on)
    return taken[-1] if taken and not Step(taken[-1].step).ends else None


def isolations_on(case: Case, on: dt.date) -> Iterator[str]:
    """Yield the isolations and the work in hand of a day, a sentence each."""
    for isolation in case.file.isolations:
        since, until = held(isolation.since, isolation.until)
        if not since <= on < until:
            continue
        extent = "whole brake" if isolation.whole else "part of the brake"
        record = "complete" if isolation.complete else "NOT complete"
        system = isolation.brake.label.removesuffix(" brake")
        words = f"{system}: {extent} isolated, "
        if isolation.brake is Brake.HAND:
            words = "Handbrake: out of use, "
        words += f"as recorded from {isolation.since}; isolation record {record}."
        if isolation.secured:
            words += f" Secured by other means as it was recorded: {isolation.secured}."
        yield f"{words} {isolation.condition}".strip()
    for work in case.file.work:
        since, until = held(work.since, work.until)
        if since <= on < until:
            yield f"Work in hand since {work.since}, no release to traffic: {work.what}."


def last_tests_of(case: Case, on: dt.date) -> list[TestFact]:
    """Return what `last_tests` tells of, in its order."""
    fitted = fitted_on(case, on)
    newest: dict[tuple[str, int | None], TestFact] = {}
    for test in sorted(case.file.tests, key=lambda test: _when(test.on)):
        here = test.equipment is None or test.equipment in fitted
        if here and opens(test.on) <= on:
            newest[test.procedure, test.equipment] = test
    return sorted(newest.values(), key=lambda test: _place_key(test, fitted))


def last_tests(
    case: Case, on: dt.date, signed: Mapping[int, str]
) -> Iterator[TestLine]:
    """
    Yield the last record of each procedure, of the vehicle and the items then on it.

    The vehicle's own first, then by place; newest last among equals.
    """
    fitted = fitted_on(case, on)
    for test in last_tests_of(case, on):
        position = fitted.get(test.equipment, "") if test.equipment is not None else ""
        yield TestLine(
            str(replace(test.on, at=None)),
            title_of(case.policy, test.procedure),
            item_words(case, test.equipment, position, on),
            result_words(test),
            signed.get(test.id, ""),
        )


def _when(moment: Moment) -> tuple[dt.date, dt.time, int]:
    at = moment.at or dt.time.min
    return moment.latest or dt.date.min, at, moment.order or 0


def _place_key(test: TestFact, fitted: Mapping[int, str]) -> tuple[bool, str, str]:
    place = fitted.get(test.equipment, "") if test.equipment is not None else ""
    return test.equipment is not None, place, test.procedure


def result_words(test: TestFact) -> str:
    """Return the result of a test in words, each line not met with what was found."""
    if test.passed and test.doubts:
        doubts = "; ".join(doubt.words for doubt in test.doubts)
        return f"All lines met, but it does not count: {doubts}"
    if test.passed:
        unsigned = test.lacking and test.signed is None
        return "All lines met; to be counter-signed" if unsigned else "All lines met"
    parts = [f"NOT MET: {line.text}: {line.found}" for line in test.failed]
    if test.unanswered:
        lines = "1 line" if test.unanswered == 1 else f"{test.unanswered} lines"
        parts.append(f"{lines} not answered")
    return "; ".join(parts) or "Not met"


def due_lines(
    case: Case, verdict: Verdict, on: dt.date
) -> tuple[tuple[DueLine, ...], str]:
    """
    Return the due dates of the next eighteen months, and a sentence about those beyond.

    What cannot be worked out comes first: unknown is never fit.
    """
    end = add_months(on, DUE_MONTHS)
    dues = sorted(
        verdict.due, key=lambda d: (d.due_on or dt.date.min, d.title, d.position)
    )
    near = [due for due in dues if due.due_on is None or due.due_on <= end]
    beyond = [due.due_on for due in dues if due.due_on is not None and due.due_on > end]
    words = ""
    if beyond:
        words = (
            f"{len(beyond)} more fall due after {written(end)}, "
            f"the first on {written(beyond[0])}."
        )
    return tuple(_due_line(case, due, on) for due in near), words


def _due_line(case: Case, due: Due, on: dt.date) -> DueLine:
    day = written(due.due_on) if due.due_on else "Not known"
    day += " (forecast)" if due.forecast and due.due_on else ""
    good = due.last_good_day
    tolerated = good is not None and good != due.due_on
    return DueLine(
        day,
        written(good) if tolerated and good else "",
        due.title,
        item_words(case, due.equipment, due.position, on),
        due.basis,
    )
