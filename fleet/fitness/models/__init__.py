"""Tables of fitness, by subject."""

from fleet.fitness.models.snapshots import (
    HoldVersion,
    Opening,
    Snapshot,
)
from fleet.fitness.models.statements import (
    Statement,
    StatementStatus,
    StatementVersion,
)
from fleet.fitness.models.status import (
    DueDate,
    Stale,
    StatusSpan,
    StatusSpanQuerySet,
)

__all__ = [
    "DueDate",
    "HoldVersion",
    "Opening",
    "Snapshot",
    "Stale",
    "Statement",
    "StatementStatus",
    "StatementVersion",
    "StatusSpan",
    "StatusSpanQuerySet",
]
