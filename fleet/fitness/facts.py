"""
What the rules know: one immutable file for each vehicle, and the operator's policy.

Plain data, no Django and no clock. Every fact carries the moments it held from and to;
intervals are half-open. `VehicleFile.with_` adds hypothetical facts.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple, Self

from fleet.defects.vocabulary import Brake
from fleet.engineering.calendar import Moment
from fleet.engineering.figures import Figures
from fleet.fitness.outside_facts import NoticeFact, VisitFact, WrongCockFact
from fleet.register.vocabulary import (
    CockPosition,
    Effect,
    EquipmentKind,
    EquipmentState,
    Fitment,
    MainReservoirPipe,
    Scope,
    System,
    VehicleStatus,
)
from fleet.upkeep.conceding import Checked
from fleet.upkeep.vocabulary import HAND_BRAKE_OUT, Change, CountedFrom, Subject


@dataclass(frozen=True, slots=True)
class Particulars:
    """A vehicle's arrangement and standing over one interval."""

    since: Moment
    until: Moment | None
    number: str
    type_code: str
    air: Fitment
    vacuum: Fitment
    main_reservoir_pipe: MainReservoirPipe
    hand_brake: bool
    status: VehicleStatus
    depot: str = ""

    def fitment(self, system: System) -> Fitment:
        """Return how the vehicle is equipped for a system."""
        return self.air if system is System.AIR else self.vacuum


@dataclass(frozen=True, slots=True)
class PositionFact:
    """A place on a type of vehicle where an item of equipment sits."""

    code: str
    label: str
    kind: EquipmentKind
    scope: Scope
    mandatory: bool = True
    effect_missing: Effect = Effect.ISOLATE
    normal: CockPosition = CockPosition.NONE
    group: str = ""  # interchangeability group an item must carry; "" accepts any
    bore_mm: int | None = None
    min_pressure_bar: float | None = None


@dataclass(frozen=True, slots=True)
class TypeRevisionFact:
    """The positions of a vehicle type while one revision of it was in force."""

    since: dt.date
    until: dt.date | None
    number: int
    positions: tuple[PositionFact, ...]
    figures: tuple[tuple[System, Figures], ...] = ()


@dataclass(frozen=True, slots=True)
class StateFact:
    """Standing of an item over one interval."""

    since: Moment
    until: Moment | None
    state: EquipmentState


@dataclass(frozen=True, slots=True)
class EquipmentFact:
    """An item of equipment, wherever it has been."""

    id: int
    kind: EquipmentKind
    serial: str
    made: Moment
    states: tuple[StateFact, ...]
    designation: str = ""
    group: str = ""
    bore_mm: int | None = None
    pressure_bar: float | None = None
    usage: tuple[
        "UsageFact", ...
    ] = ()  # of every vehicle that carried it, while it did
    surveys: tuple["SurveyFact", ...] = ()  # of its thickness, in order
    minimum_thickness_mm: float | None = None  # by drawing or plate, else by formula
    minimum_basis: str = "by drawing or plate"  # or the formula; or why there is none


@dataclass(frozen=True, slots=True)
class FittedFact:
    """An item on the vehicle, in a position, over one interval."""

    id: int
    position: str
    equipment: int
    since: Moment
    until: Moment | None


@dataclass(frozen=True, slots=True)
class FailedLine:
    """A line of a test that was not met, and what that does."""

    text: str
    scope: Scope
    effect: Effect
    found: str  # reading and limit in words: "28 s, limit 15 to 20 s"


class SurveyFact(NamedTuple):
    """A thickness survey of an item: each point, its mm, and within how much, mm."""

    on: Moment
    procedure: str
    test: int
    points: tuple[tuple[str, float, float], ...]


class Doubt(NamedTuple):
    """An instrument of a test that was not to be trusted that day, and why, in words."""

    instrument: int
    words: str  # "Gauge TG-4 was out of calibration, last good day 3 May 2026"


@dataclass(frozen=True, slots=True)
class TestFact:
    """
    A signed test record; `equipment` is None where the vehicle itself was tested.

    `passed` is true only where every line was answered and met. `doubts` are its
    instruments out of calibration that day: passed, it does not count. `lacking` names
    the competence whoever did it had not that day, `signed` the counter-signature.
    """

    __test__ = False  # not a pytest class

    id: int
    procedure: str
    on: Moment
    passed: bool
    equipment: int | None = None
    revision: int = 1
    failed: tuple[FailedLine, ...] = ()
    unanswered: int = 0
    doubts: tuple[Doubt, ...] = ()
    lacking: str = ""
    signed: Moment | None = None
    measures: tuple[tuple[str, float], ...] = ()  # what brake force follows from

    @property
    def counts(self) -> bool:
        """Say whether it can be relied on as passed."""
        return self.passed and not self.doubts


@dataclass(frozen=True, slots=True)
class DefectStepFact:
    """One step in the life of a defect; scope and effect stand from an assessment on."""

    on: Moment
    step: str  # fleet.defects.vocabulary.Step value
    scope: Scope
    effect: Effect
    condition: str = ""
    lacking: str = ""  # the competence whoever took it had not that day, in words
    signed: Moment | None = None  # counter-signed for


@dataclass(frozen=True, slots=True)
class DefectFact:
    """A defect ticket of the vehicle, or of an item it carried; steps in order."""

    id: int
    title: str
    equipment: int | None
    position: str
    steps: tuple[DefectStepFact, ...]


@dataclass(frozen=True, slots=True)
class IsolationFact:
    """A brake isolation over one interval in which its record did not change."""

    id: int
    brake: Brake
    since: Moment
    until: Moment | None
    whole: bool  # False: part of the brake cut out, the rest works
    complete: bool
    condition: str = ""
    ends: bool = (
        False  # `until` is the restoring, not merely the next state of the record
    )
    secured: str = ""  # what held the vehicle as its handbrake was taken out of use


@dataclass(frozen=True, slots=True)
class WorkFact:
    """Work in hand; `until` is the signed release to traffic, `lacking` as in a step."""

    id: int
    what: str
    since: Moment
    until: Moment | None
    lacking: str = ""
    signed: Moment | None = None


@dataclass(frozen=True, slots=True)
class StorageFact:
    """A period out of use."""

    since: Moment
    until: Moment | None
    id: int = 0


@dataclass(frozen=True, slots=True)
class ConcessionFact:
    """
    One grant of a concession, from `since` up to `until`.

    It is leave to overrun a requirement, or to run with a defect, at most `ceiling_days`
    beyond the last good day, under a condition, while its re-checks are made.
    """

    id: int
    renewal: int
    requirement: str  # its code; "" where it is for a defect
    defect: int | None
    equipment: int | None  # None: the vehicle itself
    since: dt.date
    until: dt.date
    ceiling_days: int
    condition: str
    recheck_days: int
    checks: tuple[Checked, ...] = ()


class UsageFact(NamedTuple):
    """
    Miles run and days in service from `first` to `last`, both days included.

    A named tuple, because there are more of these than of all else and a frozen
    dataclass takes twice the time to make.
    """

    first: dt.date
    last: dt.date
    miles: float
    days: int


@dataclass(frozen=True, slots=True)
class VehicleFile:
    """Everything recorded that bears on one vehicle's brake status."""

    id: int
    particulars: tuple[Particulars, ...]  # in order of time
    types: Mapping[str, tuple[TypeRevisionFact, ...]] = field(default_factory=dict)
    fitted: tuple[FittedFact, ...] = ()
    equipment: Mapping[int, EquipmentFact] = field(default_factory=dict)
    tests: tuple[TestFact, ...] = ()  # of the vehicle and of its items, in order
    defects: tuple[DefectFact, ...] = ()
    isolations: tuple[IsolationFact, ...] = ()
    work: tuple[WorkFact, ...] = ()
    storage: tuple[StorageFact, ...] = ()
    visits: tuple[VisitFact, ...] = ()
    notices: tuple[NoticeFact, ...] = ()
    wrong_cocks: tuple[WrongCockFact, ...] = ()
    usage: tuple[UsageFact, ...] = ()  # in order, not overlapping
    concessions: tuple[ConcessionFact, ...] = ()

    def with_(self, **facts: Any) -> Self:
        """Return the file with facts added: sequences are extended, mappings joined."""
        changes: dict[str, Any] = {}
        for name, more in facts.items():
            now = getattr(self, name)
            changes[name] = {**now, **more} if isinstance(now, dict) else (*now, *more)
        return replace(self, **changes)


@dataclass(frozen=True, slots=True)
class RequirementFact:
    """One revision of a requirement, in force from `since` up to `until`."""

    code: str
    revision: int
    title: str
    subject: Subject
    since: dt.date
    until: dt.date | None
    source: str
    effect: Effect
    scope: Scope
    counted_from: CountedFrom = CountedFrom.LAST_DONE
    kind: EquipmentKind | None = None  # for Subject.EQUIPMENT
    designation: str = ""  # narrows the kind to one type designation
    procedure: str = ""  # "" for an age limit: only renewal meets it
    months: int | None = None
    calendar_days: int | None = None
    days_in_service: int | None = None
    miles: float | None = None
    tolerance_days: int = 0
    storage_credit_days: int | None = None  # out of use so long, the months stand still
    clears: str = ""
    condition: str = ""  # as train crew should read it


@dataclass(frozen=True, slots=True)
class MatrixFact:
    """
    A line of the change → test matrix: after this change, any one of these tests.

    Several lines add up; a line whose scope the vehicle lacks does not apply.
    """

    code: str
    revision: int
    change: Change
    since: dt.date
    until: dt.date | None
    source: str
    procedures: tuple[str, ...]
    effect: Effect
    scope: Scope | None  # None: the scope of the position or system changed
    kind: EquipmentKind | None = None  # for Change.FITTED; None takes any kind
    condition: str = ""  # as train crew should read it


@dataclass(frozen=True, slots=True)
class Conditions:
    """One revision of the operator's general conditions."""

    since: dt.date
    until: dt.date | None
    revision: int
    source: str
    usage_silent_days: int = 60
    usage_silent_effect: Effect = Effect.ADVISE
    usage_window_days: int = 365
    discount_needs_isolation: bool = False
    unassessed_effect: Effect = Effect.ISOLATE
    uncertified_effect: Effect = Effect.ADVISE  # tested without competence, unsigned
    force_fall_percent: int = 10  # by which a fall of brake force asks why
    force_fall_effect: Effect = Effect.ADVISE
    hand_brake_out_effect: Effect = Effect.CONDITION
    hand_brake_out_condition: str = HAND_BRAKE_OUT
    storage_days_needing_tests: int = 0  # out of use for longer, tested on return
    visiting_condition: str = "Visiting: on its owner's regime."
    air_dead_words: str = (
        "air brake vented and released, hoses stowed, changeover set to vacuum"
    )
    vacuum_dead_words: str = (
        "vacuum released by the cords, hoses on their dummies, changeover set to air"
    )


@dataclass(frozen=True, slots=True)
class Policy:
    """Every requirement, limit and condition of the operator, with its dates."""

    requirements: tuple[RequirementFact, ...] = ()
    matrix: tuple[MatrixFact, ...] = ()
    conditions: tuple[Conditions, ...] = ()
    procedures: Mapping[str, str] = field(default_factory=dict)  # code -> title
    revision: int = 0  # number of the newest entry that touched it
