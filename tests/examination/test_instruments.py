"""Instruments: taken in, altered, calibrated, and the tests their readings stand in."""

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.engineering.calendar import Moment
from fleet.examination import citing
from fleet.examination.calibration import Standing
from fleet.examination.citing import calibrated_on
from fleet.examination.instruments import (
    alter_instrument,
    correct_calibration,
    particulars_of,
    record_calibration,
    retract_calibration,
)
from fleet.examination.models import Calibration, Instrument, TestRecord
from fleet.examination.services import correct_test
from fleet.examination.vocabulary import Answer, InstrumentState
from fleet.records.clock import today
from fleet.records.models import Kind, Mention
from fleet.records.refusing import codes_of
from tests.examination.factories import (
    good_readings,
    make_calibration,
    make_instrument,
    make_procedure,
    make_test,
)
from tests.register.factories import make_vehicle

pytestmark = pytest.mark.django_db


def on(text):
    """The moment of a day."""
    return Moment.parse(text)


def refused(codes, call, *args, **values):
    """The refusal of a call, checked for its codes."""
    with pytest.raises(ValidationError) as refusal:
        call(*args, **values)
    assert codes_of(refusal.value) == codes
    return refusal.value


def test_an_instrument_is_taken_in_with_what_it_measures():
    held = particulars_of(make_instrument("TG 4"))

    assert (held.number, held.what, held.state) == ("TG 4", "Test gauge", "in_use")
    assert held.range_words == "0 to 10 bar, class 1"
    assert held.limit_words == "± 0.1 bar"


def test_a_number_is_borne_by_one_instrument_only():
    make_instrument("TG 4")

    refused({"number_taken"}, make_instrument, "tg 4")
    assert Instrument.objects.count() == 1


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"range_low": Decimal(10), "range_high": Decimal(10)}, "range"),
        ({"accuracy_class": Decimal(0)}, "range"),
        ({"unit": "mm"}, "impossible_unit"),
        ({"since": Moment.unknown()}, "unknown_date"),
        ({"since": Moment.on(dt.date(2190, 1, 1))}, "in_the_future"),
    ],
)
def test_particulars_that_cannot_be_are_refused_and_nothing_is_written(values, code):
    refused({code}, make_instrument, **values)

    assert not Instrument.objects.exists()


def test_an_alteration_holds_from_its_day_and_leaves_the_past():
    instrument = make_instrument(calibrated="2026-01-05")
    alter_instrument(
        by=None,
        instrument=instrument,
        since=on("2026-03-01"),
        state=InstrumentState.WITHDRAWN,
    )

    assert calibrated_on(instrument, on("2026-02-28")) is Standing.GOOD
    assert calibrated_on(instrument, on("2026-03-02")) is Standing.WITHDRAWN


def test_good_or_not_follows_from_class_and_span_and_the_date_from_the_months():
    instrument = make_instrument(calibration_months=6)
    made = make_calibration(instrument, "2026-01-31", found="-0.11", left="0.1")

    assert (made.as_found_good, made.as_left_good) == (False, True)
    assert made.good_until == dt.date(2026, 7, 31)
    assert made.found_words == "-0.11 bar, outside its class"


def test_an_error_may_be_given_in_another_unit_of_the_same_quantity():
    made = make_calibration(make_instrument(), "2026-01-31", found="9", unit="kPa")

    assert made.unit == "kPa"
    assert made.as_found_good


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"on": "2190-01-01"}, "in_the_future"),
        ({"on": "unknown"}, "unknown_date"),
        ({"unit": "mm"}, "impossible_unit"),
        ({"good_until": dt.date(2026, 1, 30)}, "before_calibration"),
    ],
)
def test_a_calibration_that_cannot_be_is_refused(values, code):
    day = values.pop("on", "2026-01-31")

    refused({code}, make_calibration, make_instrument(), day, **values)
    assert not Calibration.objects.exists()


def test_without_range_and_class_nobody_can_say_whether_it_was_good():
    rig = make_instrument("RIG 1", what="Test rig", accuracy_class=None)

    error = refused({"no_accuracy"}, make_calibration, rig, "2026-01-31")
    assert "RIG 1" in error.messages[0]


def test_a_correction_judges_anew_and_both_versions_stay():
    first = make_calibration(make_instrument(), "2026-01-31", found="0.3")
    second = correct_calibration(
        by=None,
        calibration=first,
        reason="misread the sheet",
        as_found_error=Decimal("0.03"),
    )

    assert (first.as_found_good, second.as_found_good) == (False, True)
    assert Calibration.objects.count() == 2
    refused(
        {"already_superseded"},
        correct_calibration,
        by=None,
        calibration=first,
        reason="x",
    )


def test_retracted_a_calibration_vouches_for_nothing():
    instrument = make_instrument()
    made = make_calibration(instrument, "2026-01-31")
    refused({"no_reason"}, retract_calibration, by=None, calibration=made, reason=" ")
    retracted = retract_calibration(by=None, calibration=made, reason="other gauge")

    assert retracted.change == Kind.RETRACTED
    assert calibrated_on(instrument, on("2026-03-01")) is Standing.NEVER


def test_every_value_of_a_test_cites_its_instrument_and_a_line_may_cite_another():
    gauge, watch = make_instrument("TG-4"), make_instrument("SW-1")
    procedure = make_procedure()
    readings = good_readings(procedure)
    readings[1]["instrument"] = watch
    record = make_test(procedure=procedure, readings=readings, instrument=gauge)

    cited = {r.line.order: r.instrument for r in record.readings.all()}
    assert cited == {1: gauge, 2: watch, 3: None, 4: gauge}  # 3 is a question


def test_a_correction_cites_anew():
    gauge, other = make_instrument("TG-4"), make_instrument("TG-5")
    procedure = make_procedure()
    record = make_test(procedure=procedure, instrument=gauge)
    corrected = correct_test(
        by=None,
        record=record,
        reason="wrong gauge noted",
        readings=good_readings(procedure),
        instrument=other,
    )

    assert {r.instrument for r in corrected.readings.all() if r.value} == {other}


def at_stake(gauge, wrong):
    """The days of the tests a calibration puts in question."""
    return [str(test.on) for test in citing.tests_since_last_good(gauge, wrong).tests]


def test_found_wrong_a_gauge_lists_every_test_since_it_was_last_good():
    gauge = make_instrument(calibrated="2026-01-05")
    for day in ("2026-01-04", "2026-02-01", "2026-03-01", "2026-05-01"):
        make_test(on=on(day), instrument=gauge)
    make_test(on=on("2026-03-02"), instrument=make_instrument("TG-5"))
    make_test(on=on("2026-03-03"))
    wrong = make_calibration(gauge, "2026-04-01", found="0.4")

    assert at_stake(gauge, wrong) == ["1 Mar 2026", "1 Feb 2026"]
    assert citing.tests_since_last_good(gauge, wrong).last_good == on("2026-01-05")


def test_a_test_retracted_or_corrected_to_another_gauge_is_in_question_no_more():
    gauge, other = make_instrument(calibrated="2026-01-05"), make_instrument("TG-5")
    procedure = make_procedure()
    record = make_test(procedure=procedure, on=on("2026-02-01"), instrument=gauge)
    correct_test(
        by=None,
        record=record,
        reason="wrong gauge noted",
        readings=good_readings(procedure),
        instrument=other,
    )
    wrong = make_calibration(gauge, "2026-04-01", found="0.4")

    assert at_stake(gauge, wrong) == []


def touched(vehicle):
    """The deeds that named a vehicle."""
    rows = Mention.objects.filter(kind="register.vehicle", key=vehicle.pk)
    return set(rows.values_list("entry__deed", flat=True))


def test_a_calibration_touches_only_vehicles_whose_tests_count_otherwise_now():
    gauge = make_instrument(calibrated="2026-01-05")
    before, after = make_vehicle(number="T 1"), make_vehicle(number="T 2")
    make_test(vehicle=after, on=on("2026-02-01"), instrument=gauge)
    make_calibration(gauge, "2026-03-01")
    assert "examination.record_calibration" not in touched(after)

    make_test(vehicle=before, on=on("2026-01-06"), instrument=gauge)
    make_test(vehicle=after, on=on("2026-03-06"), instrument=gauge)
    make_calibration(gauge, "2026-04-01", found="0.4")

    assert "examination.record_calibration" in touched(after)
    assert "examination.record_calibration" not in touched(before)


def queries_of_a_calibration(number, tests):
    """How many queries it takes to record one for a gauge that so many tests cite."""
    gauge = make_instrument(number, calibrated="2026-01-05")
    vehicle = make_vehicle(number=f"V {number}")
    for day in range(1, tests + 1):
        make_test(vehicle=vehicle, on=on(f"2026-02-0{day}"), instrument=gauge)
    make_calibration(make_instrument(f"{number}-B"), today())  # the practice is read
    with CaptureQueriesContext(connection) as queries:
        make_calibration(gauge, "2026-03-01")
    return len(queries)


def test_recording_a_calibration_takes_the_same_queries_however_many_tests():
    few, many = (queries_of_a_calibration(f"TG-{n}", n) for n in (1, 6))

    assert few == many <= 17


def test_no_answer_but_a_value_cites_an_instrument():
    gauge = make_instrument()
    procedure = make_procedure()
    readings = good_readings(procedure)
    readings[3] = {
        "line": 4,
        "answer": Answer.NOT_APPLICABLE,
        "note": "no such cylinder",
        "instrument": gauge,
    }
    record: TestRecord = make_test(procedure=procedure, readings=readings)

    assert not record.readings.filter(instrument__isnull=False).exists()


def test_two_calibrations_of_an_instrument_are_two_facts():
    gauge = make_instrument(calibrated="2026-01-05")
    record_calibration(
        by=None,
        instrument=gauge,
        on=on("2026-02-05"),
        as_found_error=Decimal(0),
        as_left_error=Decimal(0),
    )

    assert gauge.calibrations.current().count() == 2
