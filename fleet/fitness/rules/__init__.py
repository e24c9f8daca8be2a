"""The book of rules: every rule in force, in one table. Codes are never used again."""

from fleet.fitness.rulebook import RuleBook
from fleet.fitness.rules import (
    changes,
    cocks,
    competence,
    concessions,
    defects,
    equipment,
    force,
    instruments,
    isolation,
    notices,
    other_system,
    positions,
    practice,
    requirements,
    results,
    standing,
    usage,
    vessels,
)

BOOK = RuleBook(
    standing.no_particulars,  # S05
    standing.not_accepted,  # S01
    standing.stored,  # S02
    standing.withdrawn,  # S03
    standing.visiting,  # S04
    standing.not_accepted_as_visitor,  # S06
    standing.visit_condition,  # S07
    standing.visit_evidence,  # S08
    standing.work_in_hand,  # W01
    practice.type_unknown,  # K01
    practice.no_conditions,  # K02
    practice.piped_only,  # B01
    positions.position_empty,  # P01
    positions.wrong_kind,  # P02
    positions.wrong_group,  # P03
    positions.wrong_bore,  # P04
    positions.pressure_rating,  # P05
    positions.no_such_place,  # P06
    positions.no_record,  # P07
    equipment.not_serviceable,  # E01
    equipment.standing_unknown,  # E02
    requirements.never_met,  # R01
    requirements.vehicle_overrun,  # R02
    requirements.equipment_overrun,  # R03
    requirements.age_limit,  # R04
    requirements.date_unknown,  # R05
    usage.usage_silent,  # U01
    vessels.below_thickness,  # V01
    vessels.half_life_over,  # V02
    results.last_test_failed,  # T01
    results.test_incomplete,  # T02
    instruments.instrument_in_doubt,  # G01
    competence.not_competent,  # C01
    competence.not_competent_to_release,  # C02
    force.force_fallen,  # F01
    changes.test_missing,  # M01
    defects.defect_not_assessed,  # D01
    defects.defect_open,  # D02
    concessions.under_concession,  # A01
    concessions.recheck_overdue,  # A02
    isolation.brake_isolated,  # I01
    isolation.isolation_incomplete,  # I02
    isolation.part_isolated,  # I03
    cocks.cock_not_proved,  # I04
    cocks.cause_not_found,  # I05
    isolation.hand_brake_out,  # I06
    notices.notice_not_done,  # N01
    other_system.other_system,  # O01
    version="2026.3",
)
