"""Who assessed or released was competent that day, or somebody competent signs for it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from django.db.models import Q

from fleet.defects.models import CounterSignature, DefectStep, WorkInHand
from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment, Order, order_of
from fleet.people.competence import competent_on, competent_persons, covers
from fleet.people.models import Competence, CompetenceVersion, Person, Skill, User
from fleet.records.deeds import announce, deed
from fleet.records.models import Version
from fleet.records.moments import refuse_future, refuse_unknown
from fleet.records.refusing import refusing
from fleet.records.versions import open_version

SKILLS = MappingProxyType(
    {
        Step.ASSESSED: Skill.ASSESS,
        Step.NO_FAULT: Skill.ASSESS,
        Step.RELEASED: Skill.RELEASE,
    }
)
Signed = DefectStep | WorkInHand


@dataclass(frozen=True, slots=True)
class Lack:
    """A step or a release by somebody not competent that day, and what became of it."""

    person: Person
    skill: str  # in words
    on: Moment
    signed: CounterSignature | None
    signers: tuple[Person, ...]  # who could counter-sign today


def asked(step: str, person: Person, on: Moment, skill: str = "") -> dict[str, Any]:
    """
    Return the `skill` a step asks for, and the `competence` a person held at a moment.

    A skill of which the operator records nobody's competence is not asked for. A `skill`
    named goes before the usual one.
    """
    skill = skill or SKILLS.get(Step(step), "")
    if not skill or not Competence.objects.filter(skill=skill).exists():
        return {"skill": "", "competence": None}
    return {"skill": skill, "competence": competent_on(person, skill, on)}


def signatory(row: Signed) -> tuple[Person | None, Moment]:
    """Return who assessed or released, and when."""
    if isinstance(row, WorkInHand):
        return row.released_by, row.until or Moment.unknown()
    return row.by, row.on


def lacks(rows: Iterable[Signed], today: Moment) -> dict[Signed, Lack]:
    """
    Return which rows lack the competence they asked for.

    At most two queries and two for each skill, however many rows.
    """
    asking = [row for row in rows if row.skill]
    held = _held(row.competence_id for row in asking)
    short = [
        row
        for row in asking
        if not any(
            covers(v, signatory(row)[1]) for v in held.get(row.competence_id, ())
        )
    ]
    signed = _signatures(short)
    skills = {row.skill for row in short}
    able = {skill: tuple(competent_persons(skill, today)) for skill in skills}
    found: dict[Signed, Lack] = {}
    for row in short:
        person, on = signatory(row)
        assert person is not None
        words = Skill(row.skill).label.lower()
        found[row] = Lack(person, words, on, signed.get(row), able[row.skill])
    return found


def _held(
    named: Iterable[int | None],
) -> Mapping[int | None, list[CompetenceVersion]]:
    """Return, by any version of a competence, those of it that hold now."""
    keys = {key for key in named if key is not None}
    if not keys:
        return {}
    kin = list(
        CompetenceVersion.objects.filter(competence__versions__in=keys).distinct()
    )
    current: dict[int, list[CompetenceVersion]] = {}
    for version in kin:
        if version.is_current:
            current.setdefault(version.competence_id, []).append(version)
    return {v.pk: current.get(v.competence_id, []) for v in kin}


def _signatures(rows: Iterable[Signed]) -> dict[Signed, CounterSignature]:
    by_key = {(type(row), row.pk): row for row in rows}
    if not by_key:
        return {}
    steps = [pk for kind, pk in by_key if kind is DefectStep]
    works = [pk for kind, pk in by_key if kind is WorkInHand]
    found = CounterSignature.objects.current().filter(
        Q(step__in=steps) | Q(work__in=works)
    )
    return {
        by_key[(DefectStep, s.step_id) if s.step_id else (WorkInHand, s.work_id)]: s
        for s in found.select_related("by")
    }


def counter_sign(
    *, by: User | None, row: Signed, person: Person, on: Moment, remark: str = ""
) -> CounterSignature:
    """
    Sign, as somebody competent, for what one who was not assessed or released.

    Raises ValidationError: `already_superseded`, `not_needed`, `already_signed`,
    `somebody_else_needed`, `not_competent`, `before_the_last_step`, `in_the_future`.
    """
    refuse_unknown(on, "on")
    refuse_future(on, "on")
    defect = row.defect
    vehicle = row.vehicle if isinstance(row, WorkInHand) else None
    locking = (
        (vehicle, defect)
        if defect is None
        else (vehicle, defect.vehicle, defect.equipment, defect)
    )
    with deed("defects.counter_sign", by=by, locking=locking) as entry:
        _refuse_superseded(row)
        lack = lacks([row], on).get(row)
        _refuse_signer(lack, person, on)
        competence = competent_on(person, row.skill, on)
        if competence is None:
            raise refusing(
                f"{person} held no competence for {Skill(row.skill).label.lower()} on {on}. "
                "Somebody who does must counter-sign.",
                code="not_competent",
            )
        signature: CounterSignature = open_version(
            CounterSignature,
            entry=entry,
            step=None if isinstance(row, WorkInHand) else row,
            work=row if isinstance(row, WorkInHand) else None,
            by=person,
            competence=competence,
            on=on,
            remark=remark.strip(),
        )
        announce(*locking)
        return signature


def _refuse_superseded(row: Version) -> None:
    if not type(row)._base_manager.filter(pk=row.pk, closed_by__isnull=True).exists():
        raise refusing(
            "It was corrected meanwhile. Open it again and look at it as it stands now.",
            code="already_superseded",
        )


def _refuse_signer(lack: Lack | None, person: Person, on: Moment) -> None:
    if lack is None:
        raise refusing("It needs no counter-signature.", code="not_needed")
    if lack.signed is not None:
        raise refusing(
            f"{lack.signed.by} has counter-signed it already.", code="already_signed"
        )
    if lack.person == person:
        raise refusing(
            "You did this yourself. Somebody else, who is competent, counter-signs.",
            code="somebody_else_needed",
        )
    if order_of(on, lack.on) is Order.BEFORE:
        raise refusing(
            f"It was done on {lack.on}; a signature to it cannot be before.",
            code="before_the_last_step",
            field="on",
        )
