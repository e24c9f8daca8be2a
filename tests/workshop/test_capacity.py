"""What the workshop has in a week: hours, places, closures, and how they bear on one another."""

import pytest
from django.core.exceptions import ValidationError

from fleet.people.models import Skill
from fleet.records.refusing import codes_of
from fleet.records.verifying import prove
from fleet.workshop.capacity import capacity
from fleet.workshop.keeping import CLOSURES, HOURS, correct, retract, revise
from fleet.workshop.models import ClosureVersion, WorkTimeVersion
from fleet.workshop.vocabulary import Each, Place
from tests.workshop.kept import MONDAY, day, make_closure, make_hours, make_place

pytestmark = pytest.mark.django_db


def hours(weeks=2, skill=Skill.AIR):
    """The hours of a skill, week by week from Monday 4 May 2026."""
    return capacity(MONDAY, weeks).hours.get(skill)


def test_hours_each_week_count_in_full_in_a_week_that_is_open():
    make_hours(hours=40)

    assert hours() == (40, 40)


@pytest.mark.parametrize(
    ("first", "last", "left"),
    [
        pytest.param("2026-05-04", "2026-05-04", 32, id="one working day of five"),
        pytest.param("2026-05-09", "2026-05-10", 40, id="a weekend only"),
        pytest.param("2026-05-04", "2026-05-07", 8, id="all but Friday"),
        pytest.param("2026-05-04", "2026-05-08", 0, id="all working days"),
    ],
)
def test_hours_each_week_go_down_with_the_working_days_that_are_shut(first, last, left):
    make_hours(hours=40)

    make_closure(first=day(first), last=day(last))

    assert hours() == (left, 40)


def test_hours_begin_and_end_within_a_week_in_proportion():
    make_hours(hours=40, first=day("2026-05-06"), last=day("2026-05-12"))

    assert hours() == (24, 16)  # Wednesday to Friday, Monday and Tuesday


def test_only_a_shop_shut_on_every_working_day_closes_the_week():
    make_closure(first=day("2026-05-04"), last=day("2026-05-08"))
    make_closure(first=day("2026-05-11"), last=day("2026-05-14"))

    assert capacity(MONDAY, 3).closed == {0}


def test_two_closures_that_meet_close_a_week_together():
    make_closure(first=day("2026-05-01"), last=day("2026-05-05"))
    make_closure(first=day("2026-05-06"), last=day("2026-05-12"))

    assert capacity(MONDAY, 2).closed == {0}


def test_a_working_weekend_counts_its_days_and_loses_one_that_is_shut():
    weekend = {"first": day("2026-05-09"), "last": day("2026-05-10")}
    make_hours(title="Volunteers", hours=30, each=Each.DAY, **weekend)
    assert hours() == (60, 0)

    make_closure(first=day("2026-05-10"), last=day("2026-05-10"))

    assert hours() == (30, 0)


def test_hours_in_all_are_spread_over_the_weeks_that_are_not_closed():
    bought = {"first": day("2026-05-04"), "last": day("2026-05-29"), "hours": 20}
    make_hours(title="Bought in", each=Each.ONCE, **bought)
    assert hours(5) == (5, 5, 5, 5, 0)

    make_closure(first=day("2026-05-11"), last=day("2026-05-15"))

    assert hours(5) == (7, 0, 7, 6, 0)


def test_hours_in_all_that_began_before_the_window_leave_their_later_share():
    bought = {"first": day("2026-04-27"), "last": day("2026-05-08"), "hours": 21}
    make_hours(title="Bought in", each=Each.ONCE, **bought)

    assert hours() == (10, 0)  # eleven of them in the week before


def test_skills_are_kept_apart_and_sources_of_one_skill_added_up():
    make_hours(hours=40)
    make_hours(title="Second fitter", hours=10)
    make_hours(title="Bench", skill=Skill.BENCH, hours=15)

    assert hours(1) == (50,)
    assert hours(1, Skill.BENCH) == (15,)
    assert hours(1, Skill.VESSEL) is None


def test_a_place_counts_where_it_is_there_and_open_on_every_working_day():
    make_place(name="Road 1")
    make_place(name="Road 2", last=day("2026-05-14"))
    pit = make_place(name="Pit", kind=Place.PIT)

    make_closure(place=pit.place, first=day("2026-05-13"), last=day("2026-05-13"))

    found = capacity(MONDAY, 3)
    assert found.roads == (2, 1, 1)
    assert found.pits == (1, 0, 1)


def test_a_place_that_is_shut_takes_no_hours_away():
    make_hours(hours=40)
    road = make_place()

    make_closure(place=road.place, first=day("2026-05-04"), last=day("2026-05-08"))

    assert hours() == (40, 40)
    assert capacity(MONDAY, 2).closed == frozenset()


def test_what_is_revised_corrected_and_retracted_counts_as_it_stands_and_is_sealed():
    source = make_hours(hours=40)
    shut = make_closure(first=day("2026-05-04"), last=day("2026-05-08"))

    retract(CLOSURES, by=None, version=shut, reason="The party is in June")
    fewer = revise(HOURS, by=None, version=source, hours=30)
    correct(HOURS, by=None, version=fewer, reason="Misread", hours=35)

    assert hours() == (35, 35)
    assert WorkTimeVersion.objects.count() == 3
    assert prove().faults == []


@pytest.mark.parametrize(
    ("make", "values", "code"),
    [
        pytest.param(
            make_hours, {"last": day("2025-01-01")}, "ends_first", id="ends first"
        ),
        pytest.param(make_hours, {"each": Each.DAY}, "no_end", id="days without end"),
        pytest.param(make_hours, {"each": Each.ONCE}, "no_end", id="in all, no end"),
        pytest.param(make_closure, {"first": MONDAY}, "no_end", id="shut for good"),
        pytest.param(make_hours, {"hours": 0}, "min_value", id="no hours"),
    ],
)
def test_what_makes_no_sense_is_refused(make, values, code):
    with pytest.raises(ValidationError) as refused:
        make(**values)

    assert code in codes_of(refused.value)
    assert not WorkTimeVersion.objects.exists()
    assert not ClosureVersion.objects.exists()


@pytest.mark.parametrize("size", [1, 7])
def test_reading_it_takes_as_many_queries_for_much_as_for_little(
    size, django_assert_num_queries
):
    for number in range(size):
        make_hours(title=f"Fitter {number}")
        make_place(name=f"Road {number}")
        make_closure(first=day("2026-05-05"), last=day("2026-05-05"))

    with django_assert_num_queries(3):  # closures, places, hours
        capacity(MONDAY, 26)
