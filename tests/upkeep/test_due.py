"""Due dates: calendar months, service days, miles, whichever first; overruns."""

import datetime as dt
from dataclasses import dataclass

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from fleet.engineering.calendar import Moment, add_months
from fleet.upkeep.due import (
    Anchor,
    Period,
    course,
    edge,
    later,
    written,
)
from fleet.upkeep.usage import Limb, UsageRecord

D = dt.date
DATES = st.dates(D(1900, 1, 1), D(2150, 12, 31))


@dataclass(frozen=True)
class Log:
    first: dt.date
    last: dt.date
    miles: float = 0.0
    days: int = 0


def usage(*logs, window=365):
    return UsageRecord([Log(*log) for log in logs], window)


def due(anchor, period, record=None):
    return edge(Anchor(Moment.on(anchor)), period, record)


@pytest.mark.parametrize(
    ("start", "months", "last"),
    [
        # Dodds v Walker [1981] 1 WLR 1027 (HL), the corresponding-date rule
        pytest.param(D(1978, 9, 30), 4, D(1979, 1, 30), id="Dodds v Walker"),
        # python-dateutil, documented examples of relativedelta
        pytest.param(D(2005, 1, 31), 1, D(2005, 2, 28), id="end of month clipped"),
        pytest.param(D(2003, 9, 17), 1, D(2003, 10, 17), id="same-numbered day"),
        # derived: 29 February has a corresponding date every fourth year
        pytest.param(D(2024, 2, 29), 12, D(2025, 2, 28), id="leap day, a year on"),
        pytest.param(D(2024, 2, 29), 48, D(2028, 2, 29), id="leap day, four years on"),
    ],
)
def test_a_period_of_months_ends_on_the_corresponding_date(start, months, last):
    assert due(start, Period(months=months)).due_on == last


def test_months_are_counted_from_the_anchor_and_never_chained():
    ends = [due(D(2025, 1, 31), Period(months=n)).due_on for n in range(1, 7)]

    assert [(day.month, day.day) for day in ends] == [
        (2, 28),
        (3, 31),
        (4, 30),
        (5, 31),
        (6, 30),
        (7, 31),
    ]


@given(DATES, st.integers(0, 480))
def test_months_agree_with_the_reference_library(start, months):
    assert add_months(start, months) == start + relativedelta(months=months)


@given(DATES, st.integers(0, 480), st.integers(0, 480))
def test_a_longer_period_never_ends_sooner(start, months, more):
    assert add_months(start, months) <= add_months(start, months + more)


def test_the_last_good_day_is_the_due_date_and_the_overrun_opens_the_day_after():
    followed = course([Moment.on(D(1978, 9, 30))], Period(months=4))

    # Dodds v Walker: 30 January is in time, 31 January is late.
    assert followed.due.last_good_day == D(1979, 1, 30)
    assert [(o.since, o.until) for o in followed.overruns] == [(D(1979, 1, 31), None)]


def test_the_tolerance_puts_the_overrun_off_but_not_the_due_date():
    followed = course([Moment.on(D(2025, 3, 3))], Period(months=12, tolerance_days=14))

    assert followed.due.due_on == D(2026, 3, 3)
    assert followed.overruns[0].since == D(2026, 3, 18)


def test_a_day_in_service_each_day_makes_days_in_service_calendar_days():
    # 49 CFR 229.31(a): 736 calendar days; derived, 15 Jan 2024 + 736 = 20 Jan 2026.
    record = usage((D(2024, 1, 1), D(2026, 12, 31), 0.0, 1096))

    found = due(D(2024, 1, 15), Period(days_in_service=736), record)

    assert found.due_on == D(2026, 1, 20)
    assert found.limb is Limb.DAYS


def test_thirty_one_service_days_are_counted_as_they_accrue():
    # 49 CFR 230.14: due after 31 accrued service days, counted and recorded.
    logs = [(D(2026, 5, d), D(2026, 5, d), 10.0, 1) for d in range(2, 32, 2)]
    logs += [(D(2026, 6, d), D(2026, 6, d), 10.0, 1) for d in range(1, 31)]

    found = due(D(2026, 5, 1), Period(days_in_service=31), usage(*logs))

    # 15 days in May, the sixteenth more on 16 June
    assert (found.due_on, found.forecast) == (D(2026, 6, 16), False)


def test_miles_are_prorated_evenly_inside_a_log():
    record = usage((D(2026, 1, 1), D(2026, 1, 10), 100.0, 5))

    assert due(D(2025, 12, 31), Period(miles=45), record).due_on == D(2026, 1, 5)


def test_beyond_the_last_log_miles_go_on_at_the_rate_of_the_window():
    record = usage(
        (D(2025, 1, 1), D(2025, 6, 30), 9_000.0),
        (D(2026, 1, 1), D(2026, 1, 10), 100.0),
        window=10,
    )

    found = due(D(2026, 1, 10), Period(miles=200), record)

    assert (found.due_on, found.forecast) == (D(2026, 1, 30), True)


@pytest.mark.parametrize(
    ("miles", "limb", "day"),
    [
        pytest.param(50, Limb.MILES, D(2026, 1, 5), id="miles first"),
        pytest.param(5_000, Limb.CALENDAR, D(2026, 6, 30), id="calendar first"),
    ],
)
def test_whichever_limb_ends_first_counts_and_is_named(miles, limb, day):
    record = usage((D(2026, 1, 1), D(2026, 12, 31), 3_650.0))

    found = due(D(2025, 12, 31), Period(months=6, miles=miles), record)

    assert (found.limb, found.due_on) == (limb, day)
    assert f"whichever first: {limb}" in found.basis


def test_without_any_usage_the_calendar_still_counts():
    found = due(D(2026, 1, 1), Period(months=6, miles=50), usage())

    assert found.due_on == D(2026, 7, 1)
    assert not found.unknown
    assert "no usage is recorded" in found.basis


def test_without_any_usage_a_period_of_usage_alone_is_unknown():
    found = due(D(2026, 1, 1), Period(miles=50), usage())

    assert found.due_on is None
    assert found.unknown


def test_a_vehicle_that_does_not_run_never_reaches_its_miles():
    found = due(
        D(2026, 1, 1), Period(miles=50), usage((D(2026, 1, 1), D(2026, 6, 1), 0.0))
    )

    assert found.due_on is None
    assert not found.unknown
    assert "not reached" in found.basis


def test_usage_before_the_first_log_is_taken_at_the_mean_and_marked_as_estimate():
    record = usage((D(2026, 1, 11), D(2026, 1, 20), 100.0))

    found = due(D(2025, 12, 31), Period(miles=150), record)

    assert (found.due_on, found.forecast) == (D(2026, 1, 15), True)


@given(st.permutations(range(5)))
def test_the_order_of_logs_does_not_matter(order):
    logs = [(D(2026, 1 + n, 1), D(2026, 1 + n, 20), 100.0 * n, n) for n in range(5)]
    period = Period(days_in_service=6, miles=500)

    shuffled = due(D(2026, 1, 1), period, usage(*(logs[n] for n in order)))

    assert shuffled == due(D(2026, 1, 1), period, usage(*logs))


@given(
    DATES,
    st.lists(st.floats(0, 1_000), min_size=1, max_size=6),
    st.integers(0, 5),
    st.floats(1, 5),
)
def test_more_miles_never_make_it_due_later(anchor, miles, at, factor):
    def with_miles(amounts):
        logs = [
            (later(anchor, 30 * n - 60), later(anchor, 30 * n - 40), amount)
            for n, amount in enumerate(amounts)
        ]
        return due(anchor, Period(miles=700), usage(*logs)).due_on or D.max

    at %= len(miles)
    more = [*miles[:at], miles[at] * factor, *miles[at + 1 :]]

    assert with_miles(more) <= with_miles(miles)


def test_the_basis_names_anchor_and_period():
    assert due(D(2024, 3, 3), Period(months=24)).basis == (
        "counted from 3 Mar 2024, 24 months"
    )


def test_the_basis_says_what_an_imprecise_date_was_taken_as():
    made = Anchor(Moment.parse("2019-Q2"), "made")

    found = edge(made, Period(months=96))

    assert found.due_on == D(2027, 4, 1)
    assert found.basis == "made quarter 2 of 2019, taken as 1 Apr 2019, 8 years"


def test_a_period_without_a_limb_is_met_once_and_for_all():
    followed = course([Moment.on(D(2020, 1, 1))], Period())

    assert followed.overruns == ()
    assert followed.due.due_on is None


def test_an_overrun_ends_on_the_day_the_work_is_done():
    done = [Moment.on(D(2024, 1, 10)), Moment.on(D(2025, 3, 1))]

    followed = course(done, Period(months=12))

    assert [(o.since, o.until) for o in followed.overruns] == [
        (D(2025, 1, 11), D(2025, 3, 1)),
        (D(2026, 3, 2), None),
    ]


def test_work_done_on_the_last_good_day_leaves_no_overrun_between():
    done = [Moment.on(D(2024, 1, 10)), Moment.on(D(2025, 1, 10))]

    assert len(course(done, Period(months=12)).overruns) == 1


def test_an_imprecise_date_clears_late_and_counts_on_from_early():
    done = [Moment.on(D(2018, 1, 10)), Moment.parse("2019")]

    followed = course(done, Period(months=12))

    assert [(o.since, o.until) for o in followed.overruns] == [
        (D(2019, 1, 11), D(2019, 12, 31)),
        (D(2020, 1, 2), None),
    ]


def test_a_date_less_precise_than_its_period_proves_nothing():
    followed = course([Moment.parse("2019")], Period(months=6))

    assert followed.first_good == D(2019, 12, 31)
    assert [(o.since, o.until) for o in followed.overruns] == [(D(2019, 12, 31), None)]


def test_a_date_nobody_knows_does_not_count():
    assert course([Moment.unknown()], Period(months=6)).first_good is None


def test_the_first_period_of_a_made_date_needs_no_work_done():
    made = Anchor(Moment.on(D(2019, 1, 1)), "made")

    followed = course([Moment.on(D(2026, 6, 1))], Period(months=96), start=made)

    assert followed.overruns[0].since == D(2034, 6, 2)
    assert followed.first_good == D.min


@given(st.lists(DATES, min_size=1, max_size=5), DATES)
def test_doing_the_work_once_more_never_makes_it_late(done, more):
    def late(days):
        found = course([Moment.on(day) for day in days], Period(months=12)).overruns
        return {o.since: o.until or D.max for o in found}

    def is_late(days, on):
        return any(since <= on < until for since, until in late(days).items())

    for offset in (-400, -1, 0, 1, 364, 366, 400):
        on = later(more, offset)
        if on >= min(done) and not is_late(done, on):
            assert not is_late([*done, more], on)


@given(st.permutations([D(2019, 5, 1), D(2020, 6, 1), D(2022, 7, 1), D(2023, 1, 1)]))
def test_the_order_in_which_work_is_listed_does_not_matter(days):
    listed = course([Moment.on(day) for day in days], Period(months=12))

    assert listed == course([Moment.on(d) for d in sorted(days)], Period(months=12))


def test_a_period_cannot_be_counted_from_an_unknown_date():
    with pytest.raises(ValueError, match="unknown date"):
        edge(Anchor(Moment.unknown()), Period(months=1))


def test_a_due_date_never_leaves_the_calendar():
    found = due(D(2190, 1, 1), Period(months=12_000, tolerance_days=10**6))

    assert found.last_good_day == D(2199, 12, 31)


def test_a_day_is_written_as_on_paper():
    assert written(D(2024, 3, 3)) == "3 Mar 2024"
