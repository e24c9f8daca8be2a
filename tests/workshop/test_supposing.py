"""What is supposed changes the problem where it is said to, and nowhere else."""

from dataclasses import replace
from datetime import date

import pytest

from fleet.workshop.engine.absence import absent, line_of
from fleet.workshop.engine.problem import (
    Capacity,
    Float,
    Job,
    Need,
    Pin,
    Problem,
    Vehicle,
)
from fleet.workshop.engine.score import fit_vehicles
from fleet.workshop.suppositions import supposing, title_of, words_of
from fleet.workshop.vocabulary import Wish

WEEKS = 10
MAY_WEEKEND = {"first": "2026-01-19", "last": "2026-01-25"}  # all of week 2
AIR = frozenset({"air"})

SHOP = Problem(
    start=date(2026, 1, 5),
    weeks=WEEKS,
    vehicles=tuple(Vehicle(key, f"Van {key}", AIR) for key in "abc"),
    jobs=(Job("1", "a", "Test", due=20, last_good=20, life=365, holds=AIR),),
    capacity=Capacity(
        {"air": (20,) * WEEKS, "gear": (9,) * WEEKS}, (2,) * WEEKS, (1,) * WEEKS
    ),
    floats=(
        Float("D", "distributors", 1, 10, ((3, 2),)),
        Float("C", "cylinders", 1, 8, ((3, 1),)),
    ),
    needs=tuple(Need("air", week, 2) for week in range(WEEKS)),
)


def test_a_late_contractor_delays_what_is_away_and_what_will_be():
    late = {"kind": "contractor late", "name": "Eller", "groups": ["D"], "weeks": 6}

    found = supposing(SHOP, [late])

    assert found.floats == (
        Float("D", "distributors", 1, 16, ((9, 2),)),
        SHOP.floats[1],
    )
    assert words_of(late) == "Eller is 6 weeks late"


@pytest.mark.parametrize(
    ("skill", "hours", "air", "gear"),
    [
        pytest.param("air", None, 0, 9, id="all of one skill"),
        pytest.param("", 5, 15, 4, id="some of every skill"),
        pytest.param("gear", 40, 20, 0, id="never below nought"),
    ],
)
def test_a_lost_work_weekend_takes_its_hours_from_its_week(skill, hours, air, gear):
    lost = {"kind": "hours lost", "name": "May", "skill": skill, "hours": hours}

    found = supposing(SHOP, [lost | MAY_WEEKEND]).capacity.hours

    assert found["air"][1:4] == (20, air, 20)
    assert found["gear"][1:4] == (9, gear, 9)


def test_a_lost_road_is_lost_in_its_weeks():
    lost = {"kind": "place lost", "place": "road", "number": 1} | MAY_WEEKEND

    found = supposing(SHOP, [lost]).capacity

    assert found.roads[1:4] == (2, 1, 2)
    assert found.pits == SHOP.capacity.pits


def test_more_units_are_there_from_the_start():
    more = {"kind": "more units", "group": "C", "name": "cylinders", "number": 3}

    assert [f.stock for f in supposing(SHOP, [more]).floats] == [1, 4]


def test_lent_vehicles_fill_no_line_and_stand_in_no_shop_in_those_weeks():
    lent = {"kind": "vehicles away", "vehicles": ["a", "b"], "names": ["A", "B"]}

    found = supposing(SHOP, [lent | MAY_WEEKEND])

    there = {need.week: fit for need, fit in fit_vehicles(found, {("1", 0): 1}).items()}
    assert there[2] == {"c"}
    assert there[3] == {"a", "b", "c"}
    assert set(found.pins) == {
        Pin(Wish.NOT_IN, frozenset({2}), vehicle=key) for key in "ab"
    }


def test_what_keeps_a_vehicle_out_keeps_it_out_of_weeks_with_others_missing_too():
    without_b = absent(SHOP, {("b", "air"): frozenset({5, 6})})

    left = {need.week: fit for need, fit in fit_vehicles(without_b, {}).items()}

    assert left[1] == {"a", "b", "c"}
    assert left[4] == {"b", "c"}  # a is overdue
    assert left[5] == {"c"}


def test_whoever_is_missing_all_the_time_leaves_the_lines_as_they_are():
    without_b = absent(SHOP, {("b", "air"): frozenset(range(WEEKS))})

    assert without_b == replace(
        SHOP,
        vehicles=(
            SHOP.vehicles[0],
            replace(SHOP.vehicles[1], pools=frozenset()),
            *SHOP.vehicles[2:],
        ),
    )


def test_a_line_is_known_by_its_name_however_many_are_missing():
    once = absent(SHOP, {("b", "air"): frozenset({5})})
    twice = absent(
        once, {("c", pool): frozenset({5}) for pool in once.vehicles[2].pools}
    )

    assert {line_of(need.pool) for need in twice.needs} == {"air"}
    fit = {need.week: fit for need, fit in fit_vehicles(twice, {("1", 0): 1}).items()}
    assert fit[5] == {"a"}


LATE = {"kind": "contractor late", "name": "Eller", "groups": ["D"], "weeks": 6}
MORE = {"kind": "more units", "group": "C", "name": "cylinders", "number": 3}
LENT = {"kind": "vehicles away", "vehicles": ["a", "b"], "names": ["A", "B"]}
MANY = LENT | {"names": [f"Van {n}" for n in range(100, 130)]}


@pytest.mark.parametrize(
    ("supposed", "title"),
    [
        pytest.param(
            [LATE, MORE],
            "What if: Eller is 6 weeks late; 3 more: cylinders",
            id="all that is supposed",
        ),
        pytest.param(
            [LATE, MORE, LENT | MAY_WEEKEND, LENT | MAY_WEEKEND],
            "What if: Eller is 6 weeks late; 3 more: cylinders and 2 more",
            id="as many as it holds",
        ),
        pytest.param(
            [MANY | MAY_WEEKEND],
            f"What if: {', '.join(f'Van {n}' for n in range(100, 110))}…",
            id="one that is too long is cut",
        ),
    ],
)
def test_a_variant_is_called_by_all_it_supposes_as_far_as_a_title_holds(
    supposed, title
):
    assert len(title) <= 100
    assert title_of(supposed) == title


def test_a_supposition_that_nobody_knows_is_refused():
    with pytest.raises(ValueError, match="weather"):
        supposing(SHOP, [{"kind": "weather"}])
