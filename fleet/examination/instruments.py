"""What people do with test gauges and rigs: add, alter, calibrate, correct, retract."""

import datetime as dt
from decimal import Decimal
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.engineering.units import unit_of
from fleet.examination.calibration import good_for, within_limit
from fleet.examination.citing import announce_doubts, doubts_before
from fleet.examination.models import Calibration, Instrument, InstrumentVersion
from fleet.examination.vocabulary import InstrumentState
from fleet.people.models import Person, User
from fleet.records.deeds import announce, deed
from fleet.records.moments import refuse_future, refuse_unknown
from fleet.records.refusing import refusing
from fleet.records.versions import (
    correct_version,
    identify,
    open_version,
    retract_version,
)
from fleet.register.services.splitting import refuse_strangers, split

MEASURES = ("quantity", "unit", "range_low", "range_high", "accuracy_class")
ALTERABLE = frozenset({"number", "what", "calibration_months", "state", *MEASURES})
COMPARED = frozenset(
    {
        "on",
        "certificate",
        "done_by",
        "laboratory",
        "as_found_error",
        "as_left_error",
        "unit",
        "good_until",
    }
)


def add_instrument(
    *,
    by: User | None,
    number: str,
    what: str,
    since: Moment,
    quantity: str = "",
    unit: str = "",
    range_low: Decimal | None = None,
    range_high: Decimal | None = None,
    accuracy_class: Decimal | None = None,
    calibration_months: int = 12,
    state: str = InstrumentState.IN_USE,
) -> Instrument:
    """
    Take a test gauge or rig into the register; in use, and never yet calibrated.

    The accuracy class is in per cent of the span. Raises ValidationError at the field:
    `number_taken`, `range`, `impossible_unit`, `in_the_future`, `unknown_date`.
    """
    refuse_unknown(since, "since")
    refuse_future(since, "since")
    values = {
        "quantity": quantity,
        "unit": unit,
        "range_low": range_low,
        "range_high": range_high,
        "accuracy_class": accuracy_class,
    }
    with deed("examination.add_instrument", by=by) as entry:
        instrument = identify(Instrument, entry=entry)
        open_version(
            InstrumentVersion,
            entry=entry,
            instrument=instrument,
            number=_free_number(number, instrument),
            what=what.strip(),
            since=since,
            calibration_months=calibration_months,
            state=state,
            **_measures(values),
        )
        announce(instrument)
        return instrument


def alter_instrument(
    *, by: User | None, instrument: Instrument, since: Moment, **changes: Any
) -> InstrumentVersion:
    """
    Change what is held of an instrument from a moment on, such as: withdrawn from use.

    Raises ValidationError as `add_instrument` does, and `later_particulars` at `since`.
    """
    refuse_strangers(changes, ALTERABLE)
    with deed("examination.alter_instrument", by=by, locking=(instrument,)) as entry:
        held = particulars_of(instrument)
        before = doubts_before(instrument)
        if "number" in changes:
            changes["number"] = _free_number(changes["number"], instrument)
        measures = {name: changes.get(name, getattr(held, name)) for name in MEASURES}
        altered = split(held, since=since, entry=entry, **changes | _measures(measures))
        announce(instrument)
        announce_doubts(instrument, before)
        return altered


def record_calibration(
    *,
    by: User | None,
    instrument: Instrument,
    on: Moment,
    as_found_error: Decimal,
    as_left_error: Decimal,
    unit: str = "",
    good_until: dt.date | None = None,
    certificate: str = "",
    done_by: Person | None = None,
    laboratory: str = "",
) -> Calibration:
    """
    Record a comparison with a standard: the greatest error, as found and as left.

    Good or not follows from the accuracy class and the span (EN 837-1:1996, table 11).
    `good_until` is its last good day, by default so many months on as the instrument is
    calibrated every. Raises ValidationError: `no_accuracy`, `impossible_unit`,
    `in_the_future`, `unknown_date`, `before_calibration`, `later_one_recorded`.
    """
    _refuse_day(on)
    with deed("examination.record_calibration", by=by, locking=(instrument,)) as entry:
        before = doubts_before(instrument)
        values = _judged(
            instrument, on, as_found_error, as_left_error, unit, good_until
        )
        calibration: Calibration = open_version(
            Calibration,
            entry=entry,
            instrument=instrument,
            on=on,
            certificate=certificate.strip(),
            done_by=done_by,
            laboratory=laboratory.strip(),
            **values,
        )
        announce(instrument)
        announce_doubts(instrument, before)
        return calibration


def correct_calibration(
    *, by: User | None, calibration: Calibration, reason: str, **changes: Any
) -> Calibration:
    """
    Put a calibration right; what was good or not is worked out anew, and both stay.

    Raises ValidationError as `record_calibration` does, `no_reason`, and
    `already_superseded`.
    """
    refuse_strangers(changes, COMPARED)
    held = {name: getattr(calibration, name) for name in COMPARED} | changes
    _refuse_day(held["on"])
    instrument = calibration.instrument
    with deed("examination.correct_calibration", by=by, locking=(instrument,)) as entry:
        before = doubts_before(instrument)
        judged = _judged(
            instrument,
            held["on"],
            held["as_found_error"],
            held["as_left_error"],
            held["unit"],
            held["good_until"],
        )
        corrected = correct_version(
            calibration, entry=entry, reason=reason, **held | judged
        )
        announce(instrument)
        announce_doubts(instrument, before)
        return corrected


def retract_calibration(
    *, by: User | None, calibration: Calibration, reason: str
) -> Calibration:
    """Say that a calibration was never done; it stays to be seen, crossed out."""
    instrument = calibration.instrument
    with deed("examination.retract_calibration", by=by, locking=(instrument,)) as entry:
        before = doubts_before(instrument)
        retracted = retract_version(calibration, entry=entry, reason=reason)
        announce(instrument)
        announce_doubts(instrument, before)
        return retracted


def particulars_of(instrument: Instrument) -> InstrumentVersion:
    """Return the particulars of an instrument that have not ended."""
    held: InstrumentVersion = instrument.versions.current().open_ended().get()
    return held


def _free_number(number: str, instrument: Instrument) -> str:
    number = " ".join(number.split())
    others = InstrumentVersion.objects.current().filter(number__iexact=number)
    if others.open_ended().exclude(instrument=instrument).exists():
        raise refusing(
            "Another instrument bears this number. Choose another, or look it up.",
            code="number_taken",
            field="number",
        )
    return number


def _measures(values: dict[str, Any]) -> dict[str, Any]:
    """Check what an instrument measures: a quantity with its unit, range and class."""
    if values["quantity"]:
        try:
            values["unit"] = unit_of(values["quantity"], values["unit"])
        except ValueError as error:
            raise refusing(str(error), code="impossible_unit", field="unit") from None
    low, high = values["range_low"], values["range_high"]
    if low is not None and high is not None and low >= high:
        raise refusing(
            "The range ends below where it begins.", code="range", field="range_high"
        )
    accuracy_class = values["accuracy_class"]
    if accuracy_class is not None and accuracy_class <= 0:
        raise refusing(
            "An accuracy class is above zero: 1 means 1 % of the span.",
            code="range",
            field="accuracy_class",
        )
    return values


def _refuse_day(on: Moment) -> None:
    refuse_unknown(on, "on")
    refuse_future(on, "on")


def _judged(
    instrument: Instrument,
    on: Moment,
    found: Decimal,
    left: Decimal,
    unit: str,
    good_until: dt.date | None,
) -> dict[str, Any]:
    held = particulars_of(instrument)
    limit = held.limit_of_error
    if limit is None:
        raise refusing(
            f"Of {held.number} no quantity, range and accuracy class are recorded, so "
            "nobody can say whether it was good. Alter the instrument first.",
            code="no_accuracy",
        )
    assert on.earliest is not None
    last_good = good_until or good_for(on.earliest, held.calibration_months)
    if last_good < on.earliest:
        raise refusing(
            "The last good day lies before the calibration.",
            code="before_calibration",
            field="good_until",
        )
    try:
        unit = unit_of(held.quantity, unit or held.unit)
    except ValueError as error:
        raise refusing(str(error), code="impossible_unit", field="unit") from None
    return {
        "as_found_error": found,
        "as_left_error": left,
        "unit": unit,
        "as_found_good": within_limit(found, unit, limit, held.unit),
        "as_left_good": within_limit(left, unit, limit, held.unit),
        "good_until": last_good,
    }
