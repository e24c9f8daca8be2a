"""Tables of upkeep: requirements, matrix, general conditions, concessions, visits."""

from fleet.upkeep.models.concessions import (
    Concession,
    ConcessionPolicy,
    ConcessionVersion,
    Recheck,
)
from fleet.upkeep.models.drafts import PolicyDraft
from fleet.upkeep.models.notices import (
    FleetNotice,
    FleetNoticeVersion,
    NoticeDone,
    NoticeItem,
)
from fleet.upkeep.models.policy import (
    ConditionsRevision,
    MatrixLine,
    MatrixRevision,
    MatrixTest,
    Requirement,
    RequirementRevision,
)
from fleet.upkeep.models.visits import (
    VisitAcceptance,
    VisitAcceptanceVersion,
    VisitEvidence,
    VisitTest,
)

__all__ = [
    "Concession",
    "ConcessionPolicy",
    "ConcessionVersion",
    "ConditionsRevision",
    "FleetNotice",
    "FleetNoticeVersion",
    "MatrixLine",
    "MatrixRevision",
    "MatrixTest",
    "NoticeDone",
    "NoticeItem",
    "PolicyDraft",
    "Recheck",
    "Requirement",
    "RequirementRevision",
    "VisitAcceptance",
    "VisitAcceptanceVersion",
    "VisitEvidence",
    "VisitTest",
]
