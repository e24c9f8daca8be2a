"""The trade's words the whole register shares: kinds, scopes, effects, levels. Pure."""

from enum import IntEnum, StrEnum
from typing import Self

from fleet.engineering.vessels import Head


class Word(StrEnum):
    """A code word with the words screens and papers show for it."""

    label: str

    # The label has a default so that looking a word up by its value type-checks.
    def __new__(cls, value: str, label: str = "") -> Self:
        member = str.__new__(cls, value)
        member._value_ = value
        member.label = label
        return member

    @classmethod
    def choices(cls) -> list[tuple[str, str]]:
        """Return pairs for a model or form field."""
        return [(member.value, member.label) for member in cls]


class System(Word):
    """A brake system; brake status is held for each."""

    AIR = "air", "Air"
    VACUUM = "vacuum", "Vacuum"

    @property
    def other(self) -> "System":
        """Return the other system of a dual-braked vehicle."""
        return System.VACUUM if self is System.AIR else System.AIR


class Fitment(Word):
    """How a vehicle is equipped for one brake system."""

    NONE = "none", "Not fitted"
    PIPED = "piped", "Piped only"
    BRAKED = "braked", "Working"


class MainReservoirPipe(Word):
    """What the main reservoir pipe does on a vehicle."""

    NONE = "none", "None"
    THROUGH = "through", "Through only"
    FEEDING = "feeding", "Feeding the reservoirs"


def arrangement_words(air: str, vacuum: str, main_reservoir_pipe: str) -> str:
    """Return a brake arrangement in words: "Two-pipe air brake, vacuum piped only"."""
    parts = []
    if air != Fitment.NONE:
        two = main_reservoir_pipe != MainReservoirPipe.NONE
        pipes = "two-pipe" if two else "one-pipe"
        braked = air == Fitment.BRAKED
        parts.append(f"{pipes} air brake" if braked else f"air piped only, {pipes}")
        if main_reservoir_pipe == MainReservoirPipe.THROUGH and braked:
            parts.append("main reservoir pipe through only")
    if vacuum != Fitment.NONE:
        braked = vacuum == Fitment.BRAKED
        parts.append("vacuum brake" if braked else "vacuum piped only")
    text = ", ".join(parts)
    return text[:1].upper() + text[1:] if text else "No continuous brake"


class Timing(Word):
    """Brake timing of a distributor or a vehicle."""

    NONE = "", "Not stated"
    PASSENGER = "passenger", "Passenger"
    GOODS = "goods", "Goods"
    CHANGEOVER = "changeover", "Passenger/goods changeover"


class VehicleStatus(Word):
    """Standing of a vehicle in the fleet, apart from its brake status."""

    NOT_ACCEPTED = "not_accepted", "Not yet accepted"
    IN_TRAFFIC = "in_traffic", "In traffic"
    STORED = "stored", "Stored"
    WITHDRAWN = "withdrawn", "Withdrawn"
    VISITING = "visiting", "Visiting"


class Scope(Word):
    """The part of the vehicle a finding bears on."""

    BRAKE_PIPE = "brake_pipe", "Brake pipe"
    MAIN_RESERVOIR_PIPE = "main_reservoir_pipe", "Main reservoir pipe"
    AIR_BRAKE = "air_brake", "Air brake"
    VACUUM_TRAIN_PIPE = "vacuum_train_pipe", "Vacuum train pipe"
    VACUUM_BRAKE = "vacuum_brake", "Vacuum brake"
    SHARED_GEAR = "shared_gear", "Shared gear"
    HAND_BRAKE = "hand_brake", "Handbrake"
    VEHICLE = "vehicle", "Vehicle"

    @property
    def systems(self) -> tuple[System, ...]:
        """Return the brake systems a finding of this scope bears on."""
        return _SYSTEMS[self]

    @property
    def through_pipe(self) -> bool:
        """Say whether this is a pipe that runs through the train."""
        return self in _THROUGH


_BOTH = (System.AIR, System.VACUUM)
_SYSTEMS = {
    Scope.BRAKE_PIPE: (System.AIR,),
    Scope.MAIN_RESERVOIR_PIPE: (System.AIR,),
    Scope.AIR_BRAKE: (System.AIR,),
    Scope.VACUUM_TRAIN_PIPE: (System.VACUUM,),
    Scope.VACUUM_BRAKE: (System.VACUUM,),
    Scope.SHARED_GEAR: _BOTH,
    Scope.HAND_BRAKE: _BOTH,
    Scope.VEHICLE: _BOTH,
}
_THROUGH = {Scope.BRAKE_PIPE, Scope.MAIN_RESERVOIR_PIPE, Scope.VACUUM_TRAIN_PIPE}


class Effect(Word):
    """What a finding does to the level; in rising order of weight."""

    ADVISE = "advise", "Advice"
    CONDITION = "condition", "Condition"
    DISCOUNT = "discount", "Not counted as braked"
    ISOLATE = "isolate", "Brake to be isolated"
    STOP = "stop", "Not to run"

    @property
    def weight(self) -> int:
        """Return the rank, 0 for advice to 4 for not to run."""
        return list(Effect).index(self)


class Level(IntEnum):
    """Brake status of a vehicle for one system; a higher number may do more."""

    STOPPED = 0
    PIPED = 1
    CONDITIONAL = 2
    BRAKED = 3

    @property
    def label(self) -> str:
        """Return the words for screens and papers; see `level_words` for STOPPED."""
        return _LEVEL_LABELS[self]

    @property
    def code(self) -> str:
        """Return the code word for exports and style names."""
        return self.name.lower()


_LEVEL_LABELS = {
    Level.STOPPED: "Not to run",
    Level.PIPED: "Convey as piped",
    Level.CONDITIONAL: "Fit braked, with conditions",
    Level.BRAKED: "Fit to run braked",
}


def level_words(level: Level, system: System, *, whole_vehicle: bool = False) -> str:
    """Return what is shown for a level: a stop names the train it holds for."""
    if level is not Level.STOPPED or whole_vehicle:
        return level.label
    return (
        "Not to run in an air train"
        if system is System.AIR
        else "Not to run in a vacuum train"
    )


class EquipmentKind(Word):
    """What an item of equipment is."""

    DISTRIBUTOR = "distributor", "Distributor"
    TRIPLE_VALVE = "triple_valve", "Triple valve"
    RELAY_VALVE = "relay_valve", "Relay valve"
    AUXILIARY_RESERVOIR = "auxiliary_reservoir", "Auxiliary reservoir"
    CONTROL_RESERVOIR = "control_reservoir", "Control reservoir"
    EQUIPMENT_RESERVOIR = "equipment_reservoir", "Equipment reservoir"
    MAIN_RESERVOIR = "main_reservoir", "Main reservoir"
    BRAKE_CYLINDER = "brake_cylinder", "Brake cylinder"
    BP_HOSE = "bp_hose", "Brake pipe hose"
    MR_HOSE = "mr_hose", "Main reservoir hose"
    BP_END_COCK = "bp_end_cock", "Brake pipe end cock"
    MR_END_COCK = "mr_end_cock", "Main reservoir end cock"
    DISTRIBUTOR_ISOLATING_COCK = (
        "distributor_isolating_cock",
        "Distributor isolating cock",
    )
    MR_ISOLATING_COCK = "mr_isolating_cock", "Main reservoir isolating cock"
    CYLINDER_ISOLATING_COCK = "cylinder_isolating_cock", "Cylinder isolating cock"
    DIRT_COLLECTOR = "dirt_collector", "Dirt collector"
    CHECK_VALVE = "check_valve", "Check valve, strainer and choke"
    RELEASE_VALVE = "release_valve", "Release valve"
    DRAIN_COCK = "drain_cock", "Drain cock"
    GAUGE = "gauge", "Gauge"
    GUARDS_VALVE = "guards_valve", "Guard's valve"
    PASSENGER_ALARM = "passenger_alarm", "Passenger communication"
    EMPTY_LOAD_GEAR = "empty_load_gear", "Empty/load gear"
    VACUUM_HOSE = "vacuum_hose", "Vacuum hose"
    VACUUM_DUMMY = "vacuum_dummy", "Dummy"
    SWAN_NECK = "swan_neck", "Swan neck"
    DRIP_TRAP = "drip_trap", "Drip trap"
    VACUUM_CYLINDER = "vacuum_cylinder", "Vacuum cylinder"
    VACUUM_RESERVOIR = "vacuum_reservoir", "Vacuum reservoir"
    VACUUM_RELEASE_VALVE = "vacuum_release_valve", "Vacuum release valve"
    DA_VALVE = "da_valve", "Direct-admission valve"
    CHANGEOVER = "changeover", "Air/vacuum changeover"
    SLACK_ADJUSTER = "slack_adjuster", "Slack adjuster"
    BRAKE_RIGGING = "brake_rigging", "Brake rigging"
    BRAKE_BLOCKS = "brake_block", "Brake blocks (set)"
    HANDBRAKE = "handbrake", "Handbrake"


HOSES = frozenset(
    {EquipmentKind.BP_HOSE, EquipmentKind.MR_HOSE, EquipmentKind.VACUUM_HOSE}
)
RESERVOIRS = frozenset(
    {
        EquipmentKind.AUXILIARY_RESERVOIR,
        EquipmentKind.CONTROL_RESERVOIR,
        EquipmentKind.EQUIPMENT_RESERVOIR,
        EquipmentKind.MAIN_RESERVOIR,
        EquipmentKind.VACUUM_RESERVOIR,
    }
)
COCKS = frozenset(
    {
        EquipmentKind.BP_END_COCK,
        EquipmentKind.MR_END_COCK,
        EquipmentKind.DISTRIBUTOR_ISOLATING_COCK,
        EquipmentKind.MR_ISOLATING_COCK,
        EquipmentKind.CYLINDER_ISOLATING_COCK,
    }
)
ISOLATING_COCKS = COCKS - {EquipmentKind.BP_END_COCK, EquipmentKind.MR_END_COCK}

# Words people type for a kind, beside its label (shared vocabulary of the trade).
SYNONYMS: dict[EquipmentKind, tuple[str, ...]] = {
    EquipmentKind.DISTRIBUTOR: ("control valve", "dv"),
    EquipmentKind.AUXILIARY_RESERVOIR: ("aux res", "ar"),
    EquipmentKind.CONTROL_RESERVOIR: ("cr",),
    EquipmentKind.BRAKE_CYLINDER: ("pot",),
    EquipmentKind.VACUUM_CYLINDER: ("vac pot", "pot"),
    EquipmentKind.BP_HOSE: ("bp hose", "glad-hand", "palm end", "hose coupling"),
    EquipmentKind.MR_HOSE: ("mr hose", "mrp hose", "feed hose", "hose coupling"),
    EquipmentKind.BP_END_COCK: ("angle cock", "coupling cock", "bpic"),
    EquipmentKind.MR_END_COCK: ("angle cock", "coupling cock"),
    EquipmentKind.DISTRIBUTOR_ISOLATING_COCK: ("cut-out cock", "shut-off"),
    EquipmentKind.MR_ISOLATING_COCK: ("cut-out cock", "shut-off"),
    EquipmentKind.CYLINDER_ISOLATING_COCK: ("cut-out cock", "shut-off"),
    EquipmentKind.CHECK_VALVE: ("non-return valve",),
    EquipmentKind.RELEASE_VALVE: ("release cord", "string"),
    EquipmentKind.VACUUM_RELEASE_VALVE: ("ball valve", "string", "release cord"),
    EquipmentKind.VACUUM_HOSE: ("bag",),
    EquipmentKind.VACUUM_DUMMY: ("stop", "plug"),
    EquipmentKind.SWAN_NECK: ("standpipe",),
    EquipmentKind.DA_VALVE: ("accelerator", "rapid-acting"),
    EquipmentKind.SLACK_ADJUSTER: ("regulator",),
    EquipmentKind.BRAKE_BLOCKS: ("shoe", "block"),
    EquipmentKind.HANDBRAKE: ("parking brake", "screw brake"),
    EquipmentKind.PASSENGER_ALARM: ("cord", "chain", "pca", "alarm handle"),
}


SHORTEST_PART = 3  # letters of a word that may be found within another


class EquipmentState(Word):
    """Standing of an item of equipment."""

    SERVICEABLE = "serviceable", "Serviceable"
    UNSERVICEABLE = "unserviceable", "Unserviceable"
    QUARANTINED = "quarantined", "Quarantined"
    AT_CONTRACTOR = "at_contractor", "At contractor"
    SCRAPPED = "scrapped", "Scrapped"


class DiameterAt(Word):
    """Where the diameter of a vessel is measured."""

    NONE = "", "Not stated"
    INSIDE = "inside", "Inside"
    OUTSIDE = "outside", "Outside"


class VesselEnd(Word):
    """The shape of a vessel's dished ends; the formulas of engineering go by it."""

    NONE = "", "Not stated"
    HEMISPHERE = "hemisphere", "Hemisphere"
    ELLIPSE = "ellipse", "Ellipse 2:1"
    TORISPHERE = "torisphere", "Dished and flanged, knuckle 6 % of the crown"


def head_of(end_shape: str) -> Head | None:
    """Return the shape of an end as the formulas name it; None where not stated."""
    return Head[end_shape.upper()] if end_shape else None


class CockPosition(Word):
    """Position of a cock's handle."""

    NONE = "", "Not a cock"
    OPEN = "open", "Open"
    CLOSED = "closed", "Closed"


def kinds_called(words: str) -> set[EquipmentKind]:
    """
    Return the kinds people mean by a word: by label, or by a synonym of the trade.

    Case, hyphens and a plural "s" do not matter; a word of fewer than three letters
    must be the whole of a synonym ("ar"), or it would be found everywhere.
    """
    wanted = _plain(words)
    if not wanted:
        return set()
    return {kind for kind in EquipmentKind if _is_called(kind, wanted)}


def _is_called(kind: EquipmentKind, wanted: str) -> bool:
    names = {_plain(name) for name in (kind.label, *SYNONYMS.get(kind, ()))}
    singular = wanted.removesuffix("s")
    if wanted in names or singular in names:
        return True
    return len(singular) >= SHORTEST_PART and any(singular in name for name in names)


def _plain(words: str) -> str:
    return " ".join(words.lower().replace("-", " ").split())
