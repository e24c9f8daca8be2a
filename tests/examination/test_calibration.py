"""What calibrations say of an instrument: limits, standing, doubt, tests in question."""

import datetime as dt
from decimal import Decimal

import pytest

from fleet.engineering.calendar import Moment
from fleet.examination.calibration import (
    Comparison,
    Record,
    Standing,
    doubt,
    good_for,
    in_question,
    last_good_before,
    limit_of_error,
    standing_at,
    standing_on,
    within_limit,
)


def on(text, at=None):
    """The moment of a day, with a time of day where one is given."""
    moment = Moment.parse(text)
    if at is None:
        return moment
    return Moment.on(moment.earliest, dt.time.fromisoformat(at))


def compared(text, found=True, left=True, until="2027-01-01", at=None):
    """A calibration on a day."""
    return Comparison(on(text, at), found, left, dt.date.fromisoformat(until))


# EN 837-1:1996, table 11: limit of error in per cent of the span, by accuracy class.
@pytest.mark.parametrize(
    ("accuracy_class", "limit_bar"),
    [
        ("0.1", "0.01"),
        ("0.25", "0.025"),
        ("0.6", "0.06"),
        ("1", "0.1"),
        ("1.6", "0.16"),
        ("2.5", "0.25"),
        ("4", "0.4"),
    ],
)
def test_a_gauge_of_0_to_10_bar_may_be_out_by_its_class_in_per_cent_of_the_span(
    accuracy_class, limit_bar
):
    limit = limit_of_error(Decimal(accuracy_class), Decimal(0), Decimal(10))

    assert limit == Decimal(limit_bar)


def test_the_span_of_a_range_that_goes_through_zero_is_the_whole_of_it():
    # A compound gauge from -1 to 9 bar spans 10 bar (EN 837-1:1996, table 11).
    assert limit_of_error(Decimal(1), Decimal(-1), Decimal(9)) == Decimal("0.1")


@pytest.mark.parametrize(
    ("error", "unit", "good"),
    [
        ("0.1", "bar", True),
        ("-0.1", "bar", True),
        ("0.1001", "bar", False),
        ("10", "kPa", True),  # 100 kPa = 1 bar, exactly (SI)
        ("-10.1", "kPa", False),
    ],
)
def test_an_error_as_large_as_the_limit_is_within_it_either_way(error, unit, good):
    assert within_limit(Decimal(error), unit, Decimal("0.1"), "bar") is good


def test_an_error_of_a_thermometer_is_a_difference_not_a_temperature():
    # 1 °C of difference is 1.8 °F (SI Brochure, 9th edition).
    assert within_limit(Decimal("1.8"), "°F", Decimal(1), "°C")
    assert not within_limit(Decimal("1.9"), "°F", Decimal(1), "°C")


def test_an_error_in_a_unit_of_something_else_is_refused():
    with pytest.raises(ValueError, match="do not measure the same"):
        within_limit(Decimal(1), "mm", Decimal(1), "bar")


def test_a_calibration_holds_to_the_same_day_so_many_months_on():
    assert good_for(dt.date(2026, 1, 31), 1) == dt.date(2026, 2, 28)


GAUGE = Record((compared("2026-01-01", until="2026-06-30"),))


@pytest.mark.parametrize(
    ("record", "day", "standing"),
    [
        (Record(), "2026-03-01", Standing.NEVER),
        (GAUGE, "2025-12-31", Standing.NEVER),
        (GAUGE, "2026-06-30", Standing.GOOD),
        (GAUGE, "2026-07-01", Standing.LAPSED),
        (GAUGE, "2026-06", Standing.GOOD),
        (GAUGE, "2026-Q3", Standing.LAPSED),
        (Record((compared("2026-01-01", left=False),)), "2026-03-01", Standing.WRONG),
        (
            Record(withdrawn=((on("2026-02-01"), None),)),
            "2026-02-01",
            Standing.WITHDRAWN,
        ),
        (
            Record(GAUGE.comparisons, ((on("2026-02-01"), on("2026-03-01")),)),
            "2026-03-02",
            Standing.GOOD,
        ),
    ],
)
def test_an_instrument_stands_as_its_last_calibration_before_says(
    record, day, standing
):
    assert standing_at(record, on(day)) is standing


def test_a_calibration_of_the_same_day_counts_only_where_it_is_known_to_come_first():
    noted = Record((compared("2026-01-01", at="09:00"),))

    assert standing_at(noted, on("2026-01-01", "10:00")) is Standing.GOOD
    assert standing_at(noted, on("2026-01-01", "08:00")) is Standing.NEVER
    assert standing_at(noted, on("2026-01-01")) is Standing.NEVER
    assert standing_on(noted, dt.date(2026, 1, 1)) is Standing.GOOD


def test_an_instrument_in_calibration_is_in_no_doubt():
    assert doubt(GAUGE, on("2026-06-30")) == ""


@pytest.mark.parametrize(
    ("record", "day", "words"),
    [
        (Record(), "2026-03-01", "not calibrated before"),
        (GAUGE, "2026-07-01", "out of calibration, last good day 30 Jun 2026"),
        (
            Record(withdrawn=((on("2026-02-01"), None),)),
            "2026-02-02",
            "withdrawn from use",
        ),
        (
            Record((compared("2026-01-01", left=False),)),
            "2026-03-01",
            "left outside its class when calibrated on 1 Jan 2026",
        ),
    ],
)
def test_out_of_calibration_it_is_in_doubt_and_the_words_say_why(record, day, words):
    assert doubt(record, on(day)) == words


def later(found, left=True):
    """The gauge, calibrated again in September."""
    again = compared("2026-09-01", found, left, until="2027-09-01")
    return Record((*GAUGE.comparisons, again))


def test_found_wrong_at_the_next_calibration_it_is_in_doubt_since_the_last():
    wrong = later(found=False)

    assert doubt(wrong, on("2026-03-01")) == "found wrong when calibrated on 1 Sep 2026"
    assert doubt(wrong, on("2026-08-01")) == "found wrong when calibrated on 1 Sep 2026"
    assert doubt(wrong, on("2026-09-02")) == ""


def test_found_good_at_the_next_calibration_what_it_read_meanwhile_is_re_verified():
    assert doubt(later(found=True), on("2026-08-01")) == ""


def test_found_good_at_its_first_calibration_what_it_read_before_is_re_verified():
    assert doubt(GAUGE, on("2025-06-01")) == ""


def test_what_was_left_wrong_is_not_re_verified_by_being_found_good_later():
    left_wrong = compared("2026-01-01", left=False)
    record = Record((left_wrong, compared("2026-09-01")))

    assert "left outside its class" in doubt(record, on("2026-03-01"))


def test_where_test_and_calibration_fall_on_one_day_in_no_known_order_worst_counts():
    wrong = later(found=False)

    assert "found wrong" in doubt(wrong, on("2026-09-01"))
    assert doubt(later(found=True), on("2026-09-01")) == ""


def test_a_reading_nobody_can_date_is_in_doubt_even_beside_good_calibrations():
    assert doubt(GAUGE, Moment.unknown()) != ""


def test_the_tests_in_question_reach_back_to_the_last_time_it_was_left_good():
    wrong = later(found=False)
    found_wrong = wrong.comparisons[-1]
    last = last_good_before(wrong, found_wrong)

    assert last == GAUGE.comparisons[0]
    asked = ["2025-12-31", "2026-01-01", "2026-01-02", "2026-09-01", "2026-09-02"]
    assert [in_question(on(day), last, found_wrong) for day in asked] == [
        False,
        True,  # the day of the calibration, in no known order
        True,
        True,
        False,
    ]


def test_never_known_to_be_good_all_tests_before_are_in_question():
    found_wrong = compared("2026-09-01", found=False)
    record = Record((found_wrong,))

    assert last_good_before(record, found_wrong) is None
    assert in_question(on("1998"), None, found_wrong)
