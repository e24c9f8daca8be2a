"""
The usual ways equipment fails, by kind, and which way each drives the brake. Pure.

Common practice of the trade, offered as a pick list; own words are always possible.
"""

from dataclasses import dataclass

from fleet.defects.vocabulary import Tendency
from fleet.register.vocabulary import EquipmentKind as Kind
from fleet.register.vocabulary import Scope

ON, OFF, NONE, UNKNOWN = Tendency.ON, Tendency.OFF, Tendency.NONE, Tendency.UNKNOWN


@dataclass(frozen=True, slots=True)
class Symptom:
    """A way of failing, and which way it drives the brake."""

    text: str
    tends: Tendency = UNKNOWN


def _all(tends: Tendency, *texts: str) -> tuple[Symptom, ...]:
    return tuple(Symptom(text, tends) for text in texts)


_HOSE = (
    *_all(ON, "chafed", "perished or cracked", "bulged", "coupling head leaks"),
    *_all(OFF, "kinked or restricted"),
    *_all(UNKNOWN, "wrong coupling head", "date or marking cannot be read"),
)
_END_COCK = (
    *_all(OFF, "found closed", "can be knocked shut"),
    *_all(ON, "leaks past", "leaks to atmosphere"),
    *_all(NONE, "does not vent the hose", "stiff", "handle loose or missing"),
)
_ISOLATING_COCK = (
    *_all(OFF, "found closed"),
    *_all(
        UNKNOWN,
        "leaks",
        "found open",
        "stiff",
        "wrong handle, direction reads opposite",
    ),
)
_VALVE = (
    *_all(OFF, "no application", "slow to apply", "does not hold", "pressure too low"),
    *_all(ON, "no release", "slow to release", "pressure too high"),
    *_all(UNKNOWN, "leaks to exhaust", "over-sensitive", "insensitive"),
    *_all(UNKNOWN, "loose on its bracket, or seal displaced"),
)
_RESERVOIR = (
    *_all(OFF, "leaks"),
    *_all(NONE, "corroded", "dented", "strap loose", "plate cannot be read"),
    *_all(NONE, "water in it", "drain blocked"),
)
_RELEASE = (
    *_all(OFF, "stuck open", "leaks", "knocked"),
    *_all(ON, "does not release"),
    *_all(NONE, "cord or pull missing"),
)

SYMPTOMS: dict[Kind, tuple[Symptom, ...]] = {
    Kind.DISTRIBUTOR: _VALVE,
    Kind.TRIPLE_VALVE: _VALVE,
    Kind.RELAY_VALVE: (
        *_all(OFF, "pressure too low"),
        *_all(ON, "pressure too high"),
        *_all(UNKNOWN, "stuck in one setting", "leaks"),
    ),
    Kind.AUXILIARY_RESERVOIR: _RESERVOIR,
    Kind.CONTROL_RESERVOIR: (
        *_all(ON, "leaks, brake will not release"),
        *_all(OFF, "leaks, brake creeps off"),
        *_RESERVOIR[1:],
    ),
    Kind.EQUIPMENT_RESERVOIR: _RESERVOIR,
    Kind.MAIN_RESERVOIR: _RESERVOIR,
    Kind.VACUUM_RESERVOIR: (
        *_all(OFF, "leaks", "collapsed"),
        *_all(NONE, "corroded"),
    ),
    Kind.BRAKE_CYLINDER: (
        *_all(OFF, "leaks off", "slow", "stroke too long"),
        *_all(ON, "stuck on", "stroke too short"),
        *_all(UNKNOWN, "gaiter torn", "moisture"),
    ),
    Kind.BP_HOSE: _HOSE,
    Kind.MR_HOSE: (
        *_all(NONE, "chafed", "perished or cracked", "bulged", "coupling head leaks"),
        *_all(NONE, "kinked or restricted", "will not mate"),
        *_all(NONE, "date or marking cannot be read"),
    ),
    Kind.BP_END_COCK: _END_COCK,
    Kind.MR_END_COCK: _all(NONE, *(symptom.text for symptom in _END_COCK)),
    Kind.DISTRIBUTOR_ISOLATING_COCK: _ISOLATING_COCK,
    Kind.MR_ISOLATING_COCK: _ISOLATING_COCK,
    Kind.CYLINDER_ISOLATING_COCK: _ISOLATING_COCK,
    Kind.DIRT_COLLECTOR: (*_all(OFF, "choked"), *_all(UNKNOWN, "moisture", "leaks")),
    Kind.CHECK_VALVE: _all(OFF, "stuck", "choked", "leaks back"),
    Kind.RELEASE_VALVE: _RELEASE,
    Kind.DRAIN_COCK: (*_all(OFF, "passing"), *_all(NONE, "blocked", "frozen")),
    Kind.GAUGE: _all(NONE, "reads wrongly", "sticks", "glass broken", "out of date"),
    Kind.GUARDS_VALVE: (
        *_all(OFF, "does not apply in full"),
        *_all(ON, "leaks"),
        *_all(NONE, "stiff", "seal broken"),
    ),
    Kind.PASSENGER_ALARM: (
        *_all(OFF, "no application"),
        *_all(ON, "will not reset", "leaks"),
        *_all(NONE, "stiff", "indicator does not show"),
    ),
    Kind.EMPTY_LOAD_GEAR: _all(UNKNOWN, "stuck in one setting", "wrong setting"),
    Kind.VACUUM_HOSE: (
        *_all(ON, "perished", "leaks at the clip", "washer missing"),
        *_all(OFF, "collapsed inside"),
    ),
    Kind.VACUUM_DUMMY: _all(ON, "missing", "washer missing", "leaks"),
    Kind.SWAN_NECK: _all(ON, "porous casting", "loose", "bent"),
    Kind.DRIP_TRAP: (*_all(ON, "stuck open"), *_all(NONE, "frozen")),
    Kind.VACUUM_CYLINDER: (
        *_all(OFF, "leaks off too quickly", "slow", "rolling ring twisted"),
        *_all(ON, "piston sticks"),
        *_all(UNKNOWN, "rod bent", "trunnion worn"),
    ),
    Kind.VACUUM_RELEASE_VALVE: (
        *_all(OFF, "leaks"),
        *_all(ON, "stuck, does not release"),
        *_all(NONE, "cord missing on one side"),
    ),
    Kind.DA_VALVE: (
        *_all(OFF, "does not open", "filter blocked"),
        *_all(ON, "passes"),
    ),
    Kind.CHANGEOVER: _all(UNKNOWN, "in the wrong position", "stiff", "leaks"),
    Kind.SLACK_ADJUSTER: (
        *_all(OFF, "run out", "wrong gap"),
        *_all(UNKNOWN, "seized", "lock missing"),
    ),
    Kind.BRAKE_RIGGING: (
        *_all(OFF, "split pin or cotter missing", "hanger cracked"),
        *_all(OFF, "pin or bush worn"),
        *_all(ON, "seized"),
        *_all(NONE, "safety strap missing"),
    ),
    Kind.BRAKE_BLOCKS: (
        *_all(OFF, "thin", "cracked", "key missing", "wrong material"),
        *_all(UNKNOWN, "riding over", "metal picked up"),
    ),
    Kind.HANDBRAKE: (
        *_all(OFF, "slips", "does not hold", "chain or rod wrong"),
        *_all(UNKNOWN, "stiff"),
        *_all(NONE, "indicator wrong"),
    ),
}

# What is seen of a vehicle before anyone knows which item it is.
OF_A_VEHICLE: tuple[Symptom, ...] = (
    *_all(ON, "brake drags", "wheel hot", "does not release", "slow to release"),
    *_all(OFF, "does not apply", "slow to apply", "does not hold"),
    *_all(OFF, "handbrake poor, stiff or slipping"),
    *_all(ON, "brake pipe leaks", "train pipe leaks (vacuum)"),
    *_all(UNKNOWN, "a cock was found in the wrong position"),
    *_all(UNKNOWN, "struck an object, derailed or roughly shunted"),
)

# A kind that can only be one thing says its scope where no position does.
SCOPE_OF: dict[Kind, Scope] = {
    Kind.BP_HOSE: Scope.BRAKE_PIPE,
    Kind.BP_END_COCK: Scope.BRAKE_PIPE,
    Kind.MR_HOSE: Scope.MAIN_RESERVOIR_PIPE,
    Kind.MR_END_COCK: Scope.MAIN_RESERVOIR_PIPE,
    Kind.DISTRIBUTOR: Scope.AIR_BRAKE,
    Kind.TRIPLE_VALVE: Scope.AIR_BRAKE,
    Kind.BRAKE_CYLINDER: Scope.AIR_BRAKE,
    Kind.AUXILIARY_RESERVOIR: Scope.AIR_BRAKE,
    Kind.CONTROL_RESERVOIR: Scope.AIR_BRAKE,
    Kind.VACUUM_HOSE: Scope.VACUUM_TRAIN_PIPE,
    Kind.SWAN_NECK: Scope.VACUUM_TRAIN_PIPE,
    Kind.VACUUM_CYLINDER: Scope.VACUUM_BRAKE,
    Kind.DA_VALVE: Scope.VACUUM_BRAKE,
    Kind.SLACK_ADJUSTER: Scope.SHARED_GEAR,
    Kind.BRAKE_RIGGING: Scope.SHARED_GEAR,
    Kind.BRAKE_BLOCKS: Scope.SHARED_GEAR,
    Kind.HANDBRAKE: Scope.HAND_BRAKE,
}


def symptoms_of(kind: str) -> tuple[Symptom, ...]:
    """Return the usual failures of a kind; of the vehicle for no kind."""
    return SYMPTOMS.get(Kind(kind), ()) if kind else OF_A_VEHICLE
