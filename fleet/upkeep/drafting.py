"""What people do with drafts of the policy: begin, write, throw away, approve."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.db import transaction

from fleet.defects.services.policy import set_clearing_policy
from fleet.people.models import Person, User
from fleet.records.clock import now, today
from fleet.records.deeds import deed
from fleet.records.refusing import refusing
from fleet.records.revisions import need_reason
from fleet.upkeep.drafts import (
    SORTS,
    content_of,
    identity_of,
    last_revision,
    revisions_of,
    sort_of,
    values_in,
)
from fleet.upkeep.models import PolicyDraft
from fleet.upkeep.services import (
    define_matrix_line,
    define_requirement,
    revise_matrix_line,
    revise_requirement,
    set_concession_policy,
    set_conditions,
    withdraw_matrix_line,
    withdraw_requirement,
)
from fleet.upkeep.vocabulary import PolicyKind


def begin_draft(
    *,
    person: Person,
    kind: str,
    code: str = "",
    number: int | None = None,
    withdraws: bool = False,
) -> PolicyDraft:
    """
    Begin the next revision; go on with a draft already begun.

    It starts from the newest revision, or from revision `number` to go back to that one.
    `withdraws`: the draft ends it instead.
    """
    with transaction.atomic():
        begun = PolicyDraft.objects.filter(kind=kind, code=code).first()
        if begun is not None:
            return begun
        revisions = revisions_of(kind, code)
        from_one = revisions.filter(number=number) if number else revisions
        last = from_one.first()
        if last is None:
            raise refusing("There is no such revision.", code="no_such_revision")
        return _keep(
            PolicyDraft(
                kind=kind,
                code=code,
                content={} if withdraws else content_of(kind, last),
                withdraws=withdraws,
                reason="" if number is None else f"Back to revision {number}: ",
                drafted_by=person,
            ),
            person,
        )


def begin_new(
    *, person: Person, kind: str, code: str, content: Mapping[str, Any]
) -> PolicyDraft:
    """Begin a requirement or a line of the matrix that is new."""
    model = SORTS[kind].identity
    taken = model is not None and model._base_manager.filter(code=code).exists()
    if taken or PolicyDraft.objects.filter(kind=kind, code=code).exists():
        raise refusing(
            f"The code {code} is in use. Choose another.",
            code="code_taken",
            field="code",
        )
    draft = PolicyDraft(kind=kind, code=code, content=dict(content), drafted_by=person)
    return _keep(draft, person)


def write_draft(
    *,
    person: Person,
    draft: PolicyDraft,
    content: Mapping[str, Any],
    reason: str = "",
    effective_from: dt.date | None = None,
) -> PolicyDraft:
    """Write what the next revision is to hold, from when, and why."""
    if not draft.withdraws:
        draft.content = dict(content)
    draft.reason = reason.strip()
    draft.effective_from = effective_from
    return _keep(draft, person)


def throw_away(*, draft: PolicyDraft) -> None:
    """Throw a draft away: it is no fact yet."""
    draft.delete()


def approve_draft(*, by: User | None, person: Person, draft: PolicyDraft) -> Any:
    """
    Make a draft the next revision from its day on, approved by somebody else.

    Raises ValidationError: `changed_meanwhile`, `same_person`, `no_day`, `too_soon`,
    `no_reason`, and whatever the revision itself may raise.
    """
    with deed("upkeep.approve_draft", by=by, policy=True):
        _refuse_changed(draft)
        if person.pk in {draft.drafted_by_id, *draft.written_by}:
            raise refusing(
                "You wrote in this draft. Somebody else looks it through and approves "
                "it.",
                code="same_person",
            )
        day = draft.effective_from
        if day is None:
            raise refusing("Say from which day it holds.", code="no_day")
        if day <= today():
            raise refusing(
                f"It is to hold from {day}, which is past. Choose a day from tomorrow "
                "on.",
                code="too_soon",
            )
        revision = _bring_in(draft, by=by, person=person, day=day)
        draft.delete()
        return revision


def _bring_in(
    draft: PolicyDraft, *, by: User | None, person: Person, day: dt.date
) -> Any:
    hands = {"drafted_by": draft.drafted_by, "approved_by": person}
    last, values = last_revision(draft), values_in(draft)
    common: dict[str, Any] = {"by": by, **hands}
    named = {sort_of(draft).names: identity_of(draft)}
    if draft.withdraws:
        withdraw = _WITHDRAW[draft.kind]
        return withdraw(withdrawn_from=day, reason=draft.reason, **named, **common)
    if draft.kind in _SET:
        need_reason(draft.reason)
        return _SET[draft.kind](
            effective_from=day, reason=draft.reason, **values, **common
        )
    if last is None:
        define = _DEFINE[draft.kind]
        made = define(code=draft.code, effective_from=day, **values, **common)
        return made.revisions.get()
    revise = _REVISE[draft.kind]
    return revise(effective_from=day, reason=draft.reason, **values, **named, **common)


_SET: Mapping[str, Any] = {
    PolicyKind.CONDITIONS: set_conditions,
    PolicyKind.CONCESSIONS: set_concession_policy,
    PolicyKind.CLEARING: set_clearing_policy,
}
_DEFINE: Mapping[str, Any] = {
    PolicyKind.REQUIREMENT: define_requirement,
    PolicyKind.MATRIX: define_matrix_line,
}
_REVISE: Mapping[str, Any] = {
    PolicyKind.REQUIREMENT: revise_requirement,
    PolicyKind.MATRIX: revise_matrix_line,
}
_WITHDRAW: Mapping[str, Any] = {
    PolicyKind.REQUIREMENT: withdraw_requirement,
    PolicyKind.MATRIX: withdraw_matrix_line,
}


def _refuse_changed(draft: PolicyDraft) -> None:
    held = PolicyDraft.objects.filter(pk=draft.pk, changed_at=draft.changed_at)
    if not held.exists():
        raise refusing(
            "The draft was changed, approved or thrown away meanwhile. Look at it again.",
            code="changed_meanwhile",
        )


def _keep(draft: PolicyDraft, person: Person) -> PolicyDraft:
    """Save a draft, and remember whose hand was in it."""
    draft.written_by = sorted({*draft.written_by, person.pk})
    draft.changed_at = now()
    draft.full_clean()
    draft.save()
    return draft
