"""Words of defects: steps and their order, tendencies, extents of an isolation; the brakes it cuts out. Pure."""

from fleet.register.vocabulary import Scope, Word


class Step(Word):
    """A step in the life of a defect."""

    RAISED = "raised", "Raised"
    ASSESSED = "assessed", "Assessed"
    IN_HAND = "in_hand", "Taken in hand"
    DONE = "done", "Work done"
    TESTED = "tested", "Tested"
    RELEASED = "released", "Released"
    CLEARED = "cleared", "Cleared by the work, no signed release needed"
    NO_FAULT = "no_fault", "No fault found"

    @property
    def ends(self) -> bool:
        """Say whether the defect is cleared by this step."""
        return self in (Step.RELEASED, Step.CLEARED, Step.NO_FAULT)

    @property
    def followers(self) -> frozenset["Step"]:
        """Return the steps that may come next."""
        return _FOLLOWERS[self]


_FOLLOWERS = {
    Step.RAISED: frozenset({Step.ASSESSED, Step.NO_FAULT}),
    Step.ASSESSED: frozenset({Step.ASSESSED, Step.IN_HAND, Step.DONE, Step.NO_FAULT}),
    Step.IN_HAND: frozenset({Step.ASSESSED, Step.DONE, Step.NO_FAULT}),
    Step.DONE: frozenset(
        {Step.ASSESSED, Step.IN_HAND, Step.TESTED, Step.RELEASED, Step.CLEARED}
    ),
    Step.TESTED: frozenset({Step.ASSESSED, Step.IN_HAND, Step.TESTED, Step.RELEASED}),
    Step.RELEASED: frozenset[Step](),
    Step.CLEARED: frozenset[Step](),
    Step.NO_FAULT: frozenset[Step](),
}


class Tendency(Word):
    """Which way a fault drives the brake."""

    UNKNOWN = "unknown", "Not known"
    ON = "on", "Tends to put the brake on"
    OFF = "off", "Tends to let the brake off"
    NONE = "none", "Neither"


class Brake(Word):
    """A brake of a vehicle that is taken out of use by itself."""

    AIR = "air", "Air brake"
    VACUUM = "vacuum", "Vacuum brake"
    HAND = "hand", "Handbrake"

    @property
    def scope(self) -> Scope:
        """Return the part of the vehicle this brake is."""
        return _BRAKES[self]

    @property
    def out(self) -> str:
        """Return the words for this brake when it is taken out of use."""
        return f"{self.label} {'out of use' if self is Brake.HAND else 'isolated'}"


_BRAKES = {
    Brake.AIR: Scope.AIR_BRAKE,
    Brake.VACUUM: Scope.VACUUM_BRAKE,
    Brake.HAND: Scope.HAND_BRAKE,
}


class Extent(Word):
    """How much of a vehicle's brake an isolation cuts out."""

    WHOLE = "whole", "The whole brake"
    PART = "part", "Part of the brake"


class IsolationLineKind(Word):
    """What a line of an isolation record asks."""

    COCK = "cock", "Cock"
    DISCONNECTED = "disconnected", "Disconnected, or barred from use"
    VENTED = "vented", "Vented and drained"
    BLOCKS_CLEAR = "blocks_clear", "Blocks seen clear of the wheels"
    BLANKED = "blanked", "Blanked or plugged"
    SECURED = "secured", "Vehicle secured by other means"
    LABEL = "label", "Label fixed on both sides"
    PUT_BACK = "put_back", "Put back when the brake was restored"
