"""A defect that comes back: how often within the operator's period, and what that asks."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import Q

from fleet.defects.clearing import clearing_on
from fleet.defects.models import Defect, DefectStep
from fleet.defects.symptoms import symptoms_of
from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment
from fleet.people.competence import competent_persons
from fleet.people.models import Competence, Person, Skill
from fleet.records.refusing import refusing
from fleet.register.models import Equipment, Vehicle

_WORDS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh")


@dataclass(frozen=True, slots=True)
class Recurrence:
    """The tickets like one within the period before it, newest first."""

    days: int
    limit: int
    earlier: tuple[DefectStep, ...]  # the step each of them stands at

    @property
    def time(self) -> str:
        """Return which time this is, in words."""
        number = len(self.earlier) + 1
        known = number <= len(_WORDS)
        return f"{_WORDS[number - 1]} time" if known else f"time number {number}"

    @property
    def not_found(self) -> int:
        """Return how many of the earlier tickets ended without a fault found."""
        return sum(step.step == Step.NO_FAULT for step in self.earlier)

    @property
    def reached(self) -> bool:
        """Say whether it has come back as often as the operator lets pass."""
        return len(self.earlier) + 1 >= self.limit


@dataclass(frozen=True, slots=True)
class Escalation:
    """What a defect that came back too often waits for, and who may give it."""

    sentence: str
    barred: frozenset[int]  # persons who assessed it before


def recurrence_of(defect: Defect) -> Recurrence:
    """Return how often a defect was there before: same item, place or symptom."""
    raised = DefectStep.objects.current().filter(defect=defect, step=Step.RAISED)
    own = raised.first()
    day = own.on.latest if own else None
    clearing = clearing_on(day)
    found: list[int] = []
    if day is not None:
        start = day - dt.timedelta(days=clearing.recurrence_days)
        for step in _raised_near(defect.vehicle, defect.equipment, start, day):
            before = _order(step) < (day, defect.pk)
            if before and step.defect_id != defect.pk and _alike(step.defect, defect):
                found.append(step.defect_id)
    return Recurrence(
        clearing.recurrence_days, clearing.recurrence_count, _stand_at(found)
    )


def reported_before(
    vehicle: Vehicle | None, equipment: Equipment | None, position: str, day: dt.date
) -> Recurrence:
    """Return what was reported of an item, or of a place, before a ticket is raised."""
    clearing = clearing_on(day)
    start = day - dt.timedelta(days=clearing.recurrence_days)
    found = [
        step.defect_id
        for step in _raised_near(vehicle, equipment, start, day)
        if _same_thing(step.defect, vehicle, equipment, position)
    ]
    return Recurrence(
        clearing.recurrence_days, clearing.recurrence_count, _stand_at(found)
    )


def escalation_of(
    defect: Defect, recurrence: Recurrence, on: Moment
) -> Escalation | None:
    """
    Return what a defect still waits for where it came back too often.

    Nothing where somebody competent to release, who had not assessed it before, assessed
    it last. A competence the operator records of nobody is not asked for.
    """
    asked_for = Competence.objects.filter(skill=Skill.RELEASE).exists()
    if not asked_for or not recurrence.reached:
        return None
    tickets = [defect.pk, *(step.defect_id for step in recurrence.earlier)]
    assessed = list(
        DefectStep.objects.current()
        .filter(defect__in=tickets, step=Step.ASSESSED)
        .order_by("number")
    )
    own = [step for step in assessed if step.defect_id == defect.pk]
    if own and own[-1].higher and own[-1].competence_id is not None:
        return None
    barred = frozenset(step.by_id for step in assessed if not step.higher)
    able = [p for p in competent_persons(Skill.RELEASE, on) if p.pk not in barred]
    return Escalation(_sentence(recurrence, able), barred)


def refuse_unescalated(defect: Defect, on: Moment) -> None:
    """Refuse to clear a defect that came back and was not assessed at a higher level."""
    waits = escalation_of(defect, recurrence_of(defect), on)
    if waits is not None:
        raise refusing(waits.sentence, code="higher_assessment_needed")


def _sentence(recurrence: Recurrence, able: list[Person]) -> str:
    who = " or ".join(str(person) for person in able)
    may = f"by {who}" if able else "and nobody recorded today may give it"
    return (
        f"This is the {recurrence.time} in {recurrence.days} days. Before it is "
        f"cleared it needs an assessment at a higher level, {may}: somebody competent to "
        "release who did not assess it before."
    )


def _raised_near(
    vehicle: Vehicle | None, equipment: Equipment | None, start: dt.date, day: dt.date
) -> list[DefectStep]:
    """Return the reports of a vehicle or an item in a period; late ones come first."""
    mine = Q(pk__in=[])
    if vehicle is not None:
        mine |= Q(defect__vehicle=vehicle)
    if equipment is not None:
        mine |= Q(defect__equipment=equipment)
    raised = DefectStep.objects.current().filter(
        mine, step=Step.RAISED, on_latest__gte=start, on_earliest__lte=day
    )
    return list(raised.select_related("defect__equipment"))


def _order(step: DefectStep) -> tuple[dt.date, int]:
    return step.on.latest or dt.date.min, step.defect_id


def _same_thing(
    other: Defect, vehicle: Vehicle | None, equipment: Equipment | None, position: str
) -> bool:
    if equipment is not None and other.equipment_id == equipment.pk:
        return True
    here = vehicle is not None and other.vehicle_id == vehicle.pk
    if position:
        return here and other.position == position
    return here and equipment is None and other.equipment_id is None


def _alike(other: Defect, defect: Defect) -> bool:
    if defect.equipment_id or defect.position:
        same = _same_thing(other, defect.vehicle, defect.equipment, defect.position)
        if same:
            return True
    here = defect.vehicle_id is not None and other.vehicle_id == defect.vehicle_id
    return here and _symptom(other) == _symptom(defect)


def _symptom(defect: Defect) -> tuple[str, str]:
    """Return the kind of item and what is wrong with it, without place or own words."""
    kind = defect.equipment.kind if defect.equipment else ""
    said = defect.title.rpartition(": ")[2].strip().lower()
    listed = (symptom.text.lower() for symptom in symptoms_of(kind))
    return kind, next((text for text in listed if said.startswith(text)), said)


def _stand_at(defects: list[int]) -> tuple[DefectStep, ...]:
    newest = DefectStep.objects.newest().filter(defect__in=defects)
    return tuple(newest.select_related("defect", "by").order_by("-defect"))
