"""How far the operator lets concessions go."""

import datetime as dt
from typing import Any

from fleet.people.models import Person, User
from fleet.records.deeds import announce, deed
from fleet.records.revisions import revise_only
from fleet.upkeep.models import ConcessionPolicy

CONCESSION_FIELDS = (
    "ceiling_days",
    "most_renewals",
    "recheck_days",
    "never_scopes",
    "never_kinds",
    "source",
)


def set_concession_policy(
    *,
    by: User | None,
    effective_from: dt.date,
    source: str,
    reason: str = "",
    drafted_by: Person | None = None,
    approved_by: Person | None = None,
    **values: Any,
) -> ConcessionPolicy:
    """
    Say how far concessions may go, from a day on.

    The first may hold from a day long past and must give every value; after that a
    revision begins no earlier than tomorrow, and what is not named stays as it was.
    """
    with deed("upkeep.set_concession_policy", by=by, policy=True) as entry:
        policy: ConcessionPolicy = revise_only(
            ConcessionPolicy,
            CONCESSION_FIELDS,
            entry=entry,
            effective_from=effective_from,
            reason=reason,
            drafted_by=drafted_by,
            approved_by=approved_by,
            values={**values, "source": source},
        )
        announce(policy)
    return policy
