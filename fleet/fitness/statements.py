"""Fitness statements: issued under a number, withdrawn, superseded."""

import datetime as dt
import json
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from django.db import connection

from fleet.fitness.models import Statement, StatementStatus, StatementVersion
from fleet.people.competence import entitling
from fleet.people.models import Person, Skill, User
from fleet.records.clock import today
from fleet.records.deeds import announce, deed, newest
from fleet.records.models import Entry
from fleet.records.moments import present
from fleet.records.refusing import refusing
from fleet.records.versions import continue_version, identify, open_version
from fleet.register.models import Vehicle

FORMAT = 1
NUMBER_LOCK = 7_304  # advisory lock on PostgreSQL, beside those of records and spans


@dataclass(frozen=True, slots=True)
class Content:
    """What is frozen: the paper, the levels it states, the day they no longer hold."""

    paper: dict[str, Any]
    stated: list[dict[str, Any]]
    fit_until: dt.date | None


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
        known_at, facts = newest()
        content = freeze(known_at)
        if content is None:
            raise refusing(
                "Nothing is recorded of this vehicle for that day; unknown is never fit.",
                code="nothing_known",
            )
        _supersede(vehicle, entry)
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
    text = json.dumps(about, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return sha256(text.encode()).hexdigest()


def lock_numbers() -> None:
    """Let one deed at a time take the next number of a statement or a snapshot."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [NUMBER_LOCK])


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
    row = Statement(
        number=_next_number(),
        vehicle=vehicle,
        on=on,
        fit_until=content.fit_until,
        known_at=known_at,
        facts=facts,
        format=FORMAT,
        paper=content.paper,
        stated=content.stated,
    )
    return identify(
        Statement,
        entry=entry,
        number=row.number,
        vehicle=vehicle,
        on=on,
        fit_until=content.fit_until,
        known_at=known_at,
        facts=facts,
        format=FORMAT,
        paper=content.paper,
        stated=content.stated,
        digest=digest_of(row),
        token=secrets.token_urlsafe(18),
    )


def _next_number() -> str:
    year = f"{today():%Y}-"
    last = Statement.objects.filter(number__startswith=year).order_by("-number").first()
    count = int(last.number.removeprefix(year)) if last else 0
    return f"{year}{count + 1:04d}"
