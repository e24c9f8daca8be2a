"""Fitness statements: issued under a number, withdrawn, superseded."""

import datetime as dt
import json
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any, TypeAlias

from fleet.fitness.findings import Span
from fleet.fitness.locks import lock_numbers, lock_status
from fleet.fitness.models import Statement, StatementStatus, StatementVersion
from fleet.fitness.numbering import next_count
from fleet.people.competence import entitling
from fleet.people.models import Person, Skill, User
from fleet.records.clock import today
from fleet.records.deeds import announce, deed, newest
from fleet.records.models import Entry
from fleet.records.moments import present
from fleet.records.refusing import refusing
from fleet.records.versions import continue_version, identify, open_version
from fleet.register.models import Vehicle

FORMAT = 2
CITING = 2  # the format from which the versions a statement leans on are named


Citation: TypeAlias = tuple[str, int, str]  # table, key, what the paper calls it


@dataclass(frozen=True, slots=True)
class Content:
    """
    What is frozen: the paper, the levels it states, the day they no longer hold.

    `cited` are the versions it leans on. `held` are the spans of its day; they are not
    kept, but say why a vehicle that is to be fit is not.
    """

    paper: dict[str, Any]
    stated: list[dict[str, Any]]
    fit_until: dt.date | None
    cited: list[Citation] = field(default_factory=list)
    held: tuple[Span, ...] = ()


Freeze = Callable[[int], Content | None]  # from the number of the newest entry


def issue_statement(
    *, by: User | None, person: Person, vehicle: Vehicle, on: dt.date, freeze: Freeze
) -> Statement:
    """
    Issue a statement for the close of a day, signed by an entitled person.

    `freeze` makes its content from what is known at an entry. The valid one of the
    vehicle, if there is any, is superseded. Raises ValidationError: `in_the_past`,
    `not_competent`, `nothing_known`.
    """
    if on < today():
        raise refusing(
            "A statement is issued for today or a day to come. For a day gone by print "
            "the draft, as known then.",
            code="in_the_past",
            field="on",
        )
    with deed("fitness.issue_statement", by=by, locking=(vehicle,)) as entry:
        competence = entitling(person, Skill.RELEASE, present())
        lock_numbers()
        lock_status()
        known_at, facts = newest()
        content = freeze(known_at)
        if content is None or not content.stated:
            raise refusing(
                "Nothing is recorded of its brakes for that day; unknown is never fit.",
                code="nothing_known",
            )
        _supersede(vehicle, entry)
        if competence is not None:
            words = f"Competence of {person}"
            content.cited.append((competence._meta.label_lower, competence.pk, words))
        statement = _write(entry, vehicle, on, known_at, facts, content)
        open_version(
            StatementVersion,
            entry=entry,
            statement=statement,
            vehicle=vehicle,
            status=StatementStatus.VALID,
            by=person,
            competence=competence,
        )
        announce(vehicle)
        return statement


def withdraw_statement(
    *, by: User | None, person: Person, statement: Statement, reason: str
) -> StatementVersion:
    """
    Withdraw a valid statement, saying why; the square code on its paper tells so.

    Raises ValidationError: `no_reason`, `not_valid`.
    """
    if not reason.strip():
        raise refusing("Say why it is withdrawn.", code="no_reason", field="reason")
    with deed(
        "fitness.withdraw_statement", by=by, locking=(statement.vehicle,)
    ) as entry:
        stands = standing_of(statement)
        if stands.status != StatementStatus.VALID:
            raise refusing(
                f"It is {stands.get_status_display().lower()} already.",
                code="not_valid",
            )
        announce(statement.vehicle)
        return continue_version(
            stands,
            entry=entry,
            reason=reason.strip(),
            status=StatementStatus.WITHDRAWN,
            by=person,
            competence=None,
            words=reason.strip(),
        )


def standing_of(statement: Statement) -> StatementVersion:
    """Return how a statement stands now."""
    found: StatementVersion = (
        StatementVersion.objects.current()
        .filter(statement=statement)
        .select_related("by", "competence__competence", "opened_by")
        .get()
    )
    return found


def digest_of(statement: Statement) -> str:
    """Return the digest of a statement from what is stored of it."""
    about = [
        statement.format,
        statement.number,
        statement.vehicle_id,
        statement.on.isoformat(),
        statement.fit_until.isoformat() if statement.fit_until else None,
        statement.known_at,
        statement.facts,
        statement.paper,
        statement.stated,
    ]
    if statement.format >= CITING:
        about.append(statement.cited)
    text = json.dumps(about, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return sha256(text.encode()).hexdigest()


def _supersede(vehicle: Vehicle, entry: Entry) -> None:
    valid = StatementVersion.objects.current().filter(
        vehicle=vehicle, status=StatementStatus.VALID
    )
    for version in valid:
        continue_version(
            version,
            entry=entry,
            status=StatementStatus.SUPERSEDED,
            by=None,
            competence=None,
            words="A newer statement was issued.",
        )


def _write(
    entry: Entry,
    vehicle: Vehicle,
    on: dt.date,
    known_at: int,
    facts: str,
    content: Content,
) -> Statement:
    values: dict[str, Any] = {
        "number": _next_number(),
        "vehicle": vehicle,
        "on": on,
        "fit_until": content.fit_until,
        "known_at": known_at,
        "facts": facts,
        "format": FORMAT,
        "paper": content.paper,
        "stated": content.stated,
        "cited": [list(one) for one in content.cited],
    }
    digest = digest_of(Statement(**values))
    token = secrets.token_urlsafe(18)
    return identify(Statement, entry=entry, digest=digest, token=token, **values)


def _next_number() -> str:
    year = today().year
    return f"{year}-{next_count(Statement, year):04d}"
