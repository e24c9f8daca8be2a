"""The gauges and rigs a certificate cites, each with its calibration on the day. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fleet.engineering.calendar import Moment
from fleet.examination.calibration import (
    Record,
    Standing,
    doubt,
    last_before,
    standing_at,
)
from fleet.examination.citing import comparison_of, records_of
from fleet.examination.judging import plain
from fleet.examination.models import Calibration, InstrumentVersion, TestRecord
from fleet.reports.sheet import DASH, Said
from fleet.upkeep.due import written


@dataclass(frozen=True, slots=True)
class InstrumentLine:
    """A gauge or rig used: its calibration as it stood on the day."""

    number: str
    what: str
    lines: str
    calibrated: str
    good_until: str
    standing: Said


def instrument_lines(
    record: TestRecord,
    versions: Sequence[InstrumentVersion],
    calibrations: Sequence[Calibration],
) -> Iterator[InstrumentLine]:
    """
    Yield the instruments the readings of a record cite, as they stood on its day.

    `versions` are all those of the instruments, oldest first, `calibrations` likewise
    in any order.
    """
    used: dict[int, dict[int, None]] = {}
    for reading in record.readings.all():
        if reading.instrument_id is not None:
            used.setdefault(reading.instrument_id, {})[reading.line.order] = None
    trust = records_of(calibrations, versions)
    for key, orders in used.items():
        known = trust.get(key, Record())
        last = _last(calibrations, key, known, record.on)
        version = _version_at(versions, key, record.on)
        yield InstrumentLine(
            number=version.number if version else f"Instrument {key}",
            what=_what(version),
            lines=", ".join(map(str, orders)),
            calibrated=_calibrated(last),
            good_until=written(last.good_until) if last else DASH,
            standing=_standing(known, record.on),
        )


def _version_at(
    versions: Sequence[InstrumentVersion], key: int, at: Moment
) -> InstrumentVersion | None:
    """Return the particulars that hold at a moment; before the first, the first."""
    own = [version for version in versions if version.instrument_id == key]
    begun = [version for version in own if version.since_key <= (at.key or 0)]
    return next(iter(begun[-1:] or own), None)


def _what(version: InstrumentVersion | None) -> str:
    if version is None:
        return "No particulars are recorded"
    accuracy = version.accuracy_class
    return version.what + (f", class {plain(accuracy)}" if accuracy is not None else "")


def _last(
    calibrations: Sequence[Calibration], key: int, known: Record, at: Moment
) -> Calibration | None:
    """Return the last calibration known to have come before the test."""
    last = last_before(known, at)
    own = (c for c in calibrations if c.instrument_id == key)
    return next((c for c in own if comparison_of(c) == last), None)


def _calibrated(calibration: Calibration | None) -> str:
    if calibration is None:
        return "Not before the test"
    certificate = calibration.certificate
    return f"{calibration.on}" + (f", {certificate}" if certificate else "")


def _standing(known: Record, at: Moment) -> Said:
    why = doubt(known, at)
    if why:
        return Said(f"IN DOUBT: {why}", True)
    standing = standing_at(known, at)
    if standing is Standing.GOOD:
        return Said(standing.label)
    return Said(f"{standing.label}; found good at the next calibration")
