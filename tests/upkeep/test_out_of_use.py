"""Periods that stand still while a vehicle is out of use, and those that do not."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.engineering.calendar import Moment
from fleet.upkeep.due import Anchor, Period, course, edge

D = dt.date
TESTED = D(2025, 1, 10)
# 49 CFR 229.27(a), text of Nov 2024: every 368 calendar days. 229.33, from memory: the
# interval is extended by each period out of use of at least 30 consecutive days.
ANNUAL = Period(days=368, still_days=30)
PLAIN_END = D(2026, 1, 13)  # 10 Jan 2025 + 365 = 10 Jan 2026; three more: 13 Jan


def due(*away, period=ANNUAL):
    """The edge of the annual test, with some days out of use."""
    return edge(Anchor(Moment.on(TESTED)), period, None, away)


def test_with_no_time_out_of_use_it_ends_by_the_calendar():
    assert due().due_on == PLAIN_END


@pytest.mark.parametrize(
    ("until", "last"),
    [
        # Out of use from 1 June: June has 30 days, so 1 July is the 30th day on.
        pytest.param(D(2025, 7, 1), D(2026, 2, 12), id="30 days count"),
        pytest.param(D(2025, 6, 30), PLAIN_END, id="29 days do not"),
    ],
)
def test_a_period_of_at_least_30_days_on_end_extends_it_by_its_days(until, last):
    # Hand-counted: 13 Jan 2026 + 30 days = 12 Feb 2026.
    assert due((D(2025, 6, 1), until)).due_on == last


def test_each_such_period_counts_and_shorter_ones_between_do_not():
    # 31 days in March, 10 in May, 61 in July and August: 13 Jan 2026 + 92 = 15 Apr 2026.
    found = due(
        (D(2025, 3, 1), D(2025, 4, 1)),
        (D(2025, 5, 1), D(2025, 5, 11)),
        (D(2025, 7, 1), D(2025, 8, 31)),
    )

    assert found.due_on == D(2026, 4, 15)
    assert "extended by 92 days out of use" in found.basis


def test_only_the_days_since_it_was_last_done_count():
    # Out of use 1 Dec 2024 to 1 Mar 2025, tested on 10 Jan: 11 Jan to 28 Feb, 49 days.
    found = due((D(2024, 12, 1), D(2025, 3, 1)))

    assert found.due_on == D(2026, 3, 3)  # 13 Jan + 49
    assert found.credited_days == 49


def test_what_is_left_of_a_period_after_the_test_must_be_long_enough_itself():
    assert due((D(2024, 12, 1), D(2025, 2, 8))).due_on == PLAIN_END  # 28 days left


def test_a_later_period_may_count_because_an_earlier_one_did():
    # 60 days from 1 June move 13 Jan to 14 Mar 2026; 1 Feb is within that: 31 more.
    found = due(
        (D(2025, 6, 1), D(2025, 7, 31)),
        (D(2026, 2, 1), D(2026, 3, 4)),
    )

    assert found.due_on == D(2026, 4, 14)


def test_put_away_overdue_it_comes_back_overdue():
    assert due((D(2026, 1, 14), D(2026, 6, 1))).due_on == PLAIN_END


def test_the_tolerance_comes_on_top_and_is_not_itself_stretched():
    period = ANNUAL._replace(tolerance_days=14)

    stretched = due((D(2025, 6, 1), D(2025, 7, 1)), period=period)
    put_away_in_tolerance = due((D(2026, 1, 20), D(2026, 6, 1)), period=period)

    assert stretched.last_good_day == D(2026, 2, 26)  # 12 Feb + 14
    assert put_away_in_tolerance.last_good_day == D(2026, 1, 27)  # 13 Jan + 14


def test_nothing_is_credited_before_it_is_known_how_long_it_was():
    found = due((D(2025, 6, 1), None))

    assert (found.due_on, found.forecast) == (PLAIN_END, True)
    assert "out of use since 1 Jun 2025: credited once it is back" in found.basis


def test_rubber_ages_whether_it_is_used_or_not():
    hose = Period(months=96)

    assert due((D(2025, 6, 1), D(2028, 6, 1)), period=hose).due_on == D(2033, 1, 10)


def test_usage_is_not_stretched_by_standing():
    with_miles = ANNUAL._replace(miles=5_000)

    found = due((D(2025, 6, 1), D(2025, 7, 1)), period=with_miles)

    assert found.due_on == D(2026, 2, 12)
    assert "no usage is recorded" in found.basis


def test_months_and_days_together_end_with_whichever_comes_first():
    assert due(period=Period(months=12, days=368)).due_on == D(2026, 1, 10)
    assert due(period=Period(months=13, days=368)).due_on == PLAIN_END


def test_an_overrun_between_two_tests_is_shortened_by_the_days_out_of_use():
    again = Moment.on(D(2026, 3, 1))
    away = [(D(2025, 6, 1), D(2025, 7, 1))]

    without = course([Moment.on(TESTED), again], ANNUAL)
    credited = course([Moment.on(TESTED), again], ANNUAL, None, None, away)

    assert without.overruns[0].since == D(2026, 1, 14)
    assert credited.overruns[0].since == D(2026, 2, 13)


AWAY = st.lists(
    st.tuples(st.integers(0, 500), st.integers(1, 90)),
    max_size=4,
    unique_by=lambda p: p,
).map(
    lambda found: [
        (TESTED + dt.timedelta(days=a), TESTED + dt.timedelta(days=a + n))
        for a, n in found
    ]
)


def apart(periods):
    """Periods in order, those that overlap left out."""
    kept = []
    for since, until in sorted(periods):
        if not kept or kept[-1][1] < since:
            kept.append((since, until))
    return kept


@given(AWAY, st.randoms(use_true_random=False))
def test_credit_does_not_depend_on_the_order_of_recording(found, random):
    periods = apart(found)
    shuffled = random.sample(periods, len(periods))

    assert due(*shuffled) == due(*periods)


@given(AWAY, st.integers(0, 500), st.integers(30, 200))
def test_a_period_more_never_brings_the_date_forward(found, after, length):
    periods = apart(found)
    begins = max(
        [until for _, until in periods] + [TESTED + dt.timedelta(days=after)]
    ) + dt.timedelta(days=1)

    more = due(*periods, (begins, begins + dt.timedelta(days=length)))

    assert more.due_on >= due(*periods).due_on >= PLAIN_END
