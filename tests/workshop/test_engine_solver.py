"""What the solver finds can be done, is no worse than a person's programme, and says how good it is."""

import time
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.workshop.engine.checker import broken_rules
from fleet.workshop.engine.combining import Combining
from fleet.workshop.engine.exact import settle
from fleet.workshop.engine.fleet import Fleet
from fleet.workshop.engine.problem import (
    Capacity,
    Float,
    Job,
    Need,
    Pin,
    Place,
    Problem,
    Vehicle,
    Wish,
)
from fleet.workshop.engine.rules import earliest_due
from fleet.workshop.engine.score import score
from fleet.workshop.engine.search import Search
from fleet.workshop.engine.solver import solve
from fleet.workshop.engine.work import Works
from tests.workshop.generate import generated


@pytest.mark.parametrize(("vehicles", "seed"), [(4, 1), (12, 2), (30, 3)])
def test_it_keeps_every_rule_and_is_no_worse_than_both_rules_of_thumb(vehicles, seed):
    problem = generated(vehicles, weeks=80, seed=seed)

    found = solve(problem, seconds=1)

    assert broken_rules(problem, found.starts) == []
    for grouped in (False, True):
        assert found.order <= earliest_due(problem, grouped=grouped).order


def test_whole_plans_combined_keep_every_rule_and_are_less_late_than_a_wall_chart():
    problem = generated(30, weeks=80, seed=3)
    fleet = Fleet(problem, Works(problem))
    asked = []

    def spent():  # by turns, not by the clock: the same on every machine
        asked.append(None)
        return len(asked) / 60

    assert Combining(fleet, {}).run(spent)

    found = score(problem, fleet.starts(), "combined")
    assert broken_rules(problem, found.starts) == []
    for grouped in (False, True):
        assert found.order < earliest_due(problem, grouped=grouped).order


def test_it_stops_within_a_second_of_being_told_to():
    asked = []

    def stop():
        asked.append(time.monotonic())
        return len(asked) > 2

    found = solve(generated(30), seconds=60, should_stop=stop)

    assert time.monotonic() - asked[2] < 1
    assert broken_rules(generated(30), found.starts) == []


def test_it_tells_what_it_has_and_never_anything_worse_than_before():
    told = []

    solve(generated(20), seconds=2, on_progress=told.append)

    orders = [tuple(level.value for level in p.levels) for p in told]
    assert len(told) >= 3
    assert orders == sorted(orders, reverse=True)
    assert [p.seconds for p in told] == sorted(p.seconds for p in told)


def test_without_any_work_there_is_an_empty_programme():
    problem = replace(generated(3), jobs=())

    assert solve(problem, seconds=1).starts == {}


def best(problem):
    """The order of the best programme of all, pins first, proven."""
    fleet = Fleet(problem, Works(problem))
    settled = settle(fleet, lambda: 60, lambda: False)
    order = fleet.order
    assert list(settled.bounds.values()) == list(order)
    assert len(broken_rules(problem, fleet.starts())) == order[0]
    return order


@st.composite
def small_shops(draw):
    """Up to four jobs of two vehicles in ten weeks, with needs and exchange units."""
    jobs = [
        Job(
            f"{n}",
            draw(st.sampled_from("ab")),
            f"Work {n}",
            due=draw(st.integers(-10, 60)),
            last_good=draw(st.integers(0, 60)),
            life=100,
            hours={"fitter": draw(st.integers(1, 8))},
            weeks=draw(st.integers(1, 2)),
            place=draw(st.sampled_from(Place)),
            group=draw(st.sampled_from((None, "D"))),
            interval=draw(st.sampled_from((None, 30))),
            early=14,
            holds=frozenset({"air"}),
        )
        for n in range(draw(st.integers(1, 4)))
    ]
    return Problem(
        start=date(2026, 1, 5),
        weeks=10,
        vehicles=tuple(Vehicle(k, f"Van {k}", frozenset({"air"})) for k in "ab"),
        jobs=tuple(jobs),
        capacity=Capacity({"fitter": (6,) * 10}, (1,) * 10, (1,) * 10, frozenset({3})),
        floats=(Float("D", "distributors", 1, draw(st.sampled_from((None, 4)))),),
        needs=tuple(Need("air", week, 2) for week in (4, 5, 6)),
        pins=(Pin(Wish.AT, frozenset({2, 5}), job="0"),),
    )


def test_a_vehicle_that_comes_for_a_road_is_not_put_on_a_pit_that_is_free():
    """Work on a pit, again and again, lets no other work of the vehicle do without a road."""

    def work(key, vehicle, due, weeks, place, interval):
        return Job(
            key,
            vehicle,
            f"Work {key}",
            due=due,
            last_good=0,
            life=100,
            weeks=weeks,
            place=place,
            interval=interval,
            early=14,
            holds=frozenset({"air"}),
        )

    problem = Problem(
        start=date(2026, 1, 5),
        weeks=10,
        vehicles=tuple(Vehicle(k, f"Van {k}", frozenset({"air"})) for k in "ab"),
        jobs=(
            work("0", "a", 0, 2, Place.PIT, 30),
            work("1", "b", 0, 1, Place.ROAD, 30),
            work("2", "a", 53, 1, Place.ROAD, None),
        ),
        capacity=Capacity({}, (1,) * 10, (1,) * 10, frozenset({3})),
        needs=tuple(Need("air", week, 2) for week in (4, 5, 6)),
        pins=(Pin(Wish.AT, frozenset({2, 5}), job="0"),),
    )

    assert best(problem)[0] == 0  # proven, and every hard rule is kept


def more_of_everything(problem):
    """An hour, a road, a pit and a unit more, and nothing closed."""
    had = problem.capacity
    return replace(
        problem,
        capacity=Capacity(
            {skill: tuple(n + 1 for n in there) for skill, there in had.hours.items()},
            tuple(n + 1 for n in had.roads),
            tuple(n + 1 for n in had.pits),
        ),
        floats=tuple(replace(f, stock=f.stock + 1) for f in problem.floats),
    )


@settings(max_examples=6, deadline=None)
@given(problem=small_shops())
def test_more_capacity_never_makes_the_best_programme_worse(problem):
    assert best(more_of_everything(problem)) <= best(problem)


@settings(max_examples=6, deadline=None)
@given(problem=small_shops(), left_out=st.integers(0, 3))
def test_a_demand_less_never_makes_it_harder(problem, left_out):
    jobs = tuple(j for n, j in enumerate(problem.jobs) if n != left_out)
    pins = tuple(p for p in problem.pins if p.job in {j.key for j in jobs})

    less = best(replace(problem, jobs=jobs, pins=pins))

    assert less[:2] <= best(problem)[:2]
    assert best(replace(problem, pins=()))[1:] <= best(problem)[1:]


@settings(max_examples=10, deadline=None)
@given(problem=small_shops(), seed=st.integers(0, 100))
def test_no_step_of_the_search_is_better_than_the_best_that_is_proven(problem, seed):
    problem = replace(problem, pins=())
    search = Search(Fleet(problem, Works(problem)), {}, seed=seed)

    for _ in range(200):
        search.step(20.0)

    found = score(problem, search.found, "search").order
    assert (0, *found) == search.best
    assert broken_rules(problem, search.found) == []
    assert best(problem) <= search.best
