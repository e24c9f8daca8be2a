"""The conversion model against two independent codings of it, and stops by hand."""

from functools import partial
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.engineering.stopping import (
    BrakePosition,
    basic_deceleration,
    braking_distance_m,
    build_up_s,
    limit_speed_km_h,
    speed_bands,
    stopping_distance,
)
from tests.engineering.published import Published, Status, check, rows

MODEL = "SUBSET-026-3 A.3.7, by two independent public codings"
BUILD_UP = "SUBSET-026-3 A.3.8 and A.3.9, by two independent public codings"
ENERGY = "Barney, Haley & Nikandros 2001, eq. 1, energy balance"
O_LEVEL = "Cambridge O level physics 5054 W22 paper 22, Q1"
P, GOODS, G = BrakePosition.PASSENGER_P, BrakePosition.GOODS_P, BrakePosition.GOODS_G


def deceleration(percentage, speed):
    return next(
        band.deceleration
        for band in speed_bands(percentage)
        if band.from_km_h < speed <= band.to_km_h
    )


TABLE = [
    *(
        Published(
            f"limit speed at {percentage} %",
            partial(limit_speed_km_h, percentage),
            speed,
            0.01,
            f"{MODEL}: V_lim = 16.85·λ^0.428",
            Status.DERIVED,
        )
        for percentage, speed in ((30, 72.25), (50, 89.9), (80, 109.93), (100, 120.95))
    ),
    *(
        Published(
            f"basic deceleration at {percentage} %",
            partial(basic_deceleration, percentage),
            value,
            1e-9,
            f"{MODEL}: 0.0075·λ + 0.076",
            Status.DERIVED,
        )
        for percentage, value in ((30, 0.301), (50, 0.451), (80, 0.676), (100, 0.826))
    ),
    *(
        Published(
            f"80 % at {speed} km/h",
            partial(deceleration, 80, speed),
            value,
            1e-4,
            f"{MODEL}: cubics n = 2 to 5",
            Status.DERIVED,
        )
        for speed, value in (
            (109, 0.6760),
            (119, 0.6519),
            (149, 0.4980),
            (179, 0.4803),
            (199, 0.4730),
        )
    ),
    Published(
        "build-up, P, 400 m", partial(build_up_s, P, 400), 5.02, 0.01, BUILD_UP,
        Status.DERIVED,
    ),
    Published(
        "build-up, G, 500 m", partial(build_up_s, G, 500), 13.25, 0.01, BUILD_UP,
        Status.DERIVED,
    ),
    Published(
        "build-up, goods in P, 1 000 m", partial(build_up_s, GOODS, 1000), 18.5, 0.01,
        BUILD_UP, Status.DERIVED,
    ),
    Published(
        "build-up with traction to cut",
        partial(build_up_s, P, 400, traction_to_cut=True),
        6.024,
        0.001,
        f"{BUILD_UP}: times 1.20",
        Status.DERIVED,
    ),
    Published(
        "stop from 100 km/h at 80 %",
        lambda: stopping_distance(80, 100, free_s=5.02).total_m,
        710.2,
        0.1,
        f"{MODEL}; 570.7 + 139.4 m",
        Status.DERIVED,
    ),
    Published(
        "stop from 80 km/h at 65 %",
        lambda: stopping_distance(65, 80, free_s=13.25).total_m,
        732.6,
        0.1,
        f"{MODEL}; 438.2 + 294.4 m",
        Status.DERIVED,
    ),
    *(
        Published(
            f"energy balance, {name}",
            partial(braking_distance_m, 80, 0.6, falls=falls),
            metres,
            0.2,
            ENERGY,
            Status.DERIVED,
        )
        for name, falls, metres in (
            ("level", 0.0, 411.5),
            ("1 in 50 down", 1 / 50, 611.5),
            ("1 in 50 up", -1 / 50, 310.1),
        )
    ),
    Published(
        "77 m/s for 56 s, to rest in 70 s",
        lambda: 77 * 56 + braking_distance_m(77 * 3.6, 1.10),
        7007,
        0.5,
        O_LEVEL,
        Status.READ,
    ),
]  # fmt: skip


@pytest.mark.parametrize("row", rows(TABLE))
def test_the_model_gives_what_is_printed(row):
    check(row)


@given(st.floats(30, 240), st.floats(0, 10), st.floats(10, 70))
def test_more_brake_never_lengthens_a_stop_below_the_limit_speed(
    percentage, more, speed
):
    less = stopping_distance(percentage, speed, free_s=3)

    braked = stopping_distance(percentage + more, speed, free_s=3)
    assert braked.total_m <= less.total_m


@given(st.floats(30, 250), st.floats(10, 190), st.floats(0, 10))
def test_more_speed_never_shortens_a_stop(percentage, speed, more):
    slow = stopping_distance(percentage, speed, free_s=3)

    fast = stopping_distance(percentage, speed + more, free_s=3)
    assert fast.total_m >= slow.total_m


def test_the_bands_reach_from_standstill_to_the_models_end():
    for percentage in (30, 65, 110, 180, 250):
        bands = speed_bands(percentage)

        assert bands[0].from_km_h == 0
        assert bands[-1].to_km_h == 200
        for lower, upper in pairwise(bands):
            assert lower.to_km_h == upper.from_km_h


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (partial(limit_speed_km_h, 29), "30 to 250"),
        (partial(speed_bands, 251), "30 to 250"),
        (partial(stopping_distance, 80, 201, free_s=3), "up to 200 km/h"),
        (partial(build_up_s, P, 901), "up to 900 m"),
        (partial(build_up_s, G, 1501), "up to 1500 m"),
        (partial(braking_distance_m, 80, 0.1, falls=0.02), "does not hold"),
        (partial(braking_distance_m, 80, 0.5, to_km_h=90), "slower"),
    ],
)
def test_outside_its_validity_the_model_refuses(call, words):
    with pytest.raises(ValueError, match=words):
        call()
