"""
What people do to the operator's policy: define, revise, withdraw, take back.

A first definition may be in force from a day long past, because it is how a line's
practice is first loaded. A revision never takes effect before tomorrow, so that what was
decided yesterday on the policy of yesterday still stands.
"""

from fleet.upkeep.services.concession_policy import (
    CONCESSION_FIELDS,
    set_concession_policy,
)
from fleet.upkeep.services.conditions import CONDITIONS_FIELDS, set_conditions
from fleet.upkeep.services.matrix import (
    MATRIX_FIELDS,
    define_matrix_line,
    revise_matrix_line,
    withdraw_matrix_line,
)
from fleet.upkeep.services.requirements import (
    REQUIREMENT_FIELDS,
    define_requirement,
    revise_requirement,
    withdraw_requirement,
)
from fleet.upkeep.services.revising import take_back_revision

__all__ = [
    "CONCESSION_FIELDS",
    "CONDITIONS_FIELDS",
    "MATRIX_FIELDS",
    "REQUIREMENT_FIELDS",
    "define_matrix_line",
    "define_requirement",
    "revise_matrix_line",
    "revise_requirement",
    "set_concession_policy",
    "set_conditions",
    "take_back_revision",
    "withdraw_matrix_line",
    "withdraw_requirement",
]
