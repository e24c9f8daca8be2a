"""Putting right what was written down wrongly of a defect; both versions stay."""

from typing import Any

from fleet.defects import steps
from fleet.defects.models import Defect, DefectStep, WorkInHand
from fleet.defects.signing import asked
from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment, Order, order_of
from fleet.people.models import User
from fleet.records.deeds import announce, deed
from fleet.records.models import Entry
from fleet.records.refusing import refusing
from fleet.records.versions import correct_version, retract_version

CORRECTABLE = frozenset({"on", "by", "scope", "effect", "condition", "tends", "note"})


def correct_step(
    *, by: User | None, step: DefectStep, reason: str, **changes: Any
) -> DefectStep:
    """
    Correct a step: when, by whom (`person`), its assessment or its note.

    An assessment put right is put right in the steps that carried it on. Raises
    ValidationError: `no_reason`, `already_superseded`, `cannot_be_corrected`,
    `before_the_last_step`, `after_the_next_step`, `in_the_future`.
    """
    if "person" in changes:
        changes["by"] = changes.pop("person")
    strangers = set(changes) - CORRECTABLE
    if strangers:
        raise refusing(
            f"These are not corrected here: {', '.join(sorted(strangers))}.",
            code="cannot_be_corrected",
        )
    defect = step.defect
    with deed(
        "defects.correct_step",
        by=by,
        locking=(defect.vehicle, defect.equipment, defect),
    ) as entry:
        if "on" in changes:
            _refuse_out_of_order(step, changes["on"])
        if {"by", "on"} & set(changes):
            person, on = changes.get("by", step.by), changes.get("on", step.on)
            changes |= asked(step.step, person, on, step.skill)
        corrected = correct_version(step, entry=entry, reason=reason, **changes)
        carried = {k: v for k, v in changes.items() if k in steps.CARRIED}
        if carried:
            _carry_on(corrected, entry, reason, carried)
        announce(defect.vehicle, defect.equipment, defect)
        return corrected


def _refuse_out_of_order(step: DefectStep, on: Moment) -> None:
    steps.refuse_undatable(on, "on")
    life = DefectStep.objects.current().filter(defect=step.defect)
    before = life.filter(number__lt=step.number).order_by("number").last()
    after = life.filter(number__gt=step.number).order_by("number").first()
    if before is not None:
        steps.refuse_before(on, before.on, "on", Step(before.step).label)
    if after is not None and order_of(after.on, on) is Order.BEFORE:
        raise refusing(
            f"{Step(after.step).label} on {after.on}. This cannot have been after that; "
            "give an earlier time.",
            code="after_the_next_step",
            field="on",
        )


def _carry_on(
    corrected: DefectStep, entry: Entry, reason: str, changes: dict[str, Any]
) -> None:
    life = DefectStep.objects.current().filter(defect=corrected.defect)
    for later in life.filter(number__gt=corrected.number).order_by("number"):
        if later.step == Step.ASSESSED:
            return
        correct_version(later, entry=entry, reason=reason, **changes)


def retract_step(*, by: User | None, step: DefectStep, reason: str) -> DefectStep:
    """
    Take back the newest step of a defect; with the last one the whole ticket.

    Work in hand follows: what this step began is taken back, what it ended goes on.
    Raises ValidationError: `no_reason`, `not_the_newest_step`, `already_superseded`.
    """
    defect = step.defect
    with deed(
        "defects.retract_step",
        by=by,
        locking=(defect.vehicle, defect.equipment, defect),
    ) as entry:
        newest = steps.standing(defect)
        if newest.pk != step.pk:
            raise refusing(
                "Only the newest step can be taken back; correct this one instead.",
                code="not_the_newest_step",
            )
        retracted = retract_version(step, entry=entry, reason=reason)
        _undo(defect, step, entry, reason)
        announce(defect.vehicle, defect.equipment, defect)
        return retracted


def _undo(defect: Defect, step: DefectStep, entry: Entry, reason: str) -> None:
    """Take the work in hand back to where it was before the step."""
    held = WorkInHand.objects.current().filter(defect=defect)
    if step.step == Step.IN_HAND:
        begun = DefectStep.objects.current().filter(defect=defect, step=Step.IN_HAND)
        for work in [] if begun.exists() else held.open_ended():
            announce(retract_version(work, entry=entry, reason=reason).vehicle)
    elif Step(step.step).ends:
        for work in held.filter(opened_by=step.opened_by, until_key__isnull=False):
            announce(work.vehicle)
            correct_version(
                work,
                entry=entry,
                reason=reason,
                until=None,
                released_by=None,
                skill="",
                competence=None,
            )
