"""The running diary as the programme takes it: who can fill a line, and what it wants."""

import pytest
from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment
from fleet.records.refusing import codes_of
from fleet.records.verifying import prove
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import Fitment, System, VehicleStatus
from fleet.workshop.diary import needs, pool_of, pools, pools_of
from fleet.workshop.keeping import LINES, correct, retract, revise
from tests.register.factories import make_type, make_vehicle
from tests.workshop.kept import MONDAY, day, make_line

pytestmark = pytest.mark.django_db


def wants(weeks=4):
    """Week, vehicles and days of every need from Monday 4 May 2026."""
    return [(n.week, n.vehicles, n.days) for n in needs(MONDAY, weeks)]


def test_a_line_wants_its_vehicles_on_its_days_of_each_week_and_no_others():
    make_line(first=day("2026-05-06"), last=day("2026-05-16"), vehicles=3)

    assert wants() == [(0, 3, 5), (1, 3, 6)]


def test_only_the_days_of_the_week_it_runs_on_count():
    weekends = {"first": day("2026-05-10"), "last": day("2026-05-23")}
    make_line(weekdays="67", **weekends)

    assert wants() == [(0, 2, 1), (1, 2, 2), (2, 2, 1)]


def test_a_line_over_and_one_to_come_want_nothing_yet():
    make_line(last=day("2026-05-03"))
    make_line(first=day("2026-06-01"), last=day("2026-06-02"))

    assert wants() == []
    assert pools(MONDAY, 4) == {}


def test_a_need_carries_the_pool_of_its_line_and_its_weight():
    line = make_line(weight=5)

    (need,) = needs(MONDAY, 1)

    assert (need.pool, need.weight) == (f"line-{line.line_id}", 5)
    assert pools(MONDAY, 1) == {need.pool: "Summer trains"}


def test_a_line_of_any_type_is_open_to_all_that_are_braked_on_its_system():
    coach, piped = make_vehicle(), make_vehicle(air=Fitment.PIPED)
    line = make_line()

    found = pools_of()

    assert found[str(coach.pk)] == {System.AIR: {pool_of(line)}}
    assert found[str(piped.pk)] == {}


def test_a_dual_braked_vehicle_fills_each_line_on_the_system_of_that_line_only():
    coach = make_vehicle(vacuum=Fitment.BRAKED)
    air, vacuum = make_line(), make_line(system=System.VACUUM)

    assert pools_of()[str(coach.pk)] == {
        System.AIR: {pool_of(air)},
        System.VACUUM: {pool_of(vacuum)},
    }


def test_a_line_of_a_type_is_filled_by_that_type_and_one_by_name_by_that_vehicle():
    van_type = make_type("van", positions=[])
    coach, other, van = make_vehicle(), make_vehicle(), make_vehicle(type=van_type)
    vans = make_line(vehicle_type=van_type)
    named = make_line(vehicle=coach, vehicles=1)

    found = pools_of()

    assert found[str(coach.pk)][System.AIR] == {pool_of(named)}
    assert found[str(other.pk)][System.AIR] == frozenset()
    assert found[str(van.pk)][System.AIR] == {pool_of(vans)}


def test_a_vehicle_out_of_traffic_fills_nothing():
    stored = make_vehicle()
    make_line()

    since = Moment.on(day("2026-01-01"))
    alter_vehicle(by=None, vehicle=stored, since=since, status=VehicleStatus.STORED)

    assert pools_of() == {}


def test_within_a_window_only_its_lines_are_pools():
    coach = make_vehicle()
    may = make_line()
    make_line(first=day("2027-05-01"), last=day("2027-05-31"))

    assert pools_of(MONDAY, 4)[str(coach.pk)][System.AIR] == {pool_of(may)}
    assert len(pools_of()[str(coach.pk)][System.AIR]) == 2


def test_a_line_revised_corrected_or_retracted_wants_what_stands_now_and_is_sealed():
    line = make_line(last=day("2026-05-10"))

    more = revise(LINES, by=None, version=line, vehicles=4)
    assert wants() == [(0, 4, 7)]
    fewer = correct(LINES, by=None, version=more, reason="Typed 4 for 3", vehicles=3)
    assert wants() == [(0, 3, 7)]
    retract(LINES, by=None, version=fewer, reason="Never agreed")
    assert wants() == []
    assert prove().faults == []


@pytest.mark.parametrize(
    ("values", "code"),
    [
        pytest.param({"last": day("2026-04-01")}, "ends_first", id="ends first"),
        pytest.param(
            {"first": MONDAY, "last": day("2026-05-08"), "weekdays": "67"},
            "no_day",
            id="no such day between",
        ),
        pytest.param({"vehicles": 0}, "min_value", id="none wanted"),
        pytest.param({"weekdays": "08"}, "invalid", id="no days of the week"),
    ],
)
def test_a_line_that_makes_no_sense_is_refused(values, code):
    with pytest.raises(ValidationError) as refused:
        make_line(**values)

    assert code in codes_of(refused.value)


def test_a_vehicle_by_name_must_be_braked_on_the_system_and_counts_as_one():
    coach = make_vehicle()
    for values, code in (
        ({"system": System.VACUUM, "vehicles": 1}, "not_braked"),
        ({"vehicles": 2}, "one_vehicle"),
        ({"vehicles": 1, "vehicle_type": make_type()}, "vehicle_and_type"),
    ):
        with pytest.raises(ValidationError) as refused:
            make_line(vehicle=coach, **values)
        assert code in codes_of(refused.value)
    assert wants() == []


@pytest.mark.parametrize("size", [1, 7])
def test_reading_it_takes_as_many_queries_for_much_as_for_little(
    size, django_assert_num_queries
):
    for _ in range(size):
        make_vehicle()
        make_line()

    with django_assert_num_queries(1):
        assert len(needs(MONDAY, 1)) == size
    with django_assert_num_queries(2):  # lines, vehicles
        assert len(pools_of()) == size
