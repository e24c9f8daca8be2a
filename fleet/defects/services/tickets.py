"""The steps of a defect: assess, take in hand, work done, tested, clear."""

from contextlib import AbstractContextManager
from typing import Any

from fleet.defects import steps, whereabouts
from fleet.defects.clearing import clearing_on
from fleet.defects.models import Defect, DefectStep, WorkInHand
from fleet.defects.recurrence import (
    escalation_of,
    recurrence_of,
    refuse_unescalated,
)
from fleet.defects.vocabulary import Step
from fleet.defects.working import end_work, open_work, refuse_work_end
from fleet.engineering.calendar import Moment, Order, order_of
from fleet.examination.flags import flags_of
from fleet.examination.models import Test, TestRecord
from fleet.people.models import Person, User
from fleet.records.deeds import announce, deed
from fleet.records.models import Entry
from fleet.records.refusing import refusing
from fleet.records.versions import continue_version, open_version
from fleet.register.models import Vehicle
from fleet.register.vocabulary import Effect, Scope


def assess(
    *,
    by: User | None,
    person: Person,
    defect: Defect,
    on: Moment,
    scope: str,
    effect: str,
    condition: str = "",
    tends: str = "",
    note: str = "",
) -> DefectStep:
    """
    Say which part of the vehicle a defect bears on and what it does to the level.

    Raises ValidationError: `through_pipe_stops`, `no_condition`, `step_out_of_order`,
    `already_cleared`, `before_the_last_step`, `in_the_future`.
    """
    kept = condition if effect == Effect.CONDITION else ""
    values = {"scope": scope, "effect": effect, "condition": kept}
    if tends:
        values["tends"] = tends
    return _step(
        "assess", Step.ASSESSED, by, person, defect, on, {**values, "note": note}
    )


def take_in_hand(
    *, by: User | None, person: Person, defect: Defect, on: Moment, note: str = ""
) -> DefectStep:
    """
    Begin work on an assessed defect; the vehicle that bears it is in hand from then on.

    Raises ValidationError as `assess` does for the order and time of steps.
    """
    vehicle = whereabouts.bearer(defect, on)
    with _deed("take_in_hand", by, defect, vehicle) as entry:
        step = steps.take_step(
            defect, Step.IN_HAND, entry=entry, person=person, on=on, note=note
        )
        if vehicle is not None and open_work(defect) is None:
            open_version(
                WorkInHand,
                entry=entry,
                vehicle=vehicle,
                defect=defect,
                what=defect.title,
                scope=step.scope,
                done_by=person,
                since=on,
            )
        announce(vehicle, defect.vehicle, defect.equipment, defect)
        return step


def work_done(
    *, by: User | None, person: Person, defect: Defect, on: Moment, note: str = ""
) -> DefectStep:
    """
    Record that the work on a defect is done, and by whom.

    Lighter work than the operator's policy names is cleared by it; heavier work, and a
    defect that came back too often, wait for a signed release. Returns the step the defect stands at.
    """
    with _deed("work_done", by, defect) as entry:
        step = steps.take_step(
            defect, Step.DONE, entry=entry, person=person, on=on, note=note
        )
        work = open_work(defect)
        if work is not None:
            refuse_work_end(work, on)
            work = continue_version(work, entry=entry, done_by=person)
        clearing = clearing_on(on.latest)
        waits = escalation_of(defect, recurrence_of(defect), on) is not None
        heavy = clearing.needs_release(Scope(step.scope), Effect(step.effect))
        if not heavy and not waits:
            step = steps.take_step(
                defect, Step.CLEARED, entry=entry, person=person, on=on
            )
            if work is not None:
                continue_version(work, entry=entry, until=on)
        announce(defect.vehicle, defect.equipment, defect, _vehicle_of(work))
        return step


def record_tested(
    *,
    by: User | None,
    person: Person,
    defect: Defect,
    on: Moment,
    test: Test,
    note: str = "",
) -> DefectStep:
    """
    Record that a test shows the work to be good.

    Raises ValidationError: `test_withdrawn`, `test_of_something_else`, `test_not_passed`,
    `test_in_doubt`, `test_before_work`, and what any step may raise.
    """
    record = TestRecord.objects.current().filter(test=test).first()
    with _deed("record_tested", by, defect) as entry:
        before = steps.standing(defect)
        steps.refuse_step(before, Step.TESTED)
        _refuse_test(record, defect, steps.work_stands_at(before))
        step = steps.take_step(
            defect, Step.TESTED, entry=entry, person=person, on=on, test=test, note=note
        )
        announce(defect.vehicle, defect.equipment, defect)
        return step


def _refuse_test(record: TestRecord | None, defect: Defect, before: DefectStep) -> None:
    if record is None:
        raise refusing(
            "That test was withdrawn; choose another.",
            code="test_withdrawn",
            field="test",
        )
    subjects = {record.vehicle_id, record.equipment_id} - {None}
    vehicle = whereabouts.bearer(defect, before.on)
    mine = {defect.vehicle_id, defect.equipment_id, vehicle.pk if vehicle else None}
    if not subjects & mine:
        raise refusing(
            "That test is of another vehicle or item.",
            code="test_of_something_else",
            field="test",
        )
    doubted = flags_of([record])[record.pk].doubted
    if doubted:
        numbers = ", ".join(one.number for one in doubted)
        raise refusing(
            f"That test does not count: {numbers} was not to be trusted that day "
            f"({doubted[0].doubt}). Test again with another.",
            code="test_in_doubt",
            field="test",
        )
    if not record.passed:
        raise refusing(
            "That test was not passed. Do the work again and test again.",
            code="test_not_passed",
            field="test",
        )
    if order_of(record.on, before.on) is Order.BEFORE:
        raise refusing(
            f"That test was on {record.on}, before the work was done on {before.on}.",
            code="test_before_work",
            field="test",
        )


def release(
    *, by: User | None, person: Person, defect: Defect, on: Moment, note: str = ""
) -> DefectStep:
    """
    Clear a defect with a signature, and end its work in hand.

    Raises ValidationError: `work_not_done`, `independent_person_needed`,
    `already_cleared`, `higher_assessment_needed`, and what any step may raise.
    """
    with _deed("release", by, defect) as entry:
        before = steps.standing(defect)
        steps.refuse_step(before, Step.RELEASED)
        refuse_unescalated(defect, on)
        steps.refuse_own_release(
            clearing_on(on.latest), Scope(before.scope), person, steps.doers_of(defect)
        )
        step = steps.take_step(
            defect, Step.RELEASED, entry=entry, person=person, on=on, note=note
        )
        work = end_work(defect, entry, person, on)
        announce(defect.vehicle, defect.equipment, defect, _vehicle_of(work))
        return step


def no_fault_found(
    *, by: User | None, person: Person, defect: Defect, on: Moment, note: str
) -> DefectStep:
    """
    Clear a defect that cannot be found, saying what was tried.

    Where the brake was already in hand and the operator's policy asks for it, the work
    still needs its signed release to traffic. Raises ValidationError: `no_note`,
    `higher_assessment_needed`, and what any step may raise.
    """
    if not note.strip():
        raise refusing("Say what was tried.", code="no_note", field="note")
    with _deed("no_fault_found", by, defect) as entry:
        steps.refuse_step(steps.standing(defect), Step.NO_FAULT)
        refuse_unescalated(defect, on)
        step = steps.take_step(
            defect, Step.NO_FAULT, entry=entry, person=person, on=on, note=note
        )
        clearing = clearing_on(on.latest)
        work = open_work(defect)
        if work is not None and not clearing.needs_release(
            Scope(step.scope), Effect(step.effect)
        ):
            refuse_work_end(work, on)
            continue_version(work, entry=entry, until=on)
        announce(defect.vehicle, defect.equipment, defect, _vehicle_of(work))
        return step


def _step(
    name: str,
    step: Step,
    by: User | None,
    person: Person,
    defect: Defect,
    on: Moment,
    values: dict[str, Any],
) -> DefectStep:
    with _deed(name, by, defect) as entry:
        taken = steps.take_step(
            defect, step, entry=entry, person=person, on=on, **values
        )
        announce(defect.vehicle, defect.equipment, defect)
        return taken


def _deed(
    name: str, by: User | None, defect: Defect, *more: Vehicle | None
) -> AbstractContextManager[Entry]:
    locking = (defect.vehicle, defect.equipment, defect, *more)
    return deed(f"defects.{name}", by=by, locking=locking)


def _vehicle_of(work: WorkInHand | None) -> Vehicle | None:
    return work.vehicle if work else None
