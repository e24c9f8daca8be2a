"""Assessing at a higher level a defect that came back too often."""

from fleet.defects import steps
from fleet.defects.models import Defect, DefectStep
from fleet.defects.recurrence import escalation_of, recurrence_of
from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment
from fleet.people.competence import competent_on
from fleet.people.models import Person, Skill, User
from fleet.records.deeds import announce, deed
from fleet.records.refusing import refusing
from fleet.register.vocabulary import Effect


def assess_higher(
    *,
    by: User | None,
    person: Person,
    defect: Defect,
    on: Moment,
    scope: str,
    effect: str,
    condition: str = "",
    note: str,
) -> DefectStep:
    """
    Assess a defect that came back, as somebody competent to release who had not before.

    Raises ValidationError: `no_note`, `not_needed`, `somebody_else_needed`,
    `not_competent`, and what an assessment may raise.
    """
    if not note.strip():
        raise refusing("Say why it comes back.", code="no_note", field="note")
    locking = (defect.vehicle, defect.equipment, defect)
    with deed("defects.assess_higher", by=by, locking=locking) as entry:
        _refuse_assessor(defect, person, on)
        step = steps.take_step(
            defect,
            Step.ASSESSED,
            entry=entry,
            person=person,
            on=on,
            scope=scope,
            effect=effect,
            condition=condition if effect == Effect.CONDITION else "",
            note=note,
            skill=Skill.RELEASE,
        )
        announce(*locking)
        return step


def _refuse_assessor(defect: Defect, person: Person, on: Moment) -> None:
    waits = escalation_of(defect, recurrence_of(defect), on)
    if waits is None:
        raise refusing("It needs no assessment at a higher level.", code="not_needed")
    if person.pk in waits.barred:
        raise refusing(
            f"{person} assessed it before. {waits.sentence}",
            code="somebody_else_needed",
        )
    if competent_on(person, Skill.RELEASE, on) is None:
        raise refusing(
            f"{person} held no competence for release to traffic on {on}. "
            f"{waits.sentence}",
            code="not_competent",
        )
