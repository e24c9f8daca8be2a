"""A defect that comes back: how often within the operator's period, and what that asks."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from fleet.defects.clearing import Clearing, clearing_on
from fleet.defects.models import Defect, DefectStep
from fleet.defects.symptoms import symptoms_of
from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment, Order, order_of
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
    own = _reports().filter(defect=defect).first()
    day = own.on.latest if own else None
    clearing = clearing_on(day)
    found: list[DefectStep] = []
    if own is not None and day is not None:
        start = day - dt.timedelta(days=clearing.recurrence_days)
        near = _raised_near(defect.vehicle, defect.equipment, start, day)
        found = _earlier_like(own, near)
    return Recurrence(
        clearing.recurrence_days, clearing.recurrence_count, _stand_at(found)
    )


def come_back(since: dt.date, until: dt.date, clearing: Clearing) -> int:
    """
    Return how many reports of a period a policy takes for come back too often.

    One query, however many reports.
    """
    start = since - dt.timedelta(days=clearing.recurrence_days)
    together: dict[tuple[str, int], list[DefectStep]] = defaultdict(list)
    reports = _reports().filter(on_latest__gte=start, on_earliest__lte=until)
    for step in reports:
        for key in _subjects(step.defect):
            together[key].append(step)
    return sum(
        _often(step, together, clearing)
        for step in reports
        if step.on.latest is not None and since <= step.on.latest <= until
    )


def _often(
    step: DefectStep,
    together: dict[tuple[str, int], list[DefectStep]],
    clearing: Clearing,
) -> bool:
    day = step.on.latest
    assert day is not None
    start = day - dt.timedelta(days=clearing.recurrence_days)
    near = {
        other.pk: other
        for key in _subjects(step.defect)
        for other in together[key]
        if (other.on.latest or start) >= start and (other.on.earliest or day) <= day
    }
    found = _earlier_like(step, near.values())
    return len(found) + 1 >= clearing.recurrence_count


def _subjects(defect: Defect) -> list[tuple[str, int]]:
    named = {"vehicle": defect.vehicle_id, "equipment": defect.equipment_id}
    return [(name, key) for name, key in named.items() if key is not None]


def _earlier_like(own: DefectStep, near: Iterable[DefectStep]) -> list[DefectStep]:
    """Return those of other reports that came before one and are like it."""
    return [
        step
        for step in near
        if step.defect_id != own.defect_id
        and _before(step, own)
        and _alike(step.defect, own.defect)
    ]


def reported_before(
    vehicle: Vehicle | None, equipment: Equipment | None, position: str, day: dt.date
) -> Recurrence:
    """Return what was reported of an item, or of a place, before a ticket is raised."""
    clearing = clearing_on(day)
    start = day - dt.timedelta(days=clearing.recurrence_days)
    found = [
        step
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
    raised = _reports().filter(mine, on_latest__gte=start, on_earliest__lte=day)
    return list(raised)


def _reports() -> Any:
    raised = DefectStep.objects.current().filter(step=Step.RAISED)
    return raised.select_related(
        "defect__vehicle", "defect__equipment", "defect__created_by"
    )


def _before(first: DefectStep, second: DefectStep) -> bool:
    """Say whether a report came before another: by its moment, else as recorded."""
    order = order_of(first.on, second.on)
    if order is Order.UNKNOWN:
        return _recorded(first) < _recorded(second)
    return order is Order.BEFORE


def _recorded(step: DefectStep) -> tuple[float, int]:
    """Return the place of a ticket among those recorded; a deed still running is last."""
    defect: Defect = step.defect
    return defect.created_by.number or float("inf"), defect.pk


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


def _stand_at(reports: list[DefectStep]) -> tuple[DefectStep, ...]:
    """Return the step each ticket reported stands at, the newest report first."""
    place = {
        r.defect_id: ((r.on.key or 0, r.on.order or 0), _recorded(r)) for r in reports
    }
    newest = DefectStep.objects.newest().filter(defect__in=list(place))
    stand = newest.select_related("defect", "by")
    return tuple(sorted(stand, key=lambda step: place[step.defect_id], reverse=True))
