"""What cannot be met together is named in words, and nothing is named that could be left out."""

from dataclasses import replace

from fleet.workshop.engine.conflicts import conflicts
from fleet.workshop.engine.problem import Capacity, Float, Need, Pin, Vehicle, Wish
from tests.workshop.test_engine_rules import job, shop

AIR = frozenset({"air"})


def short_of_units(**changed):
    """Three distributors due in May, two exchange units, one more back in June."""
    jobs = [
        job(key, key, due=120 + 7 * n, last_good=134 + 7 * n, group="D", holds=AIR)
        for n, key in enumerate("abc")
    ]
    fields = {
        "weeks": 30,
        "vehicles": tuple(Vehicle(k, f"Van {k}", AIR) for k in "abcd"),
        "capacity": Capacity({"fitter": (8,) * 30}, (1,) * 30, (1,) * 30),
        "floats": (Float("D", "distributors", 2, returns=((24, 1),)),),
        "needs": tuple(Need("air", week, 4) for week in (20, 21, 22)),
    }
    return shop(*jobs, **fields | changed)


def test_two_pins_for_one_place_are_named_with_the_place():
    pins = tuple(Pin(Wish.AT, frozenset({4}), job=key) for key in "12")
    problem = shop(job("1", hours={}), job("2", "b", hours={}), pins=pins)

    (found,) = conflicts(problem)

    assert found.demands == (
        "Work 1 on Van a is pinned to begin in the week of 2 February 2026",
        "Work 2 on Van b is pinned to begin in the week of 2 February 2026",
    )
    assert found.limits == ("there is 1 road in the week of 2 February 2026",)


def test_pins_that_deny_each_other_need_no_limit():
    pins = (
        Pin(Wish.AT, frozenset({4}), job="1"),
        Pin(Wish.NOT_IN, frozenset({4, 5}), vehicle="a"),
    )

    (found,) = conflicts(shop(job("1"), pins=pins))

    assert len(found.demands) == 2
    assert found.limits == ()


def test_a_season_short_of_exchange_units_is_explained():
    (found,) = conflicts(short_of_units())

    assert found.words.startswith("air asks for 4 vehicles from the week of")
    for label in ("Work a is due on 1 vehicle in May 2026 (Van a)", "Van b", "Van c"):
        assert label in found.words
    assert "2 distributors are in stock, 1 comes back in the week of" in found.words
    assert "fitter" not in found.words
    assert found.smallest


def test_without_any_one_of_the_demands_named_the_rest_can_be_met():
    problem = short_of_units()

    for key in "abc":
        jobs = tuple(j for j in problem.jobs if j.key != key)
        assert conflicts(replace(problem, jobs=jobs)) == []
    assert conflicts(replace(problem, needs=())) == []
    assert conflicts(short_of_units(floats=(Float("D", "distributors", 3),))) == []


def test_a_need_for_more_vehicles_than_there_are_stands_alone():
    needs = (Need("air", 3, 3),)

    (found,) = conflicts(shop(job("1"), needs=needs))

    assert found.words == (
        "air asks for 3 vehicles in the week of 26 January 2026, "
        "and there are 2 to fill it."
    )


def test_a_pin_that_costs_the_season_its_cover_is_named():
    pins = (Pin(Wish.AT, frozenset({4}), job="1"),)
    needs = (Need("air", 4, 2),)

    (found,) = conflicts(shop(job("1"), pins=pins, needs=needs))

    assert len(found.demands) == 2
    assert "is pinned to begin" in found.words


def test_work_of_one_visit_that_is_pinned_where_it_cannot_be_is_named_together():
    pins = (
        Pin(Wish.AT, frozenset({4}), job="1"),
        Pin(Wish.AT, frozenset({4}), job="2"),
        Pin(Wish.NOT_IN, frozenset({4}), vehicle="a"),
    )

    (found,) = conflicts(shop(job("1"), job("2"), pins=pins))

    assert found.demands == (
        "Work 1 and Work 2 on Van a are pinned to begin in the week of 2 February 2026",
        "Van a is pinned not to stand in the shop in the week of 2 February 2026",
    )


def test_work_for_which_nobody_keeps_units_is_named_by_its_group():
    found = conflicts(short_of_units(floats=()), names={"air": "Supper train"})

    assert found
    for each in found:
        assert each.words.startswith("Supper train asks for 4 vehicles ")
        assert each.limits == ("there are no exchange units of D",)
