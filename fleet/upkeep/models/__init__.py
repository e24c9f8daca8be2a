"""Tables of upkeep: requirements, matrix, general conditions, concessions."""

from fleet.upkeep.models.concessions import (
    Concession,
    ConcessionPolicy,
    ConcessionVersion,
    Recheck,
)
from fleet.upkeep.models.drafts import PolicyDraft
from fleet.upkeep.models.policy import (
    ConditionsRevision,
    MatrixLine,
    MatrixRevision,
    MatrixTest,
    Requirement,
    RequirementRevision,
)

__all__ = [
    "Concession",
    "ConcessionPolicy",
    "ConcessionVersion",
    "ConditionsRevision",
    "MatrixLine",
    "MatrixRevision",
    "MatrixTest",
    "PolicyDraft",
    "Recheck",
    "Requirement",
    "RequirementRevision",
]
