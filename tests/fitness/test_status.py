"""What pages read: the board of a day, spans in a window, what falls due, counts."""

import pytest

from fleet.fitness.status import (
    board_rows,
    counts,
    current_verdict,
    due_between,
    spans_for,
)
from fleet.records.models import Entry
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import Fitment, Level, System
from tests.fitness.histories import day, make_history, make_policy, on
from tests.fitness.test_reassess import fleet, revise, stop
from tests.register.factories import make_vehicle

pytestmark = pytest.mark.django_db

DAY = day("2026-05-10")


def test_the_board_shows_each_vehicle_with_its_level_and_next_change():
    first, second = fleet(2)
    stop(first)

    rows = {row.vehicle: row for row in board_rows(DAY)}

    stopped, fit = rows[first.pk], rows[second.pk]
    assert stopped.systems[System.AIR].level is Level.STOPPED
    assert stopped.systems[System.AIR].span.words == "Not to run in an air train"
    assert fit.systems[System.AIR].level is Level.BRAKED
    assert fit.next_change.until == day("2027-03-06")
    assert (fit.type_code, fit.type_name, fit.status) == (
        "coach-air",
        "Open coach",
        "in_traffic",
    )


def test_the_board_shows_only_systems_the_vehicle_is_fitted_for():
    dual = make_vehicle(vacuum=Fitment.PIPED)

    (row,) = board_rows(DAY)

    assert row.vehicle == dual.pk
    assert {s: v.fitment for s, v in row.systems.items()} == {
        System.AIR: Fitment.BRAKED,
        System.VACUUM: Fitment.PIPED,
    }


def test_a_vehicle_fitted_for_nothing_is_on_the_board_without_a_level():
    make_vehicle(air=Fitment.NONE, main_reservoir_pipe="none")

    (row,) = board_rows(DAY)

    assert row.systems == {}
    assert row.next_change is None


def test_the_board_of_a_day_has_the_particulars_of_that_day():
    vehicle = make_vehicle(number="T 1")
    alter_vehicle(by=None, vehicle=vehicle, since=on("2025-01-01"), number="T 2")

    assert [row.number for row in board_rows(day("2024-12-31"))] == ["T 1"]
    assert [row.number for row in board_rows(day("2025-01-01"))] == ["T 2"]
    assert board_rows(day("2014-12-31")) == []


def test_a_stale_vehicle_is_not_yet_reassessed_and_has_no_level(settings):
    settings.FLEET_REASSESS_AT_ONCE = 1
    first, _ = fleet(2)
    revise()

    rows = board_rows(DAY, first=DAY, last=day("2027-05-10"))

    assert all(row.stale for row in rows)
    assert all(row.systems[System.AIR].level is None for row in rows)
    assert all(row.systems[System.AIR].strip == [] for row in rows)
    assert spans_for(first.pk, DAY, DAY) == []
    assert counts(DAY).stale == 2
    assert not counts(DAY).levels[System.AIR]


def test_a_strip_holds_the_spans_that_touch_its_window_in_order():
    (vehicle,) = fleet(1)

    (row,) = board_rows(DAY, first=day("2026-03-05"), last=day("2027-03-06"))

    strip = row.systems[System.AIR].strip
    assert [span.level for span in strip] == [Level.BRAKED, Level.PIPED]
    assert strip == spans_for(vehicle.pk, day("2026-03-05"), day("2027-03-06"))
    assert [s.level for s in spans_for(vehicle.pk, DAY, DAY)] == [Level.BRAKED]


@pytest.mark.parametrize("vehicles", [1, 5])
def test_the_board_takes_four_queries_however_many_vehicles(
    django_assert_num_queries, vehicles
):
    fleet(vehicles)

    with django_assert_num_queries(4):
        rows = board_rows(DAY, first=DAY, last=day("2028-05-10"))

    assert len(rows) == vehicles


def test_the_board_can_be_asked_for_some_vehicles_only():
    first, _, third = fleet(3)

    rows = board_rows(DAY, vehicle_ids=[first.pk, third.pk])

    assert {row.vehicle for row in rows} == {first.pk, third.pk}


def test_counts_are_those_of_the_board(django_assert_num_queries):
    first, *_ = fleet(3)
    stop(first)

    with django_assert_num_queries(2):
        found = counts(DAY)

    assert found.levels[System.AIR] == {Level.STOPPED: 1, Level.BRAKED: 2}
    assert found.stale == 0


def test_what_falls_due_comes_in_order_with_the_number():
    first, second = fleet(2)

    due = list(due_between(day("2027-01-01"), day("2027-03-05")))

    assert [(d.vehicle_id, d.due_on) for d in due] == sorted(
        [(first.pk, day("2027-03-05")), (second.pk, day("2027-03-05"))]
    )
    assert {d.number for d in due} == {v.versions.get().number for v in (first, second)}
    assert list(due_between(day("2027-03-06"), day("2028-01-01"))) == []


@pytest.mark.parametrize("vehicles", [1, 4])
def test_the_due_list_takes_one_query_however_many_vehicles(
    django_assert_num_queries, vehicles
):
    fleet(vehicles)

    with django_assert_num_queries(1):
        due = [
            (d.number, str(d.equipment)) for d in due_between(None, day("2030-01-01"))
        ]

    assert len(due) == vehicles


def test_a_vehicle_as_known_earlier_is_judged_on_what_was_known():
    (vehicle,) = fleet(1)
    known = Entry.objects.latest("number").number
    stop(vehicle)

    then = current_verdict(vehicle.pk, known_at=known)
    now = current_verdict(vehicle.pk)

    assert then.span_on(System.AIR, DAY).level is Level.BRAKED
    assert now.span_on(System.AIR, DAY).level is Level.STOPPED
    assert current_verdict(vehicle.pk, known_at=0) is None


@pytest.mark.parametrize("facts", [make_vehicle, make_history])
def test_one_vehicles_verdict_takes_the_same_queries_whatever_it_has(
    django_assert_num_queries, facts
):
    make_policy()
    made = facts()
    vehicle = getattr(made, "vehicle", made)
    current_verdict(vehicle.pk)

    with django_assert_num_queries(10):
        current_verdict(vehicle.pk)
