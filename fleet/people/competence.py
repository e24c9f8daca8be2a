"""Who may do or approve what: competences as they stood at a moment."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import Q

from fleet.engineering.calendar import Moment
from fleet.people.models import Competence, CompetenceVersion, Person, Skill
from fleet.records.models import VersionQuerySet
from fleet.records.refusing import refusing


@dataclass(frozen=True, slots=True)
class Held:
    """A competence in the matrix, as it stands on a day."""

    version: CompetenceVersion
    on: dt.date

    @property
    def last_day(self) -> dt.date | None:
        """Return the last day it holds; None where no end was set."""
        return last_day_of(self.version)

    @property
    def lapsed(self) -> bool:
        """Say whether it has ended."""
        return self.last_day is not None and self.last_day < self.on


@dataclass(frozen=True, slots=True)
class MatrixRow:
    """A person, and of every skill the newest competence, None where there is none."""

    person: Person
    cells: tuple[tuple[Skill, Held | None], ...]


def competent_on(person: Person, skill: str, on: Moment) -> CompetenceVersion | None:
    """
    Return the competence a person surely held for a skill at a moment; None if none.

    It counts from the day it was assessed; of an imprecise moment every day must be in.
    """
    return (
        _holding(on).filter(competence__person=person, competence__skill=skill).last()
    )


def competent_persons(skill: str, on: Moment) -> list[Person]:
    """Return those who surely held a competence at a moment, by name."""
    held = _holding(on).filter(competence__skill=skill, competence__person__active=True)
    keys = held.values("competence__person")
    return list(Person.objects.filter(pk__in=keys))


def entitling(person: Person, skill: Skill, on: Moment) -> CompetenceVersion | None:
    """
    Return the competence a deed at a moment is done under; None where none is recorded.

    Where the operator records it of anybody it is needed. Raises ValidationError,
    `not_competent`, naming who held it.
    """
    held = competent_on(person, skill, on)
    if held is None and Competence.objects.filter(skill=skill).exists():
        able = ", ".join(p.name for p in competent_persons(skill, on)) or "nobody"
        raise refusing(
            f"{person} held no competence for {skill.label.lower()} on {on}. These "
            f"did: {able}.",
            code="not_competent",
        )
    return held


def covers(version: CompetenceVersion, on: Moment) -> bool:
    """Say whether a version surely held at a moment; never at an unknown one."""
    since, until = version.since.latest, version.until
    if since is None or on.earliest is None or on.latest is None:
        return False
    ends = until.earliest if until is not None else None
    return since <= on.earliest and (ends is None or on.latest < ends)


def last_day_of(version: CompetenceVersion) -> dt.date | None:
    """Return the last day a competence holds; None where no end was set."""
    until = version.until
    if until is None or until.earliest is None:
        return None
    return until.earliest - dt.timedelta(days=1)


def matrix(on: dt.date) -> list[MatrixRow]:
    """Return every active person with the newest competence of each skill: two queries."""
    newest: dict[tuple[int, str], Held] = {}
    rows = CompetenceVersion.objects.current().filter(since_earliest__lte=on)
    for version in rows.select_related("competence").order_by("since_key"):
        key = version.competence.person_id, version.competence.skill
        newest[key] = Held(version, on)
    return [
        MatrixRow(
            person,
            tuple((skill, newest.get((person.pk, skill.value))) for skill in Skill),
        )
        for person in Person.objects.active()
    ]


def _holding(on: Moment) -> VersionQuerySet:
    if on.earliest is None or on.latest is None:
        return CompetenceVersion.objects.none()
    still = Q(until_key__isnull=True) | Q(until_earliest__gt=on.latest)
    held = CompetenceVersion.objects.current().filter(
        still, since_latest__lte=on.earliest
    )
    return held.order_by("since_key")
