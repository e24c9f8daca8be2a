"""Requirements: define, revise, withdraw."""

import datetime as dt
from typing import Any

from fleet.examination.models import Procedure
from fleet.people.models import Person, User
from fleet.records.deeds import announce, deed
from fleet.records.revisions import (
    carried_values,
    from_tomorrow,
    need_reason,
    next_number,
)
from fleet.records.versions import (
    open_version,
)
from fleet.upkeep.models import (
    Requirement,
    RequirementRevision,
)
from fleet.upkeep.services.revising import (
    identified,
    newest_of,
    withdrawn_version,
)
from fleet.upkeep.vocabulary import CountedFrom

REQUIREMENT_FIELDS = (
    "title",
    "subject",
    "kind",
    "designation",
    "procedure",
    "counted_from",
    "months",
    "calendar_days",
    "days_in_service",
    "miles",
    "tolerance_days",
    "storage_credit_days",
    "concession_days",
    "effect",
    "scope",
    "condition",
    "clears",
    "source",
)


def define_requirement(
    *,
    by: User | None,
    code: str,
    title: str,
    effective_from: dt.date,
    subject: str,
    effect: str,
    scope: str,
    clears: str,
    source: str,
    kind: str = "",
    designation: str = "",
    procedure: Procedure | None = None,
    counted_from: str = CountedFrom.LAST_DONE,
    months: int | None = None,
    calendar_days: int | None = None,
    days_in_service: int | None = None,
    miles: int | None = None,
    tolerance_days: int = 0,
    storage_credit_days: int | None = None,
    concession_days: int | None = None,
    condition: str = "",
    drafted_by: Person | None = None,
    approved_by: Person | None = None,
) -> Requirement:
    """Say what must be done to a subject, within which limits, from a day on."""
    with deed("upkeep.define_requirement", by=by, policy=True) as entry:
        requirement = identified(Requirement, code, entry)
        open_version(
            RequirementRevision,
            entry=entry,
            requirement=requirement,
            number=1,
            title=title,
            effective_from=effective_from,
            subject=subject,
            kind=kind,
            designation=designation,
            procedure=procedure,
            counted_from=counted_from,
            months=months,
            calendar_days=calendar_days,
            days_in_service=days_in_service,
            miles=miles,
            tolerance_days=tolerance_days,
            storage_credit_days=storage_credit_days,
            concession_days=concession_days,
            condition=condition,
            effect=effect,
            scope=scope,
            clears=clears,
            source=source,
            drafted_by=drafted_by,
            approved_by=approved_by,
        )
        announce(requirement)
    return requirement


def revise_requirement(
    *,
    by: User | None,
    requirement: Requirement,
    effective_from: dt.date,
    reason: str,
    drafted_by: Person | None = None,
    approved_by: Person | None = None,
    **values: Any,
) -> RequirementRevision:
    """
    Set new limits from a day not before tomorrow; what is not named stays as it was.

    `values` are named as in `define_requirement`.
    """
    with deed("upkeep.revise_requirement", by=by, policy=True) as entry:
        need_reason(reason)
        old = newest_of(RequirementRevision, requirement=requirement)
        revision: RequirementRevision = open_version(
            RequirementRevision,
            entry=entry,
            reason=reason,
            requirement=requirement,
            number=next_number(RequirementRevision, requirement=requirement),
            effective_from=from_tomorrow(effective_from, old),
            drafted_by=drafted_by,
            approved_by=approved_by,
            **carried_values(old, REQUIREMENT_FIELDS, values),
        )
        announce(requirement)
    return revision


def withdraw_requirement(
    *,
    by: User | None,
    requirement: Requirement,
    withdrawn_from: dt.date,
    reason: str,
    **hands: Person,
) -> RequirementRevision:
    """End a requirement from a day not before tomorrow."""
    with deed("upkeep.withdraw_requirement", by=by, policy=True) as entry:
        old = newest_of(RequirementRevision, requirement=requirement)
        revision: RequirementRevision = withdrawn_version(
            old, withdrawn_from, reason, entry
        )
        announce(requirement)
    return revision
