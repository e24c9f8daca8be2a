"""Trends of blocks and piston travel: hand-worked dates, limits kept apart, laws."""

import datetime as dt
from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.engineering.wear import (
    Grows,
    Standing,
    WearReading,
    release_limit_mm,
    since_renewal,
    standing,
    wear_trend,
)
from tests.engineering.published import Published, Status, check, rows

START = dt.date(2025, 1, 1)


def readings(*values, step_days=100):
    return [
        WearReading(START + dt.timedelta(days=step_days * at), mm)
        for at, mm in enumerate(values)
    ]


def at(**limits):
    return partial(standing, **limits)


TABLE = [
    Published(
        "composition block at the condemning thickness",
        at(mm=10.0, condemning_mm=10, release_mm=None),
        Standing.IN_ORDER,
        None,
        "RDSO WD-23-BMBS-2008, 2.1(2), February 2009: condemned below 10 mm",
        Status.READ,
    ),
    Published(
        "cast-iron block under the rejection thickness",
        at(mm=9.9, condemning_mm=10, release_mm=None),
        Standing.CONDEMNED,
        None,
        "Trade-site summary of UIC 543-1, section 2: reject below 10 mm",
        Status.READ,
    ),
    Published(
        "piston stroke at the longest",
        at(mm=130, condemning_mm=130, release_mm=None, grows=Grows.UP),
        Standing.IN_ORDER,
        None,
        "ICF coach maintenance manual, ch. 4 proforma, item 7: 85 to 130 mm",
        Status.READ,
    ),
    Published(
        "piston stroke beyond the longest",
        at(mm=131, condemning_mm=130, release_mm=None, grows=Grows.UP),
        Standing.CONDEMNED,
        None,
        "ICF coach maintenance manual, ch. 4 proforma, item 7: 85 to 130 mm",
        Status.READ,
    ),
    Published(
        "new block to condemning, 12 mm a year",
        lambda: release_limit_mm(10, 12, 6),
        16,
        1e-9,
        "common practice: condemning limit and wear to the next examination",
        Status.DERIVED,
    ),
]


@pytest.mark.parametrize("row", rows(TABLE))
def test_limits_give_what_is_printed(row):
    check(row)


def test_a_block_reaches_its_limit_at_the_recent_rate():
    trend = wear_trend(readings(58, 54, 50, 46), 10)

    # 4 mm in 100 days, 36 mm left: 900 days after the last reading.
    assert trend.reached_on == dt.date(2025, 10, 28) + dt.timedelta(days=900)
    assert trend.rate == pytest.approx(4 * 3.6525)
    assert trend.earliest_on == trend.reached_on == trend.latest_on


def test_piston_travel_reaches_its_limit_from_below():
    trend = wear_trend(readings(100, 105, 110), 130, grows=Grows.UP)

    assert trend.rate == pytest.approx(5 * 3.6525)
    assert trend.reached_on == START + dt.timedelta(days=200 + 400)


def test_wear_before_the_renewal_is_left_out():
    series = readings(30, 20, 58, 55, 52)

    trend = wear_trend(series, 10)
    assert trend.since == series[2].on
    assert trend.readings == 3
    assert trend.rate == pytest.approx(3 * 3.6525)


def test_reading_error_makes_a_band_even_of_two_readings():
    trend = wear_trend(readings(50, 46), 10, error_mm=0.5)

    # 1.96·√2·0.5 mm over 100 days.
    assert trend.band == pytest.approx(1.386 * 3.6525, rel=1e-3)
    assert trend.earliest_on < trend.reached_on < trend.latest_on


def test_a_block_that_seems_to_grow_is_still_given_an_earliest_day():
    trend = wear_trend(readings(50.0, 50.2, 50.1), 10, error_mm=0.3)

    assert trend.rate < 0
    assert trend.reached_on is None
    assert trend.earliest_on is not None


def test_beyond_the_limit_the_day_is_the_day_of_the_reading():
    series = readings(14, 9)

    assert wear_trend(series, 10).reached_on == series[-1].on


def test_condemning_and_release_limits_are_kept_apart():
    release = release_limit_mm(10, 14.6, 6)

    assert release == pytest.approx(17.3)
    assert standing(20, condemning_mm=10, release_mm=release) is Standing.IN_ORDER
    assert standing(15, condemning_mm=10, release_mm=release) is Standing.NOT_TO_RELEASE
    assert standing(9, condemning_mm=10, release_mm=release) is Standing.CONDEMNED


@given(st.floats(0.5, 20), st.floats(0, 20))
def test_faster_wear_never_puts_the_day_off(slow, more):
    fast = wear_trend(readings(80, 80 - slow - more, 80 - 2 * (slow + more)), 10)

    assert fast.reached_on <= wear_trend(
        readings(80, 80 - slow, 80 - 2 * slow), 10
    ).reached_on + dt.timedelta(days=1)


@given(st.floats(5, 30), st.floats(0, 50), st.floats(0, 60))
def test_a_longer_wait_never_lowers_the_release_limit(condemning, rate, months):
    soon = release_limit_mm(condemning, rate, months)

    assert release_limit_mm(condemning, rate, months + 1) >= soon >= condemning


@given(st.lists(st.floats(11, 60), min_size=2, max_size=8), st.floats(0, 2))
def test_the_day_lies_between_its_bounds(values, error):
    series = readings(*values)
    if len(since_renewal(series, grows=Grows.DOWN, error_mm=error)) < 2:
        return

    trend = wear_trend(series, 10, error_mm=error)
    if trend.reached_on and trend.earliest_on:
        assert trend.earliest_on <= trend.reached_on
    if trend.reached_on and trend.latest_on:
        assert trend.reached_on <= trend.latest_on


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (partial(wear_trend, readings(50), 10), "two readings"),
        (partial(wear_trend, readings(20, 10, 50), 10), "two readings"),
        (partial(wear_trend, readings(50, 40, step_days=0), 10), "one day"),
        (partial(wear_trend, readings(50, 40), 0), "more than 0"),
        (
            partial(standing, 20, condemning_mm=10, release_mm=8),
            "must be reached before",
        ),
        (partial(release_limit_mm, 10, 5, -1), "below 0 months"),
    ],
)
def test_a_trend_that_cannot_be_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
