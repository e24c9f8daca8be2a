"""The forecast: every time something falls due, its window, its work, its weeks."""

import pytest

from fleet.register.services.usage import log_usage
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import Effect, Scope, VehicleStatus
from fleet.ui.week_bars import Week
from fleet.upkeep.models import Requirement
from fleet.upkeep.services import revise_requirement
from fleet.workshop.forecast import Ask, done_together, forecast, load_by_week
from fleet.workshop.load import load_words
from tests.upkeep.factories import (
    make_concession_policy,
    make_requirement,
)
from tests.web.scenes import TODAY, coach, day, fleet, on, standing_at_today
from tests.workshop.factories import make_plan

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


def annual():
    """The yearly air brake test of the practice."""
    return Requirement.objects.get(code="annual")


def dates(**asked):
    """When things fall due, in order."""
    return [row.due for row in forecast(Ask(**asked), TODAY)]


def test_a_yearly_test_falls_due_each_year_on_its_corresponding_date():
    fleet(1)

    assert dates(months=36) == [
        day("2027-03-05"),
        day("2028-03-05"),
        day("2029-03-05"),
    ]


def test_months_end_with_the_last_day_of_a_shorter_month():
    coach("T 101", tested="2026-02-28")
    make_requirement(code="half", months=6)

    # 31 August has no corresponding date; 28 has one in every month
    assert dates(months=24, requirement="half") == [
        day("2026-08-28"),
        day("2027-02-28"),
        day("2027-08-28"),
        day("2028-02-28"),
    ]


def test_the_horizon_is_at_most_three_years():
    fleet(1)

    assert dates(months=600) == dates(months=36)


def test_what_is_overdue_counts_again_from_today():
    coach("T 101", tested="2025-01-10")
    make_requirement(code="annual")

    first, second = forecast(Ask(months=12), TODAY)

    assert (first.due, first.overdue) == (day("2026-01-10"), True)
    assert (second.due, second.time) == (day("2027-05-10"), 1)


def test_miles_bring_the_later_dates_nearer_at_the_rate_of_the_recent_past():
    (vehicle,) = fleet(1)
    make_requirement(code="far", months=24, miles=1000)
    log_usage(
        by=None,
        vehicle=vehicle,
        first=day("2026-03-06"),
        last=day("2026-05-09"),
        miles=650,
        days=30,
    )

    first, second = forecast(Ask(months=6, requirement="far"), TODAY)

    # ten miles a day since the test of 5 March: the hundredth day, and a hundred on
    assert (first.due, first.estimated) == (day("2026-06-13"), True)
    assert second.due == day("2026-09-21")


def test_a_later_date_follows_the_revision_that_rules_by_then():
    fleet(1)
    revise_requirement(
        by=None,
        requirement=annual(),
        effective_from=day("2027-01-01"),
        reason="Doubled.",
        months=24,
    )

    assert dates(months=36) == [day("2028-03-05")]


def test_the_window_runs_from_sensible_over_due_to_where_a_concession_could_go():
    coach("T 101")
    make_concession_policy()
    make_plan(make_requirement(code="annual", tolerance_days=14), early_days=56)

    (row,) = forecast(Ask(), TODAY)

    assert (row.earliest, row.due, row.last_good) == (
        day("2027-01-08"),
        day("2027-03-05"),
        day("2027-03-19"),
    )
    assert (row.conceded, row.standing) == (day("2027-05-18"), False)


@pytest.mark.parametrize(
    "values",
    [
        pytest.param({"effect": Effect.ADVISE}, id="nothing to concede"),
        pytest.param({"concession_days": 0}, id="not a day by the requirement"),
    ],
)
def test_no_concession_is_held_out_where_none_could_be_granted(values):
    coach("T 101")
    make_concession_policy()
    make_requirement(code="annual", **values)

    (row,) = forecast(Ask(), TODAY)

    assert row.conceded is None


def test_a_scope_the_policy_never_concedes_has_none_held_out():
    coach("T 101")
    make_concession_policy(never_scopes=[Scope.AIR_BRAKE.value])
    make_requirement(code="annual")

    (row,) = forecast(Ask(), TODAY)

    assert row.conceded is None


@pytest.mark.parametrize(
    ("tested", "conceded"),
    [
        pytest.param("2025-03-11", day("2026-05-10"), id="its last day is today"),
        pytest.param("2025-03-10", None, id="it would have ended yesterday"),
    ],
)
def test_no_concession_is_held_out_that_would_be_over_already(tested, conceded):
    coach("T 101", tested=tested)
    make_concession_policy()
    make_requirement(code="annual")

    first = forecast(Ask(months=1), TODAY)[0]

    assert first.conceded == conceded


def test_a_vehicle_withdrawn_is_left_out():
    (vehicle,) = fleet(1)
    alter_vehicle(
        by=None,
        vehicle=vehicle,
        since=on("2026-05-01"),
        status=VehicleStatus.WITHDRAWN,
    )

    assert dates() == []


def test_work_of_one_name_whose_windows_meet_is_done_together():
    coach("T 101")
    make_plan(make_requirement(code="a", title="First"), together="yearly")
    make_plan(make_requirement(code="b", title="Second"), together="yearly")
    make_plan(make_requirement(code="c", title="Third", months=6), together="yearly")
    found = forecast(Ask(months=12), TODAY)

    together = done_together(found)

    by_title = {(r.falling.title, r.time): together[r.key] for r in found}
    assert by_title["First", 0] == ["Second", "Third"]  # the third's second time
    assert by_title["Third", 0] == []


@pytest.mark.parametrize(
    ("over", "words"),
    [
        (1, "1 week asks for more than there is."),
        (2, "2 weeks ask for more than there is."),
    ],
)
def test_weeks_that_ask_too_much_are_counted_in_words(over, words):
    weeks = [Week(day("2026-06-01"), asked=9, there=8)] * over

    assert load_words(weeks).endswith(words)


def test_the_load_of_a_week_is_what_falls_due_in_it_and_this_week_what_is_late():
    coach("T 101", tested="2025-01-10")
    coach("T 102", tested="2025-06-02")
    make_plan(make_requirement(code="annual"), hours={"air": 4, "gear": 2})

    load = load_by_week(forecast(Ask(months=2), TODAY), TODAY, day("2026-06-30"))

    assert {monday: hours for monday, hours in load.items() if hours} == {
        day("2026-05-04"): {"air": 4, "gear": 2},  # overdue: the week of today
        day("2026-06-01"): {"air": 4, "gear": 2},
    }
    assert len(load) == 9
