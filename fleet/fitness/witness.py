"""What stands behind a record: its words, the hands in it, its gauges, its entry."""

import datetime as dt
from dataclasses import dataclass
from typing import Any, TypeAlias

from django.db.models import QuerySet

from fleet.engineering.calendar import Moment
from fleet.fitness.vouching import Vouching
from fleet.people.competence import last_day_of
from fleet.people.models import CompetenceVersion, Person, Skill
from fleet.records.models import Version
from fleet.upkeep.due import written

Key: TypeAlias = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Hand:
    """A person's part in a record, and the competence it was done under, in words."""

    part: str  # "done by"
    name: str
    competence: str = ""


@dataclass(frozen=True, slots=True)
class Gauge:
    """An instrument a test cites, and how it stood in calibration that day."""

    instrument: int
    number: str
    words: str


@dataclass(frozen=True, slots=True)
class Witness:
    """What a record says of itself, and the entry that brought it in."""

    kind: str
    id: str
    words: str
    hands: tuple[Hand, ...] = ()
    gauges: tuple[Gauge, ...] = ()
    source: str = ""
    entry: int | None = None
    recorded_at: dt.datetime | None = None
    recorded_by: str = ""
    address: str = ""  # of the page that shows it, where its kind has none by its id


def entered(row: Version, words: str, key: Any, **more: Any) -> Witness:
    """Return the witness of a row with the entry that brought it in."""
    entry = row.opened_by
    user = entry.user
    return Witness(
        "",
        str(key),
        words,
        entry=entry.number,
        recorded_at=entry.made_at,
        recorded_by=str(user) if user else "the register itself",
        **more,
    )


def known_rows(
    model: Any, known_at: int | None, *related: str, **among: Any
) -> "QuerySet[Any]":
    """Return the rows held true at an entry, with who made their entries."""
    rows: QuerySet[Any] = model.objects.known_at(known_at).filter(**among)
    return rows.select_related("opened_by__user", *related).order_by("pk")


def held_words(version: CompetenceVersion | None, *, held: bool = True) -> str:
    """
    Return a competence in words: for what, by whom assessed, how long.

    `held` False: as it is known now it did not hold that day.
    """
    if version is None:
        return "no competence recorded for it that day"
    skill = Skill(version.competence.skill).label.lower()
    last = last_day_of(version)
    until = f" up to {written(last)}" if last else ""
    words = f"for {skill}, assessed by {version.assessed_by} on {version.since}{until}"
    if not held:
        return f"cited competence {words}, which did not hold that day"
    return f"competent {words}"


def words_of_held(
    version: CompetenceVersion | None, on: Moment, vouching: Vouching
) -> str:
    """Return a competence in words, and whether it held at a moment as known now."""
    held = version is not None and vouching.competent(version.pk, on)
    return held_words(version, held=held)


def hand_of(part: str, person: Person | None) -> Hand | None:
    """Return a person's part in a record; None where nobody is named."""
    return Hand(part, person.name) if person else None
