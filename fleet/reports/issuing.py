"""Statements issued from what is recorded, and drawn from what was frozen then."""

import datetime as dt
from collections.abc import Iterable

from django.urls import reverse
from django.utils import timezone

from fleet.fitness.models import Statement, StatementStatus, StatementVersion
from fleet.fitness.runs import Check
from fleet.fitness.statements import Content, issue_statement
from fleet.fitness.witness import held_words
from fleet.people.models import Person, User
from fleet.records.clock import now
from fleet.register.models import Vehicle
from fleet.reports.freezing import thawed
from fleet.reports.loading import content_of
from fleet.reports.sheet import Printed
from fleet.reports.statement import Issued, StatementSheet
from fleet.upkeep.due import written


def issue(
    *,
    by: User | None,
    person: Person,
    vehicle: Vehicle,
    on: dt.date,
    check: Check | None = None,
) -> Statement:
    """
    Issue the statement of a vehicle; raises what `issue_statement` raises.

    `check` may refuse what is about to be frozen.
    """
    at = timezone.localtime(now())

    def freeze(entry: int) -> Content | None:
        content = content_of(vehicle.pk, on=on, printed=Printed(at, entry))
        if content is not None and check is not None:
            check(content)
        return content

    return issue_statement(by=by, person=person, vehicle=vehicle, on=on, freeze=freeze)


def papers_of(
    statements: Iterable[Statement], home: str
) -> list[tuple[StatementSheet, Issued]]:
    """
    Return statements as they are drawn: what was frozen, and how each stands now.

    `home` is the address of the register's front door. Two queries.
    """
    listed = list(statements)
    versions = (
        StatementVersion.objects.filter(statement__in=listed)
        .select_related("by", "competence__competence", "opened_by")
        .order_by("pk")
    )
    by_statement: dict[int, list[StatementVersion]] = {}
    for version in versions:
        by_statement.setdefault(version.statement_id, []).append(version)
    return [
        (thawed(one.paper), _issued(one, by_statement[one.pk], home)) for one in listed
    ]


def in_groups(digest: str, size: int = 8) -> str:
    """Return a digest as people compare it: in groups."""
    return " ".join(digest[at : at + size] for at in range(0, len(digest), size))


def _issued(
    statement: Statement, versions: list[StatementVersion], home: str
) -> Issued:
    first, last = versions[0], versions[-1]
    at = timezone.localtime(first.opened_by.made_at)
    signed = f"Issued {written(at.date())}, {at:%H:%M %Z}, signed by {first.by}"
    if first.competence:
        signed += f", {held_words(first.competence)}"
    remark = ""
    if last.status != StatementStatus.VALID:
        on = written(timezone.localtime(last.opened_by.made_at).date())
        remark = f"{last.get_status_display().upper()} on {on}. {last.words}"
    address = f"{home.rstrip('/')}{reverse('reports:vouch', args=[statement.token])}"
    return Issued(
        statement.number,
        f"{signed}.",
        in_groups(statement.digest),
        in_groups(statement.facts),
        address,
        remark,
    )
