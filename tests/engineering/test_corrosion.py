"""Corrosion rates, lives and intervals against printed exercises, and laws of any survey."""

import calendar
import datetime as dt
from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.engineering.corrosion import (
    ThicknessReading,
    after_years,
    corrosion_rate,
    point_life,
    rate_error,
    remaining_life,
    vessel_life,
)
from tests.engineering.published import Published, Status, check, rows

INSPECTOR = "Inspector's training guide, corrosion exercises"
QUIZ = "Inspector's calculations quiz (inputs read, no key seen)"
EXAM = "API 510 Exam B, 150 Q&A"


def read(year, thickness, *, month=7, day=1, point="A", error=0.0):
    return ThicknessReading(point, dt.date(year, month, day), thickness, error)


def rate(first, last):
    return partial(corrosion_rate, first, last)


def governing(*readings, required=0.1):
    return point_life(readings, required)


def life_of(*readings, required):
    return partial(lambda: point_life(readings, required).life_years)


def half(year, month, life):
    """The printed exercises count a month as its end: April is 4/12 of the year over."""
    last = dt.date(year, month, calendar.monthrange(year, month)[1])
    found = after_years(last, life / 2)
    return found.year * 12 + found.month


TABLE = [
    Published(
        "twenty years",
        rate(read(1983, 0.400), read(2003, 0.260)),
        0.007,
        1e-5,
        f"{INSPECTOR}, Ex. 1",
        Status.READ,
    ),
    Published(
        "fifteen years",
        rate(read(1988, 0.750), read(2003, 0.675)),
        0.005,
        1e-5,
        f"{INSPECTOR}, Ex. 2",
        Status.READ,
    ),
    Published(
        "in mils",
        rate(read(1981, 480), read(2003, 410)),
        3.2,
        0.05,
        f"{INSPECTOR}, Ex. 3",
        Status.READ,
    ),
    Published(
        "remaining life at 0.007",
        partial(remaining_life, 0.198, 0.150, 0.007),
        6.9,
        0.05,
        f"{INSPECTOR}, Ex. 6",
        Status.READ,
    ),
    Published(
        "remaining life at 0.003",
        partial(remaining_life, 0.211, 0.150, 0.003),
        20.3,
        0.05,
        f"{INSPECTOR}, Ex. 7",
        Status.READ,
    ),
    Published(
        "half of 14 years from March 2003",
        partial(half, 2003, 3, 14),
        2010 * 12 + 3,
        0,
        f"{INSPECTOR}, Ex. 8",
        Status.READ,
    ),
    Published(
        "half of 18.7 years from April 2001",
        partial(half, 2001, 4, 18.7),
        2010 * 12 + 8,
        1,
        f"{INSPECTOR}, Ex. 9 V-10: August 2010, to the month",
        Status.READ,
    ),
    Published(
        "half of 9 years from February 2002",
        partial(half, 2002, 2, 9),
        2006 * 12 + 8,
        1,
        f"{INSPECTOR}, Ex. 9 V-20: August 2006, to the month",
        Status.READ,
    ),
    Published(
        "half of 5.5 years from September 2003",
        partial(half, 2003, 9, 5.5),
        2006 * 12 + 6,
        1,
        f"{INSPECTOR}, Ex. 9 V-30: June 2006, to the month",
        Status.READ,
    ),
    Published(
        "half of 11.2 years from May 2003",
        partial(half, 2003, 5, 11.2),
        2009 * 12 + 1,
        1,
        f"{INSPECTOR}, Ex. 9 V-50: January 2009, to the month",
        Status.READ,
    ),
    Published(
        "short-term rate governs",
        lambda: governing(read(1990, 0.750), read(1997, 0.742), read(2003, 0.718)).rate,
        0.004,
        5e-5,
        f"{INSPECTOR}, Ex. 10",
        Status.READ,
    ),
    Published(
        "long-term rate of the same",
        lambda: (
            governing(read(1990, 0.750), read(1997, 0.742), read(2003, 0.718)).long_term
        ),
        0.0025,
        5e-5,
        f"{INSPECTOR}, Ex. 10",
        Status.READ,
    ),
    Published(
        "both rates alike",
        life_of(
            read(2001, 0.700), read(2006, 0.600), read(2011, 0.500), required=0.200
        ),
        15,
        0.02,
        f"{EXAM}, Q3 option A: 15 years",
        Status.READ,
    ),
    Published(
        "the rate misprinted there",
        lambda: governing(read(2001, 0.700), read(2006, 0.600), read(2011, 0.500)).rate,
        0.030,
        1e-3,
        f"{EXAM}, Q3 option A prints .030; 0.500 to 0.200 in 15 years is .020",
        Status.REFUTED,
    ),
    Published(
        "nominal thickness left out",
        lambda: (
            governing(read(1983, 0.375), read(1993, 0.295), read(2003, 0.255)).long_term
        ),
        0.006,
        1e-5,
        "API 570 practice, Q29, clause 7.1",
        Status.READ,
    ),
    Published(
        "half an inch in five years",
        rate(read(2010, 0.500), read(2015, 0.350)),
        0.030,
        2e-5,
        "API 510 calculation set, 1",
        Status.READ,
    ),
    Published(
        "life of the allowance",
        partial(remaining_life, 0.300, 0.200, 0.025),
        4,
        1e-9,
        "API 510 calculation set, 2",
        Status.READ,
    ),
    Published(
        "quiz 9",
        rate(read(1997, 0.289, month=3), read(2004, 0.268, month=3)),
        0.0030,
        1e-5,
        f"{QUIZ}, Q9",
        Status.DERIVED,
    ),
    Published(
        "quiz 10",
        rate(read(1995, 0.435, month=10, day=31), read(2003, 0.384, month=2, day=28)),
        0.00696,
        1e-5,
        f"{QUIZ}, Q10",
        Status.DERIVED,
    ),
    Published(
        "quiz 11",
        lambda: (
            governing(
                read(1993, 0.600),
                read(1995, 0.586),
                read(1998, 0.565),
                read(2003, 0.560),
            ).rate
        ),
        0.004,
        1e-5,
        f"{QUIZ}, Q11",
        Status.DERIVED,
    ),
    Published(
        "quiz 12",
        partial(remaining_life, 0.332, 0.268, 0.004),
        16,
        1e-9,
        f"{QUIZ}, Q12",
        Status.DERIVED,
    ),
    Published(
        "quiz 14",
        partial(lambda: remaining_life(0.296, 0.200, 0.006) / 2),
        8,
        1e-9,
        f"{QUIZ}, Q14",
        Status.DERIVED,
    ),
    Published(
        "error of a rate",
        partial(rate_error, read(2020, 5, error=0.10), read(2023, 5, error=0.10)),
        0.0471,
        1e-4,
        "JCGM 100:2008 (GUM) 5.1.2, √2·u/T",
        Status.DERIVED,
    ),
]

THICKNESSES = st.floats(2, 12)


@pytest.mark.parametrize("row", rows(TABLE))
def test_corrosion_gives_what_is_printed(row):
    check(row)


@given(st.floats(0.001, 1), st.floats(0, 1))
def test_more_corrosion_never_lengthens_life(rate, more):
    assert remaining_life(8, 5, rate + more) <= remaining_life(8, 5, rate)


@given(THICKNESSES, THICKNESSES, st.floats(0.01, 1), st.integers(1, 240))
def test_no_survey_is_put_off_beyond_the_ceiling(first, last, error, months):
    life = vessel_life(
        [read(2015, first, error=error), read(2020, last, error=error)],
        3.0,
        ceiling_months=months,
    )

    assert life.next_on <= dt.date(2020 + (months + 6) // 12, (months + 6) % 12 + 1, 1)


@given(THICKNESSES, st.floats(0, 3), st.floats(0.02, 0.5))
def test_a_wall_that_seems_to_grow_has_no_eternal_life(first, gain, error):
    point = point_life(
        [read(2015, first, error=error), read(2020, first + gain, error=error)], 1.0
    )

    assert point.life_years is not None
    assert point.rate == pytest.approx(point.rate_error)
    assert point.within_error


@given(st.lists(THICKNESSES, min_size=2, max_size=5))
def test_no_point_outlives_the_vessel(lasts):
    readings = [
        reading
        for at, last in enumerate(lasts)
        for reading in (
            read(2015, 12.5, point=f"P{at}"),
            read(2020, last, point=f"P{at}"),
        )
    ]

    life = vessel_life(readings, 4.0, ceiling_months=120)
    assert life.worst.life_years == min(point.life_years for point in life.points)


def test_the_worst_point_governs_and_is_named():
    life = vessel_life(
        [
            read(2016, 6.0, point="shell bottom"),
            read(2024, 5.2, point="shell bottom"),
            read(2016, 6.5, point="No. 1 end"),
            read(2024, 6.4, point="No. 1 end"),
        ],
        {"shell bottom": 4.8, "No. 1 end": 5.0},
        ceiling_months=96,
    )

    assert life.worst.point == "shell bottom"
    # 0.1 mm a year, 0.4 mm left: four years, half of them two.
    assert life.next_on == dt.date(2026, 7, 1)
    assert life.life_ends_on == dt.date(2028, 7, 1)
    assert "shell bottom" in life.reason


def test_the_ceiling_comes_first_on_a_wall_that_hardly_thins():
    life = vessel_life([read(2016, 6.00), read(2024, 5.98)], 4.0, ceiling_months=96)

    assert life.next_on == dt.date(2032, 7, 1)
    assert "longest allowed" in life.reason


def test_one_survey_gives_no_rate_and_the_ceiling():
    life = vessel_life([read(2024, 6.0)], 4.0, ceiling_months=60)

    assert life.worst.rate is None
    assert life.life_ends_on is None
    assert life.next_on == dt.date(2029, 7, 1)


def test_below_the_required_thickness_no_life_is_left():
    life = vessel_life([read(2016, 6.0), read(2024, 3.9)], 4.0, ceiling_months=96)

    assert life.worst.below
    assert life.next_on == life.life_ends_on == dt.date(2024, 7, 1)
    assert "no life is left" in life.reason


def test_a_point_left_out_of_the_last_survey_is_named():
    life = vessel_life(
        [
            read(2016, 6.0, point="A"),
            read(2024, 5.9, point="A"),
            read(2016, 6.0, point="B"),
        ],
        4.0,
        ceiling_months=96,
    )

    assert life.not_read == ("B",)
    # What is not known of B since 2016 is due from 2016 on.
    assert life.next_on == dt.date(2024, 7, 1)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (partial(vessel_life, [], 4.0, ceiling_months=60), "at least one"),
        (partial(vessel_life, [read(2020, 5)], 4.0, ceiling_months=0), "a month"),
        (partial(vessel_life, [read(2020, 5)], {"B": 4.0}, ceiling_months=1), "of A"),
        (partial(point_life, [read(2020, 5), read(2020, 6)], 4.0), "twice on a day"),
        (partial(read, 2020, -1.0), "more than 0"),
        (partial(corrosion_rate, read(2021, 5), read(2020, 5)), "is not after"),
    ],
)
def test_a_survey_that_cannot_be_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
