"""Air through small holes, against printed tables, and the laws the flow obeys."""

from functools import partial
from math import pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.engineering.flow import (
    CRITICAL_RATIO,
    SHARP_EDGED,
    WELL_ROUNDED,
    Choke,
    choked_part,
    choked_share,
    filled_after,
    filling_time,
    free_air_l_per_min,
    hole_mm,
)
from fleet.engineering.units import scaled
from tests.engineering.published import Published, Status, check, rows

TABLE_OF_HOLES = (
    "Discharge of Air Through an Orifice, table 15-010504-002, coefficient 100 %, "
    "14.7 psia, 70 °F; adiabatic formula to 15 psi, Moss's above"
)
TUTORIAL = "Choked Flow of Gases, tutorial of a maker of precision orifices, p. 38"
BLOG = "A web article on compressed air through a 2 inch opening"
RATIOS = st.floats(0, 1)


def _psi(value):
    return scaled(value, "psi", "bar")


def _cfm(inches, psi_abs, to_psi_abs, fahrenheit=70.0, coefficient=1.0):
    """Return free air at 14.7 psi in cubic feet a minute, as American tables give it."""
    litres = free_air_l_per_min(
        Choke(scaled(inches, "in", "mm"), coefficient),
        upstream_bar_abs=_psi(psi_abs),
        downstream_bar_abs=_psi(to_psi_abs),
        celsius=scaled(fahrenheit, "°F", "°C"),
        atmosphere_bar=_psi(14.7),
    )
    return scaled(litres, "l/min", "ft3/min")


def _lb_per_s(square_feet, psi_abs, to_psi_abs, rankine):
    inches = 12 * sqrt(square_feet * 4 / pi)
    cubic_feet = _cfm(inches, psi_abs, to_psi_abs, rankine - 459.67)
    return cubic_feet / 60 * 14.7 * 144 / (53.35 * rankine)


def _hole(inches, psi, printed):
    return Published(
        f"{inches} in at {psi} psi",
        partial(_cfm, inches, psi + 14.7, 14.7),
        printed,
        0.006 * printed,
        TABLE_OF_HOLES,
        Status.READ,
    )


TABLE = [
    _hole(1 / 64, 5, 0.062),
    _hole(1 / 16, 1, 0.450),
    _hole(1 / 16, 5, 0.993),
    _hole(1 / 8, 9, 5.30),
    _hole(1 / 16, 12, 1.52),
    _hole(1 / 32, 15, 0.420),
    _hole(1 / 16, 25, 2.25),
    _hole(1 / 4, 50, 58.6),
    _hole(1 / 8, 70, 19.2),
    _hole(1 / 32, 80, 1.34),
    _hole(1 / 16, 100, 6.49),
    _hole(3 / 8, 110, 254.0),
    _hole(1.0, 125, 2023.0),
    Published(
        "critical ratio",
        lambda: CRITICAL_RATIO,
        0.528,
        0.0005,
        TUTORIAL,
        Status.READ,
    ),
    Published(
        "from 80 psi choked down to 35.30 psi",
        lambda: (80 + 14.7) * CRITICAL_RATIO - 14.7,
        35.30,
        0.05,
        TUTORIAL,
        Status.READ,
    ),
    Published(
        "into the open air choked from 13.14 psi",
        lambda: 14.7 / CRITICAL_RATIO - 14.7,
        13.14,
        0.02,
        TUTORIAL,
        Status.READ,
    ),
    Published(
        "weight through one square inch at 100 psi",
        lambda: _lb_per_s(1 / 144, 114.7, 0, 530),
        0.5303 * 114.7 / sqrt(530),
        0.01,
        "S. A. Moss, American Machinist, 20 September 1906: W = 0.5303 A C P / √T",
        Status.READ,
    ),
    Published(
        "weight through one square foot, 30 to 24 psi absolute",
        lambda: _lb_per_s(1.0, 30, 24, 520),
        2.043 * 30 * 144 * sqrt((0.8**1.41 - 0.8**1.7) / 520),
        0.5,
        "Encyclopaedia Britannica, 11th ed., Hydraulics § 63 (5): 2.043 c ω p √(ψ/τ); "
        "worked out here for one case, with ψ = r^1.41 - r^1.7 as printed",
        Status.DERIVED,
    ),
    Published(
        "coefficient of a sharp-edged hole",
        lambda: SHARP_EDGED,
        (0.563, 0.788),
        None,
        "Encyclopaedia Britannica, 11th ed., Hydraulics § 63: Weisbach's coefficients",
        Status.READ,
    ),
    Published(
        "coefficient of a rounded mouthpiece",
        lambda: WELL_ROUNDED,
        (0.97, 0.99),
        None,
        "Encyclopaedia Britannica, 11th ed., Hydraulics § 63: Weisbach's coefficients",
        Status.READ,
    ),
    Published(
        "end of filling by the ellipse of the pneumatics standard",
        lambda: filling_time(CRITICAL_RATIO, 1.0),
        (1 - CRITICAL_RATIO) * pi / 2,
        0.002,
        "ISO 6358:1989, flow √(1 - ((r - b)/(1 - b))²); its integral by hand",
        Status.MEMORY,
    ),
    Published(
        "2 in opening from 7 psi gauge, called 842 cubic feet",
        partial(_cfm, 2.0, 7 + 14.7, 14.7, 68.0, 0.62),
        842.0,
        42.0,
        f"{BLOG}: takes 7 psi gauge for 16.7 psi absolute; it is 21.7, which gives 741",
        Status.REFUTED,
    ),
    Published(
        "8 mm hole, called 0.0404 c A p / 101325 kg/s",
        lambda: (
            free_air_l_per_min(
                Choke(8, 0.62),
                upstream_bar_abs=1.01325,
                downstream_bar_abs=0,
                celsius=20,
            )
            / 60_000
            * 1.2041
        ),
        0.0404 * 0.62 * pi * 0.004**2,
        1e-4,
        "A web article on vented vessels: the formula has lost its √T and its pressure",
        Status.REFUTED,
    ),
    Published(
        "0.06 in at 20 psi, called 43.3 cubic feet an hour",
        lambda: 60 * _cfm(0.06, 34.7, 14.7, 70, SHARP_EDGED),
        43.3,
        0.15 * 43.3,
        "A gas supplier's table, 767 · area · gauge pressure, ± 15 %: a choked flow goes "
        "with absolute pressure",
        Status.REFUTED,
    ),
]


@pytest.mark.parametrize("row", rows(TABLE))
def test_flow_agrees_with_what_is_printed_of_it(row):
    check(row)


@given(RATIOS, RATIOS)
def test_more_pressure_behind_a_hole_never_lets_more_through(first, second):
    low, high = sorted((first, second))

    assert 0 <= choked_share(high) <= choked_share(low) <= 1


@given(st.floats(0, CRITICAL_RATIO))
def test_a_choked_flow_does_not_feel_what_is_behind_it(ratio):
    assert choked_share(ratio) == 1


@given(RATIOS, RATIOS, RATIOS)
def test_filling_in_two_goes_takes_as_long_as_in_one(first, second, third):
    low, middle, high = sorted((first, second, third))

    parts = filling_time(low, middle) + filling_time(middle, high)

    assert parts == pytest.approx(filling_time(low, high), abs=1e-6)


@given(RATIOS, RATIOS)
def test_filling_takes_at_least_as_long_as_a_choked_flow_would(first, second):
    low, high = sorted((first, second))

    assert filling_time(low, high) >= high - low - 1e-9
    assert 0 <= choked_part(low, high) <= filling_time(low, high) + 1e-9


@given(st.floats(0, 0.999), st.floats(0, 0.999))
def test_the_pressure_after_a_filling_time_is_the_one_it_was_asked_for(first, second):
    low, high = sorted((first, second))

    found = filled_after(low, filling_time(low, high))

    assert found == pytest.approx(high, abs=1e-7)


@given(st.floats(0.5, 20), st.floats(-30, 50))
def test_the_hole_found_from_a_flow_is_the_one_that_made_it(diameter, celsius):
    flow = free_air_l_per_min(
        Choke(diameter, SHARP_EDGED),
        upstream_bar_abs=1.01325,
        downstream_bar_abs=0.1,
        celsius=celsius,
    )

    assert hole_mm(flow, celsius=celsius) == pytest.approx(diameter)


def test_a_vessel_filled_long_enough_has_the_pressure_of_its_supply():
    assert filled_after(0.2, 5.0) == 1.0


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        pytest.param(lambda: Choke(0, 0.65), "diameter of the choke", id="no hole"),
        pytest.param(lambda: Choke(2, 1.2), "at most 1", id="more than a full jet"),
        pytest.param(lambda: choked_share(1.01), "higher pressure", id="backwards"),
        pytest.param(lambda: filling_time(0.9, 0.8), "fills from", id="emptying"),
        pytest.param(
            lambda: filling_time(0.9, 1.1), "not above", id="above its supply"
        ),
        pytest.param(lambda: hole_mm(0), "flow of free air", id="no flow"),
        pytest.param(
            lambda: free_air_l_per_min(
                Choke(2, 0.65),
                upstream_bar_abs=1,
                downstream_bar_abs=0,
                celsius=-300,
            ),
            "absolute temperature",
            id="colder than can be",
        ),
        pytest.param(
            lambda: free_air_l_per_min(
                Choke(2, 0.65),
                upstream_bar_abs=float("nan"),
                downstream_bar_abs=0,
                celsius=20,
            ),
            "must be more than 0 bar",
            id="no number",
        ),
    ],
)
def test_flow_refuses_what_cannot_be_with_a_sentence(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        wrong()
