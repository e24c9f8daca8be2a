"""
What people do with defects, work in hand and isolations: one function for each deed.

The one face of the slice for writers; each module behind it holds one subject.
"""

from fleet.defects.services.corrections import correct_step, retract_step
from fleet.defects.services.escalating import assess_higher
from fleet.defects.services.isolations import (
    complete_isolation,
    isolation_lines,
    record_isolation,
    restore_brake,
    restoring_lines,
    retract_isolation,
)
from fleet.defects.services.moving import authorise_move, withdraw_authority
from fleet.defects.services.policy import set_clearing_policy
from fleet.defects.services.raising import raise_defect
from fleet.defects.services.tickets import (
    assess,
    no_fault_found,
    record_tested,
    release,
    take_in_hand,
    work_done,
)
from fleet.defects.services.work import release_to_traffic, start_work
from fleet.defects.signing import counter_sign

__all__ = [
    "assess",
    "assess_higher",
    "authorise_move",
    "complete_isolation",
    "correct_step",
    "counter_sign",
    "isolation_lines",
    "no_fault_found",
    "raise_defect",
    "record_isolation",
    "record_tested",
    "release",
    "release_to_traffic",
    "restore_brake",
    "restoring_lines",
    "retract_isolation",
    "retract_step",
    "set_clearing_policy",
    "start_work",
    "take_in_hand",
    "withdraw_authority",
    "work_done",
]
