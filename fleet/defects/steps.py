"""Taking a step of a defect: what may come next, and never before the step before."""

from collections.abc import Iterable
from typing import Any

from fleet.defects.clearing import Clearing
from fleet.defects.models import Defect, DefectStep
from fleet.defects.signing import asked
from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment, Order, order_of
from fleet.people.models import Person, Skill
from fleet.records.models import Entry
from fleet.records.moments import refuse_future, refuse_unknown
from fleet.records.refusing import refusing
from fleet.records.versions import open_version
from fleet.register.vocabulary import Effect, Scope

CARRIED = ("scope", "effect", "condition", "tends")  # from one step to the next


def standing(defect: Defect) -> DefectStep:
    """
    Return the step a defect stands at.

    Raises ValidationError, code `withdrawn`, where the whole ticket was taken back.
    """
    held = DefectStep.objects.current().filter(defect=defect).select_related("by")
    found: DefectStep | None = held.order_by("number").last()
    if found is None:
        raise refusing(
            "This defect was withdrawn. Raise it again if it is there after all.",
            code="withdrawn",
        )
    return found


def work_stands_at(stands: DefectStep) -> DefectStep:
    """
    Return the step the work on a defect stands at, `stands` being its newest.

    An assessment at a higher level says what to make of work; it undoes none.
    """
    if not stands.higher:
        return stands
    before = DefectStep.objects.current().filter(
        defect=stands.defect_id, number__lt=stands.number
    )
    worked = before.exclude(step=Step.ASSESSED, skill=Skill.RELEASE)
    found: DefectStep | None = worked.order_by("number").last()
    return found or stands


def ways_on(stands: DefectStep) -> frozenset[Step]:
    """Return the steps that may come next, `stands` being the newest."""
    worked = work_stands_at(stands)
    return Step(stands.step).followers | Step(worked.step).followers


def refuse_step(before: DefectStep, step: Step) -> None:
    """Refuse a step that makes no sense after the one the defect stands at."""
    stands = Step(before.step)
    followers = ways_on(before)
    if step in followers:
        return
    if stands.ends:
        raise refusing(
            f"This defect was cleared on {before.on} ({stands.label.lower()}). If it is "
            "back, raise it again: the earlier ticket is shown beside the new one.",
            code="already_cleared",
        )
    if step in {Step.RELEASED, Step.CLEARED}:
        raise refusing(
            f"It stands at “{stands.label.lower()}”. Record the work done first, or that "
            "no fault was found; then it can be released.",
            code="work_not_done",
        )
    ways = ", ".join(s.label.lower() for s in Step if s in followers)
    raise refusing(
        f"It stands at “{stands.label.lower()}”; next can come: {ways}.",
        code="step_out_of_order",
    )


def refuse_before(moment: Moment, earlier: Moment, field: str, what: str) -> None:
    """Refuse a moment certainly before another; `what` happened at the earlier one."""
    if order_of(moment, earlier) is Order.BEFORE:
        raise refusing(
            f"{what} on {earlier}. This cannot have been before; give a later time.",
            code="before_the_last_step",
            field=field,
        )


def refuse_no_time(moment: Moment, since: Moment, field: str) -> None:
    """Refuse an end whose place on the day cannot be told from the beginning's."""
    if (moment.key or 0) < (since.key or 0):
        raise refusing(
            f"It began on {since}. Give the time of day as well.",
            code="time_needed",
            field=field,
        )


def refuse_undatable(moment: Moment, field: str) -> None:
    """Refuse a moment that is unknown or still to come."""
    refuse_unknown(moment, field)
    refuse_future(moment, field)


def take_step(
    defect: Defect,
    step: Step,
    *,
    entry: Entry,
    person: Person,
    on: Moment,
    **values: Any,
) -> DefectStep:
    """Record the next step; what stands of scope and effect is carried on."""
    before = standing(defect)
    refuse_step(before, step)
    refuse_undatable(on, "on")
    refuse_before(on, before.on, "on", Step(before.step).label)
    carried = {name: getattr(before, name) for name in CARRIED}
    return write_step(
        defect, step, entry=entry, by=person, on=on, **{**carried, **values}
    )


def write_step(
    defect: Defect, step: Step, *, entry: Entry, **values: Any
) -> DefectStep:
    """Write a step at the next place of the defect's life."""
    skill = values.get("skill", "")
    values |= asked(step, values["by"], values["on"], skill)
    taken = DefectStep.objects.filter(defect=defect).order_by("-number")
    last = taken.values_list("number", flat=True).first() or 0
    written: DefectStep = open_version(
        DefectStep, entry=entry, defect=defect, number=last + 1, step=step, **values
    )
    return written


def until_assessed(scope: Scope) -> Effect:
    """
    Return the effect written on a raised step; it stands for nothing but caution.

    What a defect does before anyone assessed it is the operator's general condition.
    """
    return Effect.STOP if scope.through_pipe else Effect.ISOLATE


def refuse_own_release(
    clearing: Clearing, scope: Scope, releasing: Person, doers: Iterable[Person | None]
) -> None:
    """Refuse a release by who did the work, where the operator wants somebody else."""
    did = {doer.pk for doer in doers if doer is not None}
    if releasing.pk in did and clearing.needs_somebody_else(scope):
        raise refusing(
            f"{releasing} did the work. For work on “{scope.label.lower()}” somebody "
            "else has to look at it and release it.",
            code="independent_person_needed",
            field="person",
        )


def doers_of(defect: Defect) -> list[Person]:
    """Return who did work on a defect."""
    done = DefectStep.objects.current().filter(defect=defect, step=Step.DONE)
    return [step.by for step in done.select_related("by")]
