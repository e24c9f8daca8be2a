"""Hypothesis strategies: moments, facts and whole files, sensible and odd."""

import datetime as dt
from dataclasses import replace

from hypothesis import strategies as st

from fleet.defects.vocabulary import Brake
from fleet.engineering.calendar import Moment, bounds
from fleet.fitness import examples
from fleet.fitness.facts import (
    ConcessionFact,
    Conditions,
    DefectFact,
    DefectStepFact,
    Doubt,
    EquipmentFact,
    FailedLine,
    FittedFact,
    IsolationFact,
    MatrixFact,
    Particulars,
    Policy,
    RequirementFact,
    StateFact,
    StorageFact,
    TestFact,
    TypeRevisionFact,
    UsageFact,
    VehicleFile,
    WorkFact,
)
from fleet.fitness.findings import Finding
from fleet.register.vocabulary import (
    Effect,
    EquipmentState,
    Fitment,
    MainReservoirPipe,
    Scope,
    VehicleStatus,
)
from fleet.upkeep.conceding import Checked
from fleet.upkeep.vocabulary import Change, CountedFrom, Subject

DAYS = st.dates(dt.date(2018, 1, 1), dt.date(2028, 12, 31))
POSITIONS = examples.DUAL_POSITIONS
PROCEDURES = st.sampled_from(
    [examples.AIR_TEST, examples.VACUUM_TEST, examples.OVERHAUL, ""]
)
STEPS = st.sampled_from(
    ["raised", "assessed", "in_hand", "done", "tested", "released", "no_fault"]
)
IMPRECISE = st.builds(
    lambda year, tail: Moment(*bounds(f"{year}{tail}")),
    st.integers(2018, 2028),
    st.sampled_from(["", "-Q2", "-05"]),
)
TIMED = st.builds(
    Moment.on,
    DAYS,
    st.none() | st.sampled_from([dt.time(8), dt.time(15)]),
    st.none() | st.integers(1, 3),
)
MOMENTS = TIMED | IMPRECISE | st.just(Moment.unknown())
ENDS = st.none() | MOMENTS
ITEMS = st.none() | st.integers(1, 9)
EFFECTS, SCOPES = st.sampled_from(Effect), st.sampled_from(Scope)
PLACES = st.sampled_from([p.code for p in POSITIONS] + ["nowhere"])

particulars = st.builds(
    Particulars,
    since=MOMENTS,
    until=ENDS,
    number=st.just("T 107"),
    type_code=st.sampled_from(["COACH", "COACH", "WAGON"]),
    air=st.sampled_from(Fitment),
    vacuum=st.sampled_from(Fitment),
    main_reservoir_pipe=st.sampled_from(MainReservoirPipe),
    hand_brake=st.booleans(),
    status=st.sampled_from(VehicleStatus),
)
states = st.builds(StateFact, MOMENTS, ENDS, st.sampled_from(EquipmentState))
usage_rows = st.builds(
    UsageFact, DAYS, DAYS, st.floats(-10, 5_000), st.integers(-1, 40)
)
fitted = st.builds(
    FittedFact, st.integers(1, 99), PLACES, st.integers(1, 9), MOMENTS, ENDS
)
failed_lines = st.builds(
    FailedLine, st.just("Release time"), SCOPES, EFFECTS, st.just("28 s")
)
tests = st.builds(
    TestFact,
    id=st.integers(1, 99),
    procedure=PROCEDURES,
    on=MOMENTS,
    passed=st.booleans(),
    equipment=ITEMS,
    failed=st.lists(failed_lines, max_size=2).map(tuple),
    unanswered=st.integers(0, 1),
    doubts=st.just(()) | st.just((Doubt(7, "Gauge TG-4 (gauge) withdrawn from use"),)),
    lacking=st.sampled_from(["", "air brake tests"]),
    signed=st.none() | MOMENTS,
)
steps = st.builds(DefectStepFact, MOMENTS, STEPS, SCOPES, EFFECTS, st.just(""))
defects = st.builds(
    DefectFact,
    id=st.integers(1, 99),
    title=st.just("hose chafed"),
    equipment=ITEMS,
    position=PLACES,
    steps=st.lists(steps, max_size=5).map(tuple),
)
isolations = st.builds(
    IsolationFact,
    id=st.integers(1, 99),
    brake=st.sampled_from(Brake),
    since=MOMENTS,
    until=ENDS,
    whole=st.booleans(),
    complete=st.booleans(),
    ends=st.booleans(),
)
work = st.builds(WorkFact, st.integers(1, 99), st.just("hanger"), MOMENTS, ENDS)
storage = st.builds(StorageFact, MOMENTS, ENDS)
checks = st.builds(Checked, DAYS, st.booleans())
concessions = st.builds(
    ConcessionFact,
    id=st.integers(1, 9),
    renewal=st.integers(0, 2),
    requirement=st.sampled_from(["A", "B", "AIR-12", ""]),
    defect=st.none() | st.integers(1, 99),
    equipment=ITEMS,
    since=DAYS,
    until=DAYS,
    ceiling_days=st.integers(0, 400),
    condition=st.just("Not as the last vehicle."),
    recheck_days=st.integers(1, 60),
    checks=st.lists(checks, max_size=3).map(tuple),
)


@st.composite
def equipment(draw):
    """Items for most of the positions, some of them odd."""
    found = {}
    for number in draw(st.lists(st.integers(1, 9), max_size=9, unique=True)):
        plain = examples.item(number, POSITIONS[(number - 1) % len(POSITIONS)])
        odd = EquipmentFact(
            number,
            plain.kind,
            plain.serial,
            draw(MOMENTS),
            tuple(draw(st.lists(states, max_size=2))),
            usage=tuple(draw(st.lists(usage_rows, max_size=2))),
        )
        found[number] = odd if draw(st.booleans()) else plain
    return found


TYPES = st.sampled_from(
    [
        {},
        {"COACH": (TypeRevisionFact(dt.date(2018, 1, 1), None, 1, POSITIONS),)},
        {
            "COACH": (
                TypeRevisionFact(
                    dt.date(2019, 1, 1), dt.date(2023, 1, 1), 1, POSITIONS
                ),
                TypeRevisionFact(dt.date(2023, 1, 1), None, 2, POSITIONS[:3]),
            )
        },
    ]
)


def few(strategy):
    """A short tuple of facts."""
    return st.lists(strategy, max_size=3).map(tuple)


odd_files = st.builds(
    VehicleFile,
    id=st.just(1),
    particulars=few(particulars),
    types=TYPES,
    fitted=few(fitted),
    equipment=equipment(),
    tests=few(tests),
    defects=few(defects),
    isolations=few(isolations),
    work=few(work),
    storage=few(storage),
    usage=few(usage_rows),
    concessions=few(concessions),
)


@st.composite
def lived_in_files(draw):
    """A sound vehicle to which a few things have happened."""
    base = draw(
        st.sampled_from(
            [examples.SOUND_AIR, examples.SOUND_VACUUM, examples.SOUND_DUAL]
        )
    )
    return base.with_(
        tests=draw(few(tests)),
        defects=draw(few(defects)),
        isolations=draw(few(isolations)),
        work=draw(few(work)),
        storage=draw(few(storage)),
        fitted=draw(few(fitted)),
        concessions=draw(few(concessions)),
    )


files = odd_files | lived_in_files()

requirements = st.builds(
    RequirementFact,
    code=st.sampled_from(["A", "B"]),
    revision=st.integers(1, 2),
    title=st.just("Requirement"),
    subject=st.sampled_from(Subject),
    since=DAYS,
    until=st.none() | DAYS,
    source=st.just("toy"),
    effect=EFFECTS,
    scope=SCOPES,
    counted_from=st.sampled_from(CountedFrom),
    kind=st.none() | st.sampled_from([p.kind for p in POSITIONS]),
    procedure=PROCEDURES,
    months=st.none() | st.integers(1, 120),
    days_in_service=st.none() | st.integers(1, 500),
    miles=st.none() | st.floats(1, 30_000),
    tolerance_days=st.integers(0, 60),
)
matrix_lines = st.builds(
    MatrixFact,
    code=st.just("M"),
    revision=st.just(1),
    change=st.sampled_from(Change),
    since=DAYS,
    until=st.none() | DAYS,
    source=st.just("toy"),
    procedures=st.lists(PROCEDURES, max_size=2).map(tuple),
    effect=EFFECTS,
    scope=st.none() | SCOPES,
    kind=st.none() | st.sampled_from([p.kind for p in POSITIONS]),
)
conditions = st.builds(
    Conditions,
    since=DAYS,
    until=st.none() | DAYS,
    revision=st.integers(1, 3),
    source=st.just("toy"),
    usage_silent_days=st.integers(0, 90),
    usage_silent_effect=EFFECTS,
    discount_needs_isolation=st.booleans(),
    unassessed_effect=EFFECTS,
    uncertified_effect=EFFECTS,
    hand_brake_out_effect=st.sampled_from(
        [Effect.CONDITION, Effect.DISCOUNT, Effect.STOP]
    ),
)
odd_policies = st.builds(Policy, few(requirements), few(matrix_lines), few(conditions))
STRICT = replace(
    examples.PRACTICE,
    conditions=(replace(examples.CONDITIONS, discount_needs_isolation=True),),
)
policies = st.sampled_from([examples.PRACTICE, STRICT]) | odd_policies

findings = st.builds(
    Finding,
    code=st.sampled_from(["X01", "X02"]),
    since=DAYS,
    until=st.none() | DAYS,
    effect=EFFECTS,
    scope=SCOPES,
    text=st.sampled_from(["one", "two", "three"]),
    clears=st.just("cure"),
    source=st.just("toy"),
    condition=st.sampled_from(["", "slowly"]),
)
