"""What every revision of the policy goes through, and taking one back."""

import datetime as dt
from typing import Any, TypeVar

from django.db import models

from fleet.people.models import User
from fleet.records.clock import today
from fleet.records.deeds import announce, deed
from fleet.records.models import Entry, Identity, Version
from fleet.records.refusing import refusing
from fleet.records.revisions import need_reason
from fleet.records.versions import (
    continue_version,
    identify,
    retract_version,
)
from fleet.upkeep.models import (
    ConditionsRevision,
    MatrixRevision,
    RequirementRevision,
)

I = TypeVar("I", bound=Identity)  # noqa: E741  # the identity beside its revisions


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


def identified(model: type[I], code: str, entry: Entry) -> I:
    """Make the identity of a code; refuse one that is taken."""
    if model._base_manager.filter(code=code).exists():
        raise refusing(
            f"There is a {model._meta.verbose_name} {code} already. Revise it, or choose "
            "another code.",
            code="code_taken",
            field="code",
        )
    return identify(model, entry=entry, code=code)


def newest_of(model: type[Version], **identity: models.Model) -> Any:
    """Return the newest revision; refuse where all were taken back."""
    newest = model.objects.filter(**identity).newest_first().first()  # type: ignore[attr-defined]  # a revision's manager
    if newest is None:
        raise refusing("It has been taken back. Define it anew.", code="taken_back")
    return newest


def withdrawn_version(
    old: Any, withdrawn_from: dt.date, reason: str, entry: Entry, **hands: Any
) -> Any:
    """End the newest revision from a day not before tomorrow."""
    need_reason(reason)
    if withdrawn_from <= max(today(), old.effective_from):
        raise refusing(
            "It can be withdrawn from tomorrow at the earliest, and not before its "
            "newest revision takes effect.",
            code="takes_effect_too_soon",
            field="withdrawn_from",
        )
    return continue_version(
        old, entry=entry, withdrawn_from=withdrawn_from, reason=reason, **hands
    )
