"""What the values of a revision are called on pages, where the table's word is too short."""

from fleet.upkeep.vocabulary import PolicyKind

LABELS: dict[str, dict[str, str]] = {
    PolicyKind.REQUIREMENT: {
        "subject": "Applies to",
        "kind": "Kind of equipment, where it applies to equipment",
        "designation": "Only of this type designation",
        "procedure": "Met by",
        "calendar_days": "Or days of the calendar",
        "days_in_service": "Or days in service",
        "miles": "Or miles, whichever comes first",
        "tolerance_days": "Tolerance, days",
        "storage_credit_days": "Stands still while out of use for at least, days",
        "concession_days": "A concession goes no further than, days",
        "effect": "If overrun",
        "scope": "Bears on",
    },
    PolicyKind.MATRIX: {
        "change_kind": "After",
        "kind": "Of this kind of equipment",
        "effect": "Until then",
        "scope": "Bears on",
        "procedures": "Any one of these tests must follow",
    },
    PolicyKind.CONDITIONS: {
        "usage_silent_days": "Usage may be silent for, days",
        "usage_silent_effect": "Usage silent for longer",
        "usage_window_days": "Forecasts of usage rest on the last, days",
        "discount_needs_isolation": "Not counted as braked also means isolated",
        "unassessed_effect": "A defect nobody assessed",
        "uncertified_effect": "A test by somebody not competent that day",
        "force_fall_effect": "Brake force fallen that far",
        "hand_brake_out_effect": "Handbrake out of use",
        "hand_brake_out_condition": "Handbrake out of use, as train crew should read it",
        "visiting_condition": "Condition of a visiting vehicle",
        "air_dead_words": "The air brake in a vacuum train",
        "vacuum_dead_words": "The vacuum brake in an air train",
    },
    PolicyKind.CONCESSIONS: {
        "ceiling_days": "Hold at most beyond the last good day, days",
        "most_renewals": "Renewed at most so many times",
        "recheck_days": "Re-checked at least every, days",
        "never_scopes": "Never granted for what bears on",
        "never_kinds": "Never granted for items of these kinds",
    },
    PolicyKind.CLEARING: {
        "release_needed_from": "A signed release from this weight on",
        "independent_scopes": "Released by somebody who did not do the work",
        "recurrence_days": "Come back if within so many days of one like it, days",
        "recurrence_count": "Assessed at a higher level from this time on",
        "cock_repeat_days": "A repeat if a cock was found wrong within, days",
    },
}
