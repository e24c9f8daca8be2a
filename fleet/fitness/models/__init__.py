"""Tables of fitness, by subject."""

from fleet.fitness.models.runs import (
    RunEnd,
    RunOutcome,
    RunPlace,
    StatementRun,
)
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
    "RunEnd",
    "RunOutcome",
    "RunPlace",
    "Snapshot",
    "Stale",
    "Statement",
    "StatementRun",
    "StatementStatus",
    "StatementVersion",
    "StatusSpan",
    "StatusSpanQuerySet",
]
