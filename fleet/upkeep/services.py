"""
What people do to the operator's policy: define, revise, withdraw, take back.

A first definition may be in force from a day long past, because it is how a line's
practice is first loaded. A revision never takes effect before tomorrow, so that what was
decided yesterday on the policy of yesterday still stands.
"""

import datetime as dt
from collections.abc import Sequence
from typing import Any, TypeVar

from django.db import models

from fleet.examination.models import Procedure
from fleet.people.models import User
from fleet.records.clock import today
from fleet.records.deeds import announce, deed
from fleet.records.models import Entry, Identity, Version
from fleet.records.refusing import refusing
from fleet.records.versions import (
    continue_version,
    identify,
    open_version,
    retract_version,
)
from fleet.upkeep.models import (
    ConditionsRevision,
    MatrixLine,
    MatrixRevision,
    MatrixTest,
    Requirement,
    RequirementRevision,
)
from fleet.upkeep.vocabulary import CountedFrom

I = TypeVar("I", bound=Identity)  # noqa: E741  # the identity beside its revisions

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
MATRIX_FIELDS = ("change_kind", "kind", "effect", "scope", "condition", "source")
CONDITIONS_FIELDS = (
    "usage_silent_days",
    "usage_silent_effect",
    "usage_window_days",
    "discount_needs_isolation",
    "unassessed_effect",
    "uncertified_effect",
    "force_fall_percent",
    "force_fall_effect",
    "storage_days_needing_tests",
    "visiting_condition",
    "air_dead_words",
    "vacuum_dead_words",
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
) -> Requirement:
    """Say what must be done to a subject, within which limits, from a day on."""
    with deed("upkeep.define_requirement", by=by, policy=True) as entry:
        requirement = _identified(Requirement, code, entry)
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
        )
        announce(requirement)
    return requirement


def revise_requirement(
    *,
    by: User | None,
    requirement: Requirement,
    effective_from: dt.date,
    reason: str,
    **values: Any,
) -> RequirementRevision:
    """
    Set new limits from a day not before tomorrow; what is not named stays as it was.

    `values` are named as in `define_requirement`.
    """
    with deed("upkeep.revise_requirement", by=by, policy=True) as entry:
        need_reason(reason)
        old = _newest(RequirementRevision, requirement=requirement)
        revision: RequirementRevision = open_version(
            RequirementRevision,
            entry=entry,
            reason=reason,
            requirement=requirement,
            number=next_number(RequirementRevision, requirement=requirement),
            effective_from=from_tomorrow(effective_from, old),
            **carried_values(old, REQUIREMENT_FIELDS, values),
        )
        announce(requirement)
    return revision


def define_matrix_line(
    *,
    by: User | None,
    code: str,
    change_kind: str,
    procedures: Sequence[Procedure],
    effect: str,
    source: str,
    effective_from: dt.date,
    kind: str = "",
    scope: str = "",
    condition: str = "",
) -> MatrixLine:
    """Say which tests must follow a change, from a day on; no scope: that of the change."""
    with deed("upkeep.define_matrix_line", by=by, policy=True) as entry:
        line = _identified(MatrixLine, code, entry)
        values = {
            "change_kind": change_kind,
            "kind": kind,
            "effect": effect,
            "scope": scope,
            "condition": condition,
            "source": source,
        }
        _open_matrix(line, entry, 1, effective_from, procedures, values)
        announce(line)
    return line


def revise_matrix_line(
    *,
    by: User | None,
    line: MatrixLine,
    effective_from: dt.date,
    reason: str,
    procedures: Sequence[Procedure] | None = None,
    **values: Any,
) -> MatrixRevision:
    """Change what must follow a change, from a day not before tomorrow."""
    with deed("upkeep.revise_matrix_line", by=by, policy=True) as entry:
        need_reason(reason)
        old = _newest(MatrixRevision, line=line)
        revision = _open_matrix(
            line,
            entry,
            next_number(MatrixRevision, line=line),
            from_tomorrow(effective_from, old),
            _asked(old) if procedures is None else procedures,
            carried_values(old, MATRIX_FIELDS, values),
            reason=reason,
        )
        announce(line)
    return revision


def set_conditions(
    *, by: User | None, effective_from: dt.date, source: str, **values: Any
) -> ConditionsRevision:
    """
    Set the operator's general conditions from a day on.

    The first may hold from a day long past and must give every wording; after that a
    revision begins no earlier than tomorrow, and what is not named stays as it was.
    """
    with deed("upkeep.set_conditions", by=by, policy=True) as entry:
        old = ConditionsRevision.objects.newest_first().first()
        if old is not None:
            effective_from = from_tomorrow(effective_from, old)
            values = carried_values(old, CONDITIONS_FIELDS, values)
        revision: ConditionsRevision = open_version(
            ConditionsRevision,
            entry=entry,
            number=next_number(ConditionsRevision),
            effective_from=effective_from,
            **{**values, "source": source},
        )
        announce(revision)
    return revision


def withdraw_requirement(
    *, by: User | None, requirement: Requirement, withdrawn_from: dt.date, reason: str
) -> RequirementRevision:
    """End a requirement from a day not before tomorrow."""
    with deed("upkeep.withdraw_requirement", by=by, policy=True) as entry:
        old = _newest(RequirementRevision, requirement=requirement)
        revision: RequirementRevision = _withdrawn(old, withdrawn_from, reason, entry)
        announce(requirement)
    return revision


def withdraw_matrix_line(
    *, by: User | None, line: MatrixLine, withdrawn_from: dt.date, reason: str
) -> MatrixRevision:
    """End a line of the change → test matrix from a day not before tomorrow."""
    with deed("upkeep.withdraw_matrix_line", by=by, policy=True) as entry:
        old = _newest(MatrixRevision, line=line)
        revision: MatrixRevision = _withdrawn(old, withdrawn_from, reason, entry)
        _ask_for(revision, _asked(old))
        announce(line)
    return revision


def take_back_revision(
    *,
    by: User | None,
    revision: RequirementRevision | MatrixRevision | ConditionsRevision,
    reason: str,
) -> None:
    """Take back a revision that has not come into force; one that has must be revised."""
    with deed("upkeep.take_back_revision", by=by, policy=True) as entry:
        if revision.effective_from <= today():
            raise refusing(
                f"It has been in force since {revision.effective_from}. Revise it instead.",
                code="in_force_already",
            )
        retract_version(revision, entry=entry, reason=reason)
        identity = type(revision).belongs_to
        announce(getattr(revision, identity) if identity else revision)


def _identified(model: type[I], code: str, entry: Entry) -> I:
    if model._base_manager.filter(code=code).exists():
        raise refusing(
            f"There is a {model._meta.verbose_name} {code} already. Revise it, or choose "
            "another code.",
            code="code_taken",
            field="code",
        )
    return identify(model, entry=entry, code=code)


def _newest(model: type[Version], **identity: models.Model) -> Any:
    newest = model.objects.filter(**identity).newest_first().first()  # type: ignore[attr-defined]  # a revision's manager
    if newest is None:
        raise refusing("It has been taken back. Define it anew.", code="taken_back")
    return newest


def next_number(model: type[Version], **identity: models.Model) -> int:
    """Return the next number; that of a revision taken back is not used again."""
    used = model._base_manager.filter(**identity)
    return (used.aggregate(last=models.Max("number"))["last"] or 0) + 1


def from_tomorrow(day: dt.date, old: Any) -> dt.date:
    """Return the day a revision takes effect; refuse one before tomorrow."""
    if day <= today():
        raise refusing(
            "A revision takes effect tomorrow at the earliest.",
            code="takes_effect_too_soon",
            field="effective_from",
        )
    if day <= old.effective_from:
        raise refusing(
            f"Revision {old.number} takes effect on {old.effective_from}. Choose a later "
            "day, or take that revision back first.",
            code="before_last_revision",
            field="effective_from",
        )
    return day


def carried_values(
    old: models.Model, names: Sequence[str], values: dict[str, Any]
) -> dict[str, Any]:
    """Return the values of the next revision: what is not named stays as it was."""
    strangers = sorted(set(values) - set(names))
    if strangers:
        raise TypeError(f"no such value: {', '.join(strangers)}")
    return {name: values.get(name, getattr(old, name)) for name in names}


def need_reason(reason: str) -> None:
    """Refuse to go on without a reason."""
    if not reason.strip():
        raise refusing("Say why, in a few words.", code="no_reason", field="reason")


def _withdrawn(old: Any, withdrawn_from: dt.date, reason: str, entry: Entry) -> Any:
    need_reason(reason)
    if withdrawn_from <= max(today(), old.effective_from):
        raise refusing(
            "It can be withdrawn from tomorrow at the earliest, and not before its "
            "newest revision takes effect.",
            code="takes_effect_too_soon",
            field="withdrawn_from",
        )
    return continue_version(
        old, entry=entry, withdrawn_from=withdrawn_from, reason=reason
    )


def _open_matrix(
    line: MatrixLine,
    entry: Entry,
    number: int,
    effective_from: dt.date,
    procedures: Sequence[Procedure],
    values: dict[str, Any],
    *,
    reason: str = "",
) -> MatrixRevision:
    if not procedures:
        raise refusing(
            "Name the tests that must follow.", code="no_tests", field="procedures"
        )
    revision: MatrixRevision = open_version(
        MatrixRevision,
        entry=entry,
        reason=reason,
        line=line,
        number=number,
        effective_from=effective_from,
        **values,
    )
    _ask_for(revision, procedures)
    return revision


def _asked(revision: MatrixRevision) -> list[Procedure]:
    tests = revision.tests.select_related("procedure").order_by("pk")
    return [test.procedure for test in tests]


def _ask_for(revision: MatrixRevision, procedures: Sequence[Procedure]) -> None:
    MatrixTest.objects.bulk_create(
        MatrixTest(revision=revision, procedure=procedure) for procedure in procedures
    )
