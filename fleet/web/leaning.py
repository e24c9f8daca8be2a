"""Which brake statuses lean on the tests that an instrument puts in question."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from fleet.examination.calibration import doubt
from fleet.examination.citing import record_of, tests_citing
from fleet.examination.models import Instrument
from fleet.fitness.case import Case, title_of
from fleet.fitness.facts import Policy, TestFact, VehicleFile
from fleet.fitness.findings import Span, Verdict
from fleet.fitness.gather import vehicle_files
from fleet.fitness.practice import practice_known
from fleet.fitness.rules import BOOK
from fleet.fitness.rules.results import cleared
from fleet.fitness.subjects import EQUIPMENT, VEHICLE, vehicles_of
from fleet.fitness.verdict import verdict
from fleet.register.vocabulary import Level, System, level_words

MOST_VEHICLES = 200


@dataclass(frozen=True, slots=True)
class Leaning:
    """A brake system of a vehicle: its level, and what it would be were they trusted."""

    system: System
    level: Level
    words: str
    trusted: Level
    trusted_words: str

    @property
    def falls(self) -> int:
        """Return by how many steps the level is lower for the doubt."""
        return abs(int(self.trusted) - int(self.level))


@dataclass(frozen=True, slots=True)
class Row:
    """A vehicle with tests in question that nothing has replaced, and what to repeat."""

    vehicle: int
    number: str
    tests: Sequence[TestFact]
    repeat: Sequence[str]
    systems: Sequence[Leaning]

    @property
    def falls(self) -> int:
        """Return the steep fall of its worst system."""
        return max((s.falls for s in self.systems), default=0)


@dataclass(frozen=True, slots=True)
class LeaningPage:
    """The vehicles, those whose level falls first; how many were left out."""

    rows: Sequence[Row]
    left_out: int

    @property
    def falling(self) -> int:
        """Return how many vehicles have a lower level for the doubt."""
        return sum(1 for row in self.rows if row.falls)


def leaning_page(instrument: Instrument, day: dt.date) -> LeaningPage:
    """
    Return the vehicles whose newest test of a kind an instrument puts in question.

    Each is judged as it stands and as if the instrument had been good; what differs
    leans on it. The number of queries does not depend on that of the vehicles.
    """
    vehicles = sorted(_touched(instrument))
    practice = practice_known(None)
    found = [
        row
        for file in vehicle_files(vehicles[:MOST_VEHICLES], practice=practice)
        if (row := _row(file, practice.policy, instrument.pk, day))
    ]
    found.sort(key=lambda row: (-row.falls, row.number))
    return LeaningPage(found, max(0, len(vehicles) - MOST_VEHICLES))


def _touched(instrument: Instrument) -> set[int]:
    record = record_of(instrument)
    subjects = set()
    for test in tests_citing(instrument):
        if doubt(record, test.on) and test.vehicle_id is not None:
            subjects.add((VEHICLE, test.vehicle_id))
        elif doubt(record, test.on) and test.equipment_id is not None:
            subjects.add((EQUIPMENT, test.equipment_id))
    return vehicles_of(subjects)


def _row(
    file: VehicleFile, policy: Policy, instrument: int, day: dt.date
) -> Row | None:
    case = Case(file, policy)
    tests = [t for t in file.tests if _stands(case, t, instrument, day)]
    if not tests:
        return None
    titles = dict.fromkeys(title_of(policy, test.procedure) for test in tests)
    now = verdict(file, policy, BOOK)
    trusted = verdict(_trusting(file, instrument), policy, BOOK)
    return Row(
        vehicle=file.id,
        number=_number(file, day),
        tests=tests,
        repeat=list(titles),
        systems=list(_systems(now, trusted, day)),
    )


def _stands(case: Case, test: TestFact, instrument: int, day: dt.date) -> bool:
    """Say whether a passed test is in question, and no later one stands in its place."""
    doubted = any(one.instrument == instrument for one in test.doubts)
    if not (test.passed and doubted):
        return False
    here = test.equipment is None or any(
        presence.since <= day < presence.until
        for presence in case.carried.get(test.equipment, ())
    )
    return here and cleared(case, test)[0] > day


def _trusting(file: VehicleFile, instrument: int) -> VehicleFile:
    tests = tuple(
        replace(
            test,
            doubts=tuple(d for d in test.doubts if d.instrument != instrument),
        )
        if test.doubts
        else test
        for test in file.tests
    )
    return replace(file, tests=tests)


def _systems(now: Verdict, trusted: Verdict, day: dt.date) -> Iterable[Leaning]:
    for system in System:
        span, other = now.span_on(system, day), trusted.span_on(system, day)
        if span is not None and other is not None:
            yield Leaning(system, span.level, _words(span), other.level, _words(other))


def _words(span: Span) -> str:
    return level_words(span.level, span.system, whole_vehicle=span.whole_vehicle)


def _number(file: VehicleFile, day: dt.date) -> str:
    begun = [p for p in file.particulars if (p.since.earliest or day) <= day]
    return (begun or file.particulars)[-1].number
