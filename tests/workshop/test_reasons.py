"""Why a visit stands where it stands: what other weeks lack, and what they cost."""

from dataclasses import replace
from datetime import date

import pytest

from fleet.workshop.engine.load import hours, units
from fleet.workshop.engine.problem import (
    Capacity,
    Float,
    Job,
    Need,
    Problem,
    Vehicle,
)
from fleet.workshop.engine.reasons import (
    choices,
    moved_visits,
    short_lines,
    visit_at,
)
from fleet.workshop.engine.score import score
from fleet.workshop.telling import gap_words, visit_lines
from fleet.workshop.visit_page import visit_page

AIR = frozenset({"air"})
WEEKS = 20


def job(key, vehicle, **changed):
    """Eight hours, due on the Friday of week 4."""
    fields = {
        "due": 32,
        "last_good": 46,
        "life": 100,
        "hours": {"air": 8},
        "holds": AIR,
    }
    return Job(key, vehicle, f"Test {key}", **fields | changed)


SHOP = Problem(
    start=date(2026, 1, 5),
    weeks=WEEKS,
    vehicles=tuple(Vehicle(key, f"Van {key}", AIR) for key in "ab"),
    jobs=(job("1", "a"), job("2", "b")),
    capacity=Capacity({"air": (8,) * WEEKS}, (1,) * WEEKS, (1,) * WEEKS),
    needs=tuple(Need("air", week, 2, days=2) for week in range(WEEKS)),
)
STARTS = {("1", 0): 4, ("2", 0): 5}


def by_week(starts=STARTS, vehicle="b", week=5, problem=SHOP):
    visit = visit_at(problem, starts, vehicle, week)
    return {choice.week: choice for choice in choices(problem, starts, visit)}


def test_the_week_it_wanted_lacked_hours_and_a_road():
    lacks = " ".join(by_week()[4].lacks)

    assert "air: 16 hours asked of 8" in lacks
    assert "2 vehicles need a road, and there is 1" in lacks


def test_moving_it_costs_what_the_score_of_the_moved_programme_says():
    found = by_week()
    here, there = (score(SHOP, {**STARTS, ("2", 0): week}, "").order for week in (5, 6))

    assert found[5].here
    assert found[6].cost == tuple(b - a for a, b in zip(here, there, strict=True))
    assert found[6].cost[1] == 7  # days later than now


def test_a_missing_exchange_unit_is_named():
    problem = replace(
        SHOP,
        jobs=(SHOP.jobs[0], job("2", "b", group="D", hours={})),
        floats=(Float("D", "distributors", 0, None, ((5, 1),)),),
    )

    lacks = " ".join(by_week(problem=problem)[4].lacks)

    assert "distributors: 1 needed by the week of 2 February 2026, 0 there" in lacks


def test_the_page_of_a_visit_names_the_date_that_drives_it():
    page = visit_page(SHOP, score(SHOP, STARTS, ""), "b", 5)

    assert "Test 2 falls due on 6 Feb 2026" in page.why
    assert "7 days late" in page.why
    assert visit_page(SHOP, score(SHOP, STARTS, ""), "b", 6) is None


def test_a_short_line_says_who_is_in_the_shop_and_who_is_overdue_with_what():
    found = {short.need.week: short for short in short_lines(SHOP, {("1", 0): 9})}

    assert set(found) == {9, *range(6, WEEKS)}
    assert found[9].inside == ("a",)
    assert found[9].overdue == (("b", "Test 2"),)
    assert found[9].missing == 2


def test_hours_taken_are_laid_beside_those_there():
    (load,) = hours(SHOP, STARTS)

    assert load.taken[3:7] == (0, 8, 8, 0)
    assert load.there == (8,) * WEEKS


def test_a_unit_taken_off_is_back_after_its_turnaround():
    problem = replace(
        SHOP,
        jobs=(job("1", "a", group="D"), SHOP.jobs[1]),
        floats=(Float("D", "distributors", 1, 3),),
    )

    (course,) = units(problem, STARTS)

    assert course.left[3:9] == (1, 0, 0, 0, 1, 1)


def test_what_moved_between_two_programmes_is_told_with_both_weeks():
    after = {("1", 0): 4, ("2", 0): 7}

    assert moved_visits(STARTS, after, SHOP.job) == [("2", 0, 5, 7)]


def test_a_visit_line_tells_early_and_late():
    lines = visit_lines(SHOP, score(SHOP, {("1", 0): 3, ("2", 0): 8}, ""))

    assert [line.turns[0].words for line in lines] == [
        "7 days early",
        "28 days late, past its last good day",
    ]
    assert [line.wasted_lives for line in lines] == [0.07, 0]


@pytest.mark.parametrize(
    ("due", "words"),
    [
        (26, "1 day early"),
        (24, "1 day late, within tolerance"),
    ],
)
def test_one_day_is_one_day(due, words):
    one = replace(SHOP, jobs=(job("1", "a", due=due, last_good=due + 7),))

    (line,) = visit_lines(one, score(one, {("1", 0): 3}, ""))

    assert line.turns[0].words == words


def test_a_gap_is_told_in_words():
    late = score(SHOP, STARTS, "").levels[1]

    assert gap_words(late) == "no bound known"
    assert gap_words(replace(late, bound=7)) == "proved: none is better"
    assert "nought is not excluded" in gap_words(replace(late, bound=0))
    of_ten = replace(late, value=10, bound=6)
    assert gap_words(of_ten) == "at most 40.0 % of it could be saved"
