"""Setting what the operator asks before a defect or work is cleared."""

import datetime as dt
from collections.abc import Sequence

from fleet.defects.models import ClearingPolicy
from fleet.people.models import User
from fleet.records.clock import today
from fleet.records.deeds import announce, deed
from fleet.records.refusing import refusing
from fleet.records.versions import open_version


def set_clearing_policy(
    *,
    by: User | None,
    effective_from: dt.date,
    release_needed_from: str,
    independent_scopes: Sequence[str],
    source: str,
    recurrence_days: int = 180,
    recurrence_count: int = 3,
    cock_repeat_days: int = 365,
) -> ClearingPolicy:
    """
    Say what is asked before work is cleared, from a day on.

    The first policy may hold from a day in the past; a further one from tomorrow on.
    Raises ValidationError: `revision_too_early`, `unknown_scope`,
    `first_time_is_no_recurrence`.
    """
    with deed("defects.set_clearing_policy", by=by, policy=True) as entry:
        newest = ClearingPolicy.objects.current().order_by("-number").first()
        if newest is not None and effective_from <= today():
            raise refusing(
                "A revision takes effect on a day not before tomorrow; what was asked "
                "until today stays as it was.",
                code="revision_too_early",
                field="effective_from",
            )
        policy = open_version(
            ClearingPolicy,
            entry=entry,
            number=newest.number + 1 if newest else 1,
            effective_from=effective_from,
            release_needed_from=release_needed_from,
            independent_scopes=sorted(independent_scopes),
            source=source,
            recurrence_days=recurrence_days,
            recurrence_count=recurrence_count,
            cock_repeat_days=cock_repeat_days,
        )
        announce(policy)
        return policy
