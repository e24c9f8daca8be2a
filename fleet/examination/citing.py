"""Which tests cite an instrument, and what its calibrations mean for them."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, OuterRef

from fleet.engineering.calendar import Moment
from fleet.examination.calibration import (
    Comparison,
    Record,
    Standing,
    doubt,
    in_question,
    last_good_before,
    standing_at,
)
from fleet.examination.managers import TestRecordQuerySet
from fleet.examination.models import (
    Calibration,
    Instrument,
    InstrumentVersion,
    Reading,
    TestRecord,
)
from fleet.examination.vocabulary import InstrumentState
from fleet.records.deeds import announce


@dataclass(frozen=True, slots=True)
class InQuestion:
    """The tests a calibration puts in question, with the calibration before it."""

    calibration: Calibration
    last_good: Moment | None
    tests: tuple[TestRecord, ...]


def calibrated_on(instrument: Instrument, at: Moment) -> Standing:
    """Return how an instrument stood at a moment, by what was recorded up to then."""
    return standing_at(record_of(instrument), at)


def record_of(instrument: Instrument) -> Record:
    """Return all that is recorded of an instrument's trustworthiness: two queries."""
    calibrations = instrument.calibrations.current()
    withdrawn = instrument.versions.current().filter(state=InstrumentState.WITHDRAWN)
    return Record(
        tuple(comparison_of(row) for row in calibrations),
        tuple((row.since, row.until) for row in withdrawn),
    )


def comparison_of(row: Calibration) -> Comparison:
    """Return a calibration as the rules weigh it."""
    return Comparison(row.on, row.as_found_good, row.as_left_good, row.good_until)


def records_of(
    calibrations: Iterable[Calibration], versions: Iterable[InstrumentVersion]
) -> dict[int, Record]:
    """Return the records of many instruments by their keys, from rows read elsewhere."""
    compared: dict[int, list[Comparison]] = {}
    withdrawn: dict[int, list[tuple[Moment, Moment | None]]] = {}
    for row in calibrations:
        compared.setdefault(row.instrument_id, []).append(comparison_of(row))
    for version in versions:
        intervals = withdrawn.setdefault(version.instrument_id, [])
        if version.state == InstrumentState.WITHDRAWN:
            intervals.append((version.since, version.until))
    return {
        key: Record(tuple(compared.get(key, ())), tuple(intervals))
        for key, intervals in withdrawn.items()
    }


def tests_citing(instrument: Instrument) -> TestRecordQuerySet:
    """Return the test records that cite an instrument in any of their readings."""
    cited = Reading.objects.filter(record=OuterRef("pk"), instrument=instrument)
    found: TestRecordQuerySet = TestRecord.objects.current().filter(Exists(cited))
    return found


def tests_since_last_good(
    instrument: Instrument, calibration: Calibration
) -> InQuestion:
    """
    Return every test that cites an instrument since it was last known to be good.

    That is, from its last good calibration before this one up to this one, newest first.
    """
    tests = tests_citing(instrument).for_list().order_by("-on_latest", "-pk")
    return questioned(calibration, tests, record_of(instrument))


def questioned(
    calibration: Calibration, tests: Iterable[TestRecord], record: Record
) -> InQuestion:
    """Return which of the tests that cite an instrument a calibration puts in question."""
    wrong = comparison_of(calibration)
    last_good = last_good_before(record, wrong)
    return InQuestion(
        calibration,
        last_good.on if last_good else None,
        tuple(test for test in tests if in_question(test.on, last_good, wrong)),
    )


def doubts_before(instrument: Instrument) -> list[tuple[TestRecord, str]]:
    """Return each test that cites an instrument, and why it is in doubt; "" if not."""
    record = record_of(instrument)
    tests = tests_citing(instrument).select_related("vehicle", "equipment")
    return [(test, doubt(record, test.on)) for test in tests]


def announce_doubts(
    instrument: Instrument, before: Iterable[tuple[TestRecord, str]]
) -> None:
    """
    Name the vehicles and items of tests that count otherwise now.

    Only those: a calibration that finds a gauge good touches no vehicle, however many
    were tested with it.
    """
    record = record_of(instrument)
    for test, words in before:
        if doubt(record, test.on) != words:
            announce(test.vehicle, test.equipment)
