"""Setting what the operator asks before a defect or work is cleared."""

import datetime as dt
from typing import Any

from fleet.defects.models import ClearingPolicy
from fleet.people.models import Person, User
from fleet.records.deeds import announce, deed
from fleet.records.revisions import revise_only

CLEARING_FIELDS = (
    "release_needed_from",
    "independent_scopes",
    "recurrence_days",
    "recurrence_count",
    "cock_repeat_days",
    "source",
)


def set_clearing_policy(
    *,
    by: User | None,
    effective_from: dt.date,
    source: str,
    reason: str = "",
    drafted_by: Person | None = None,
    approved_by: Person | None = None,
    **values: Any,
) -> ClearingPolicy:
    """
    Say what is asked before work is cleared, from a day on.

    The first may hold from a day long past; a further one from tomorrow on, and what it
    does not name stays as it was. Raises ValidationError: `takes_effect_too_soon`,
    `before_last_revision`, `unknown_scope`, `first_time_is_no_recurrence`.
    """
    if "independent_scopes" in values:
        values["independent_scopes"] = sorted(values["independent_scopes"])
    with deed("defects.set_clearing_policy", by=by, policy=True) as entry:
        policy: ClearingPolicy = revise_only(
            ClearingPolicy,
            CLEARING_FIELDS,
            entry=entry,
            effective_from=effective_from,
            reason=reason,
            drafted_by=drafted_by,
            approved_by=approved_by,
            values={**values, "source": source},
        )
        announce(policy)
    return policy
