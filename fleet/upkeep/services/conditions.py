"""The operator's general conditions."""

import datetime as dt
from typing import Any

from fleet.people.models import Person, User
from fleet.records.deeds import announce, deed
from fleet.records.revisions import revise_only
from fleet.upkeep.models import (
    ConditionsRevision,
)

CONDITIONS_FIELDS = (
    "usage_silent_days",
    "usage_silent_effect",
    "usage_window_days",
    "discount_needs_isolation",
    "unassessed_effect",
    "uncertified_effect",
    "force_fall_percent",
    "force_fall_effect",
    "hand_brake_out_effect",
    "hand_brake_out_condition",
    "storage_days_needing_tests",
    "visiting_condition",
    "air_dead_words",
    "vacuum_dead_words",
    "source",
)


def set_conditions(
    *,
    by: User | None,
    effective_from: dt.date,
    source: str,
    reason: str = "",
    drafted_by: Person | None = None,
    approved_by: Person | None = None,
    **values: Any,
) -> ConditionsRevision:
    """
    Set the operator's general conditions from a day on.

    The first may hold from a day long past and must give every wording; after that a
    revision begins no earlier than tomorrow, and what is not named stays as it was.
    """
    with deed("upkeep.set_conditions", by=by, policy=True) as entry:
        revision: ConditionsRevision = revise_only(
            ConditionsRevision,
            CONDITIONS_FIELDS,
            entry=entry,
            effective_from=effective_from,
            reason=reason,
            drafted_by=drafted_by,
            approved_by=approved_by,
            values={**values, "source": source},
        )
        announce(revision)
    return revision
