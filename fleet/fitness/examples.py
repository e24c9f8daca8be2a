"""Sound vehicles and a small practice no rule objects to, for the rules' examples. Pure."""

import datetime as dt
from dataclasses import replace
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.fitness.facts import (
    Conditions,
    EquipmentFact,
    FittedFact,
    MatrixFact,
    Particulars,
    Policy,
    PositionFact,
    RequirementFact,
    StateFact,
    TestFact,
    TypeRevisionFact,
    UsageFact,
    VehicleFile,
)
from fleet.fitness.rulebook import Example
from fleet.register.vocabulary import (
    CockPosition,
    Effect,
    EquipmentKind,
    EquipmentState,
    Fitment,
    MainReservoirPipe,
    Scope,
    VehicleStatus,
)
from fleet.upkeep.vocabulary import Change, CountedFrom, Subject

DAY = dt.date(2026, 6, 1)  # the day every example is looked at
ENTERED = dt.date(2020, 1, 1)
MADE = dt.date(2019, 11, 4)
TESTED = dt.date(2026, 1, 10)
AIR_TEST, VACUUM_TEST, OVERHAUL = "AIR", "VAC", "DIST-OH"

HOSE = PositionFact(
    "bp_hose_1",
    "brake pipe hose, No. 1 end",
    EquipmentKind.BP_HOSE,
    Scope.BRAKE_PIPE,
    effect_missing=Effect.STOP,
    bore_mm=32,
)
COCK = PositionFact(
    "bp_cock_1",
    "brake pipe end cock, No. 1 end",
    EquipmentKind.BP_END_COCK,
    Scope.BRAKE_PIPE,
    effect_missing=Effect.STOP,
    normal=CockPosition.CLOSED,
)
DISTRIBUTOR = PositionFact(
    "distributor",
    "distributor",
    EquipmentKind.DISTRIBUTOR,
    Scope.AIR_BRAKE,
    group="D1",
)
RESERVOIR = PositionFact(
    "auxiliary_reservoir",
    "auxiliary reservoir",
    EquipmentKind.AUXILIARY_RESERVOIR,
    Scope.AIR_BRAKE,
    min_pressure_bar=7.0,
)
BAG = PositionFact(
    "vacuum_hose_1",
    "vacuum hose, No. 1 end",
    EquipmentKind.VACUUM_HOSE,
    Scope.VACUUM_TRAIN_PIPE,
    effect_missing=Effect.STOP,
)
CYLINDER = PositionFact(
    "vacuum_cylinder",
    "vacuum cylinder",
    EquipmentKind.VACUUM_CYLINDER,
    Scope.VACUUM_BRAKE,
)
RIGGING = PositionFact(
    "rigging", "brake rigging", EquipmentKind.BRAKE_RIGGING, Scope.SHARED_GEAR
)
AIR_POSITIONS = (HOSE, COCK, DISTRIBUTOR, RESERVOIR, RIGGING)
VACUUM_POSITIONS = (BAG, CYLINDER, RIGGING)
DUAL_POSITIONS = (HOSE, COCK, DISTRIBUTOR, RESERVOIR, BAG, CYLINDER, RIGGING)

_SOURCE = "example practice"


def requirement(code: str, **changes: Any) -> RequirementFact:
    """Return a requirement in force since the vehicle entered, with changes."""
    plain = RequirementFact(
        code,
        revision=1,
        title=code,
        subject=Subject.VEHICLE,
        since=ENTERED,
        until=None,
        source=_SOURCE,
        effect=Effect.DISCOUNT,
        scope=Scope.AIR_BRAKE,
    )
    return replace(plain, **changes)


def matrix(change: Change, procedure: str, **changes: Any) -> MatrixFact:
    """Return a line of the change → test matrix in force since the vehicle entered."""
    plain = MatrixFact(
        f"{change}-{procedure}",
        revision=1,
        change=change,
        since=ENTERED,
        until=None,
        source=_SOURCE,
        procedures=(procedure,),
        effect=Effect.DISCOUNT,
        scope=None,
    )
    return replace(plain, **changes)


AIR_YEARLY = requirement(
    "AIR-12",
    title="Air brake test",
    subject=Subject.AIR_PIPED,
    procedure=AIR_TEST,
    months=12,
)
VACUUM_YEARLY = requirement(
    "VAC-12",
    title="Vacuum brake test",
    subject=Subject.VACUUM_PIPED,
    scope=Scope.VACUUM_BRAKE,
    procedure=VACUUM_TEST,
    months=12,
)
DISTRIBUTOR_OVERHAUL = requirement(
    "DIST-96",
    title="Distributor overhaul",
    subject=Subject.EQUIPMENT,
    kind=EquipmentKind.DISTRIBUTOR,
    procedure=OVERHAUL,
    counted_from=CountedFrom.MADE,
    months=96,
)
HOSE_AGE = requirement(
    "HOSE-96",
    title="Brake pipe hose age",
    subject=Subject.EQUIPMENT,
    kind=EquipmentKind.BP_HOSE,
    counted_from=CountedFrom.MADE,
    scope=Scope.BRAKE_PIPE,
    effect=Effect.STOP,
    months=96,
)
CONDITIONS = Conditions(since=ENTERED, until=None, revision=1, source=_SOURCE)
MATRIX = (
    matrix(Change.FITTED, AIR_TEST, kind=EquipmentKind.DISTRIBUTOR),
    matrix(Change.FITTED, AIR_TEST, kind=EquipmentKind.BP_HOSE, effect=Effect.STOP),
    matrix(Change.FITTED, VACUUM_TEST, kind=EquipmentKind.VACUUM_CYLINDER),
    matrix(Change.ISOLATION_ENDED, AIR_TEST),
    matrix(Change.STORAGE_ENDED, AIR_TEST),
    matrix(Change.ARRIVED, AIR_TEST),
    matrix(Change.WORK_RELEASED, AIR_TEST),
)
PROCEDURES = {
    AIR_TEST: "Single-vehicle air brake test",
    VACUUM_TEST: "Single-vehicle vacuum brake test",
    OVERHAUL: "Distributor overhaul and bench test",
}


def policy(*requirements: RequirementFact, **changes: Any) -> Policy:
    """Return general conditions and procedures, with the requirements given."""
    plain = Policy(requirements, (), (CONDITIONS,), PROCEDURES)
    return replace(plain, **changes)


PRACTICE = policy(
    AIR_YEARLY, VACUUM_YEARLY, DISTRIBUTOR_OVERHAUL, HOSE_AGE, matrix=MATRIX
)


def item(number: int, position: PositionFact, **changes: Any) -> EquipmentFact:
    """Return a serviceable item made to suit a position."""
    plain = EquipmentFact(
        number,
        position.kind,
        serial=f"E{number}",
        made=Moment.on(MADE),
        states=(StateFact(Moment.on(MADE), None, EquipmentState.SERVICEABLE),),
        group=position.group,
        bore_mm=position.bore_mm,
        pressure_bar=position.min_pressure_bar,
    )
    return replace(plain, **changes)


def fitted(
    position: PositionFact, equipment: int, since: dt.date, until: dt.date | None = None
) -> FittedFact:
    """Return the fitting of an item, its key that of the item."""
    ends = Moment.on(until) if until else None
    return FittedFact(equipment, position.code, equipment, Moment.on(since), ends)


def particulars(**changes: Any) -> Particulars:
    """Return the particulars of an air-braked coach in traffic, with changes."""
    plain = Particulars(
        Moment.on(ENTERED),
        None,
        number="T 107",
        type_code="COACH",
        air=Fitment.BRAKED,
        vacuum=Fitment.NONE,
        main_reservoir_pipe=MainReservoirPipe.NONE,
        hand_brake=True,
        status=VehicleStatus.IN_TRAFFIC,
    )
    return replace(plain, **changes)


def passed(number: int, procedure: str, on: dt.date, **changes: Any) -> TestFact:
    """Return a passed test of the vehicle."""
    return replace(TestFact(number, procedure, Moment.on(on), passed=True), **changes)


def _file(
    positions: tuple[PositionFact, ...], procedures: tuple[str, ...], **fitment: Any
) -> VehicleFile:
    days = [ENTERED + dt.timedelta(days=1), *(TESTED.replace(year=y) for y in _YEARS)]
    each = [(procedure, day) for procedure in procedures for day in days]
    return VehicleFile(
        id=107,
        particulars=(particulars(**fitment),),
        types={"COACH": (TypeRevisionFact(ENTERED, None, 1, positions),)},
        fitted=tuple(fitted(p, n, ENTERED) for n, p in enumerate(positions, 1)),
        equipment={n: item(n, p) for n, p in enumerate(positions, 1)},
        tests=tuple(passed(n, code, day) for n, (code, day) in enumerate(each, 1)),
        usage=(*_LOGS, UsageFact(dt.date(2026, 1, 1), days_ago(12), 1_400.0, 50)),
    )


def days_ago(days: int) -> dt.date:
    """Return the day that many days before the day of the examples."""
    return DAY - dt.timedelta(days=days)


_YEARS = range(2021, 2027)
_LOGS = tuple(
    UsageFact(dt.date(year, 1, 1), dt.date(year, 12, 31), 3_650.0, 120)
    for year in range(2020, 2026)
)
SOUND_AIR = _file(AIR_POSITIONS, (AIR_TEST,))
SOUND_VACUUM = _file(
    VACUUM_POSITIONS, (VACUUM_TEST,), air=Fitment.NONE, vacuum=Fitment.BRAKED
)
SOUND_DUAL = _file(DUAL_POSITIONS, (AIR_TEST, VACUUM_TEST), vacuum=Fitment.BRAKED)


def sound(policy: Policy = PRACTICE, **facts: Any) -> Example:
    """Return the sound air-braked coach with facts added, as an example."""
    return Example(SOUND_AIR.with_(**facts), policy, DAY)


def changed(policy: Policy = PRACTICE, **facts: Any) -> Example:
    """Return the sound air-braked coach with facts put in place of its own."""
    return Example(replace(SOUND_AIR, **facts), policy, DAY)
