"""Words of upkeep: what a requirement bears on and counts from. Pure."""

from fleet.register.vocabulary import Word

# What train crew read where the operator wrote nothing else.
HAND_BRAKE_OUT = (
    "Handbrake out of use: not to be left standing unless secured by other means; not "
    "to be the vehicle that secures the train."
)


class Subject(Word):
    """What a requirement applies to."""

    VEHICLE = "vehicle", "Every vehicle"
    HAND_BRAKE = "hand_brake", "Vehicles with a handbrake"
    AIR_BRAKED = "air_braked", "Vehicles with a working air brake"
    AIR_PIPED = "air_piped", "Vehicles piped for air, with or without a brake"
    VACUUM_BRAKED = "vacuum_braked", "Vehicles with a working vacuum brake"
    VACUUM_PIPED = "vacuum_piped", "Vehicles piped for vacuum, with or without a brake"
    EQUIPMENT = "equipment", "Equipment of a kind"


class CountedFrom(Word):
    """The event a period is counted from."""

    LAST_DONE = "last_done", "Last done"
    MADE = "made", "Made"
    FITTED = "fitted", "Fitted"


class Change(Word):
    """A change after which tests must follow."""

    FITTED = "fitted", "Equipment fitted"
    ISOLATION_ENDED = "isolation_ended", "Isolated brake restored"
    STORAGE_ENDED = "storage_ended", "Returned from storage"
    ARRIVED = "arrived", "Arrived as a visiting vehicle"
    WORK_RELEASED = "work_released", "Work completed"


class ConcessionStatus(Word):
    """Where a concession, or its renewal, has got to."""

    ASKED = "asked", "Asked for"
    REFUSED = "refused", "Refused"
    GRANTED = "granted", "Granted"
    WITHDRAWN = "withdrawn", "Withdrawn"


class PolicyKind(Word):
    """What of the policy a draft revises."""

    REQUIREMENT = "requirement", "Requirement"
    MATRIX = "matrix", "Tests after a change"
    CONDITIONS = "conditions", "General conditions"
    CONCESSIONS = "concessions", "Policy on concessions"
    CLEARING = "clearing", "Clearing of defects and work"

    @property
    def alone(self) -> bool:
        """Say whether there is only one of it: it has no code and is never withdrawn."""
        return self not in (PolicyKind.REQUIREMENT, PolicyKind.MATRIX)
