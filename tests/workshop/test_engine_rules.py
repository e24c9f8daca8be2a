"""A programme is counted as it will go, and what a person would write is one that can be done."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.workshop.engine.checker import broken_rules
from fleet.workshop.engine.problem import (
    Capacity,
    Float,
    Job,
    Need,
    Pin,
    Problem,
    Vehicle,
)
from fleet.workshop.engine.rules import best_rule, earliest_due
from fleet.workshop.engine.score import score
from fleet.workshop.vocabulary import Place, Wish
from tests.workshop.generate import generated


def job(key, vehicle="a", **changed):
    """A day's work of eight hours, due on the Friday of week 4, good for two weeks more."""
    fields = {"due": 32, "last_good": 46, "life": 100, "hours": {"fitter": 8}} | changed
    return Job(key, vehicle, f"Work {key}", **fields)


def shop(*jobs, weeks=20, **changed):
    """Two vehicles, one road, one pit, eight hours a week."""
    fields = {
        "start": date(2026, 1, 5),
        "weeks": weeks,
        "vehicles": tuple(Vehicle(k, f"Van {k}", frozenset({"air"})) for k in "ab"),
        "capacity": Capacity({"fitter": (8,) * weeks}, (1,) * weeks, (1,) * weeks),
    }
    return Problem(jobs=jobs, **fields | changed)


def levels(problem, starts):
    return score(problem, starts, "test").order


def test_work_done_on_its_day_costs_a_visit_and_nothing_else():
    assert levels(shop(job("1")), {("1", 0): 4}) == (0, 0, 5000, 0)


def test_each_day_late_counts_one_and_each_day_early_its_part_of_a_life():
    problem = shop(job("1"))

    assert levels(problem, {("1", 0): 6})[1] == 14
    assert levels(problem, {("1", 0): 3})[2] == 5000 + 7 * 1000


def test_work_left_undone_counts_as_done_in_the_first_week_after_the_programme():
    assert levels(shop(job("1")), {})[1] == 20 * 7 + 4 - 32


def test_the_next_time_falls_due_from_when_this_time_was_done():
    yearly = shop(job("1", interval=70))

    on_time = levels(yearly, {("1", 0): 4, ("1", 1): 14})
    after_an_early_one = levels(yearly, {("1", 0): 3, ("1", 1): 14})

    assert on_time[1] == 0
    assert after_an_early_one[1] == 7


def test_two_jobs_begun_in_one_week_on_one_vehicle_are_one_visit():
    programme = score(shop(job("1"), job("2")), {("1", 0): 4, ("2", 0): 4}, "test")

    assert len(programme.visits) == 1


def test_a_vehicle_past_its_limit_is_short_in_the_diary_until_it_is_done():
    holds = frozenset({"air"})
    needs = tuple(Need("air", week, 2, weight=3, days=2) for week in range(20))
    problem = shop(job("1", holds=holds), needs=needs)

    in_time = levels(problem, {("1", 0): 4})
    past = levels(problem, {("1", 0): 9})

    assert in_time[0] == 6  # the week in the shop
    assert (
        past[0] == 6 * 4
    )  # not good to the end of weeks 6, 7, 8; in the shop in week 9


def test_a_move_from_the_last_published_programme_is_counted():
    problem = shop(job("1"), published={("1", 0): 5})

    assert levels(problem, {("1", 0): 4})[3] == 1
    assert levels(problem, {("1", 0): 5})[3] == 0


@pytest.mark.parametrize(
    ("problem", "starts", "words"),
    [
        (
            shop(job("1"), job("2", "b")),
            {("1", 0): 4, ("2", 0): 4},
            "16 hours asked of 8",
        ),
        (
            shop(job("1", hours={}), job("2", "b", hours={})),
            {("1", 0): 4, ("2", 0): 4},
            "2 vehicles need a road, and there is 1",
        ),
        (
            shop(job("1", weeks=2), job("2")),
            {("1", 0): 4, ("2", 0): 5},
            "still in the shop",
        ),
        (shop(job("1", earliest=3)), {("1", 0): 2}, "before it is sensible"),
        (
            shop(job("1", interval=70, early=7)),
            {("1", 0): 2, ("1", 1): 8},
            "before it is sensible",
        ),
        (shop(job("1", weeks=2)), {("1", 0): 19}, "not within"),
        (
            shop(
                job("1", group="D"),
                floats=(Float("D", "distributors", 0, returns=((6, 1),)),),
            ),
            {("1", 0): 5},
            "distributors: 1 needed by the week of 9 February 2026, 0 there",
        ),
        (
            shop(job("1"), pins=(Pin(Wish.AT, frozenset({7}), job="1"),)),
            {("1", 0): 4},
            "does not begin where it is pinned",
        ),
        (
            shop(job("1"), pins=(Pin(Wish.NOT_IN, frozenset({4}), vehicle="a"),)),
            {("1", 0): 4},
            "against a pin",
        ),
    ],
)
def test_a_broken_rule_is_named_in_words(problem, starts, words):
    assert words in " ".join(broken_rules(problem, starts))


def test_a_closed_week_is_kept_free():
    problem = shop(job("1"))
    closed = replace(problem, capacity=replace(problem.capacity, closed=frozenset({4})))

    assert broken_rules(problem, {("1", 0): 4}) == []
    assert "which is closed" in broken_rules(closed, {("1", 0): 4})[0]


def test_a_unit_taken_off_serves_again_after_its_overhaul():
    stock = (Float("D", "distributors", 1, turnaround=5),)
    problem = shop(job("1", group="D"), job("2", "b", group="D"), floats=stock)

    assert broken_rules(problem, {("1", 0): 4, ("2", 0): 9}) == []
    assert broken_rules(problem, {("1", 0): 4, ("2", 0): 8}) != []


def test_a_vehicle_on_the_pit_needs_no_road():
    jobs = (
        job("1", hours={}, place=Place.PIT),
        job("2", hours={}),
        job("3", "b", hours={}),
    )

    assert broken_rules(shop(*jobs), {("1", 0): 4, ("2", 0): 4, ("3", 0): 4}) == []


def test_plain_takes_each_job_as_late_as_is_in_time_and_grouped_takes_them_together():
    problem = shop(job("1", hours={}), job("2", hours={}, due=53))

    assert earliest_due(problem, grouped=False).starts == {("1", 0): 4, ("2", 0): 7}
    assert earliest_due(problem, grouped=True).starts == {("1", 0): 4, ("2", 0): 4}


def test_a_pinned_job_is_written_on_the_chart_first():
    pins = (Pin(Wish.AT, frozenset({4}), job="2"),)
    problem = shop(job("1"), job("2", "b", due=60), pins=pins)

    assert best_rule(problem).starts == {("2", 0): 4, ("1", 0): 3}


@settings(max_examples=15, deadline=None)
@given(vehicles=st.integers(1, 25), seed=st.integers(0, 10_000), grouped=st.booleans())
def test_what_people_do_keeps_every_hard_rule(vehicles, seed, grouped):
    problem = generated(vehicles, weeks=60, seed=seed)

    programme = earliest_due(problem, grouped=grouped)

    assert broken_rules(problem, programme.starts) == []
