"""What the page of an instrument shows: its standing, calibrations, tests in question."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from fleet.examination.calibration import Record, Standing, doubt, standing_on
from fleet.examination.citing import (
    InQuestion,
    questioned,
    record_of,
    tests_citing,
)
from fleet.examination.models import (
    Calibration,
    Instrument,
    InstrumentVersion,
    TestRecord,
)
from fleet.examination.vocabulary import InstrumentState

MOST_SHOWN = 200
STANDING_MARKS = {
    Standing.GOOD: "verdict-met",
    Standing.LAPSED: "verdict-failed",
    Standing.NEVER: "verdict-open",
    Standing.WRONG: "verdict-failed",
    Standing.WITHDRAWN: "verdict-open",
}


@dataclass(frozen=True, slots=True)
class Doubted:
    """A test that cites the instrument and does not count, and why."""

    test: TestRecord
    words: str


@dataclass(frozen=True, slots=True)
class InstrumentPage:
    """All that is recorded of an instrument on a day."""

    instrument: Instrument
    version: InstrumentVersion
    standing: Standing
    calibrations: Sequence[Calibration]
    versions: Sequence[InstrumentVersion]
    cited: int
    in_question: Sequence[InQuestion]
    doubted: Sequence[Doubted]

    @property
    def mark(self) -> str:
        """Return how its standing is marked."""
        return STANDING_MARKS[self.standing]

    @property
    def newest(self) -> Calibration | None:
        """Return its newest calibration that holds."""
        return next((c for c in self.calibrations if c.is_current), None)

    @property
    def others(self) -> Sequence[Doubted]:
        """Return the tests in doubt that no calibration found wrong lists."""
        listed = {test.pk for wrong in self.in_question for test in wrong.tests}
        return [one for one in self.doubted if one.test.pk not in listed]

    @property
    def shown(self) -> Sequence[Doubted]:
        """Return those, as many as a page takes."""
        return self.others[:MOST_SHOWN]

    @property
    def in_use(self) -> bool:
        """Say whether tests are done with it."""
        return self.version.state != InstrumentState.WITHDRAWN


def instrument_page(instrument: Instrument, day: dt.date) -> InstrumentPage:
    """Return what is recorded of an instrument; found wrong, with every test at stake."""
    versions = instrument.versions.current().order_by("-since_key")
    record = record_of(instrument)
    tests = list(tests_citing(instrument).for_list().order_by("-on_latest", "-pk"))
    calibrations = list(
        instrument.calibrations.select_related("done_by", "opened_by__user", "replaces")
        .filter(closed_by__isnull=True)
        .order_by("-on_latest", "-pk")
    )
    return InstrumentPage(
        instrument,
        instrument.versions.for_list().get(),
        standing_on(record, day),
        calibrations,
        list(versions),
        len(tests),
        [
            questioned(row, tests, record)
            for row in calibrations
            if row.is_current and not row.as_found_good
        ],
        _doubted(tests, record),
    )


def _doubted(tests: Sequence[TestRecord], record: Record) -> list[Doubted]:
    found = ((test, doubt(record, test.on)) for test in tests)
    return [Doubted(test, words) for test, words in found if words]


def standing_in_list(version: Any, day: dt.date) -> Standing:
    """Return the standing on a day of a version read by `for_list`."""
    if version.state == InstrumentState.WITHDRAWN:
        return Standing.WITHDRAWN
    if version.compared_on is None:
        return Standing.NEVER
    if not version.left_good:
        return Standing.WRONG
    return Standing.LAPSED if day > version.good_until else Standing.GOOD
