"""Tables of defects, by subject."""

from fleet.defects.models.cocks import WrongCock, WrongCockVersion
from fleet.defects.models.isolations import (
    Isolation,
    IsolationLine,
    IsolationVersion,
)
from fleet.defects.models.moving import MoveAuthority
from fleet.defects.models.tickets import (
    ClearingPolicy,
    CounterSignature,
    Defect,
    DefectStep,
    WorkInHand,
)

__all__ = [
    "ClearingPolicy",
    "CounterSignature",
    "Defect",
    "DefectStep",
    "Isolation",
    "IsolationLine",
    "IsolationVersion",
    "MoveAuthority",
    "WorkInHand",
    "WrongCock",
    "WrongCockVersion",
]
