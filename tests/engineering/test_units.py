"""Units against the definitions that make them, and the laws any conversion obeys."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.engineering.units import (
    QUANTITIES,
    UNITS,
    convert,
    refuse_impossible,
    straight_line,
    unit_named,
    unit_of,
)

UNIT_NAMES = sorted(UNITS)
PAIRS = [
    (unit, other)
    for quantity in QUANTITIES.values()
    for unit in quantity.units
    for other in quantity.units
]
PAIRS_ST = st.sampled_from(PAIRS)
READINGS = st.decimals("0", "10000", places=4)


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        # Yard and pound agreement 1959: 1 in = 0.0254 m exactly.
        pytest.param("1", "in", "mm", "25.4", id="inch"),
        # The same agreement: 1 lb = 0.45359237 kg; UK ton of 2 240 lb
        # (Weights and Measures Act 1985, Schedule 1, Part V).
        pytest.param("1", "ton", "t", "1.0160469088", id="long ton"),
        # Standard gravity 9.80665 m/s2 (3rd CGPM 1901, Resolution 2).
        pytest.param("1", "kgf/cm2", "kPa", "98.0665", id="kilogram-force"),
        pytest.param("1", "lbf", "N", "4.4482216152605", id="pound-force"),
        # NIST SP 811:2008, B.8: bar 1.0 E+05 Pa, millibar 1.0 E+02 Pa; 4.3.2: minute.
        pytest.param("1", "bar", "kPa", "100", id="bar"),
        pytest.param("1", "min", "s", "60", id="minute"),
        # Conventional inch of mercury: 25.4 mm of 133.322387415 Pa
        # (ISO 80000-4:2006, C.2, conventional millimetre of mercury; from memory).
        pytest.param("1", "inHg", "mbar", "33.86388640341", id="inch of mercury"),
        pytest.param("1", "kN", "N", "1000", id="kilonewton"),
        # NIST SP 811:2008, B.8: t/°C = (t/°F - 32)/1.8
        pytest.param("32", "°F", "°C", "0", id="ice"),
        pytest.param("212", "°F", "°C", "100", id="steam"),
        pytest.param("-40", "°C", "°F", "-40", id="where the scales cross"),
        pytest.param("6", "kPa/min", "bar/min", "0.06", id="rate"),
        pytest.param("1", "inHg/min", "mbar/min", "33.86388640341", id="vacuum rate"),
    ],
)
def test_units_follow_their_exact_definitions(value, unit, to, expected):
    assert convert(Decimal(value), unit, to) == Decimal(expected)


@pytest.mark.parametrize(
    ("unit", "to", "published"),
    [
        # NIST SP 811:2008, Appendix B.8, seven figures as printed (from memory).
        pytest.param("psi", "kPa", "6.894757", id="psi"),
        pytest.param("inHg", "mbar", "33.86389", id="inch of mercury, conventional"),
        pytest.param("ton", "t", "1.016047", id="ton, long"),
        pytest.param("lbf", "N", "4.448222", id="pound-force"),
        pytest.param("psi/min", "kPa/min", "6.894757", id="psi a minute"),
    ],
)
def test_units_agree_with_the_factors_nist_prints(unit, to, published):
    printed = Decimal(published)

    assert convert(Decimal(1), unit, to).quantize(printed) == printed


@given(READINGS, PAIRS_ST)
def test_a_value_converted_there_and_back_is_the_same(value, pair):
    unit, other = pair

    back = convert(convert(value, unit, other), other, unit)

    assert abs(back - value) <= Decimal("1e-18")


@given(READINGS, READINGS, PAIRS_ST)
def test_conversion_keeps_the_order_of_readings(first, second, pair):
    unit, other = pair

    converted = convert(first, unit, other), convert(second, unit, other)

    assert (first < second) == (converted[0] < converted[1])


@given(READINGS, PAIRS_ST)
def test_the_straight_line_is_the_conversion(value, pair):
    slope, offset = straight_line(*pair)

    assert abs(slope * value + offset - convert(value, *pair)) <= Decimal("1e-18")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("kg/cm2", "kgf/cm2"),
        ("kg/cm²", "kgf/cm2"),
        ("KPA", "kPa"),
        ("in Hg", "inHg"),
        (" In  HG ", "inHg"),
        ("secs", "s"),
        ("hPa", "mbar"),
        ("inches", "in"),
        ("deg C", "°C"),
        ("tonnes", "t"),
        ("tons", "ton"),
        ("lb/in2", "psi"),
        ("", "count"),
    ],
)
def test_units_are_known_by_the_names_people_type(typed, meant):
    assert unit_named(typed) == meant


@pytest.mark.parametrize("name", UNIT_NAMES)
def test_every_unit_is_known_by_its_own_name(name):
    assert unit_named(name) == name
    assert unit_of(UNITS[name].quantity, name) == name


def test_a_unit_of_something_else_is_refused_with_the_units_to_use():
    with pytest.raises(
        ValueError, match=r"^bar is not a unit of time; use s or min\.$"
    ):
        unit_of("time", "bar")


def test_pressure_and_vacuum_are_not_converted_into_each_other():
    with pytest.raises(ValueError, match="mbar is not a unit of pressure"):
        convert(Decimal(1), "bar", "mbar")


def test_a_rate_is_not_a_pressure():
    with pytest.raises(ValueError, match="bar is not a unit of pressure per time"):
        unit_of("pressure_rate", "bar")


def test_an_unheard_of_unit_is_refused_with_the_units_to_use():
    with pytest.raises(
        ValueError, match=r"“furlong” is no unit of length; use mm or in"
    ):
        unit_of("length", "furlong")


def test_a_missing_unit_is_asked_for():
    with pytest.raises(ValueError, match=r"^Give the unit: s or min\.$"):
        unit_of("time", " ")


def test_an_unheard_of_quantity_is_refused():
    with pytest.raises(ValueError, match="“torque” is no quantity"):
        unit_of("torque", "N")


@pytest.mark.parametrize(
    ("value", "unit"),
    [
        pytest.param("-0.1", "bar", id="pressure below the air's"),
        pytest.param("-1", "s", id="time before the start"),
        pytest.param("33", "inHg", id="more vacuum than the air is heavy"),
        pytest.param("-0.5", "inHg", id="vacuum below none"),
        pytest.param("-273.16", "°C", id="below absolute zero"),
        pytest.param("2.5", "count", id="half a thing"),
        pytest.param("NaN", "mm", id="no number"),
        pytest.param("Infinity", "mm", id="endless"),
    ],
)
def test_what_nothing_can_measure_is_refused(value, unit):
    with pytest.raises(ValueError, match=r"\.$"):
        refuse_impossible(Decimal(value), unit)


@pytest.mark.parametrize(
    ("value", "unit"),
    [
        pytest.param("0", "bar", id="no pressure"),
        pytest.param("-0.1", "bar/min", id="a pressure that rises"),
        pytest.param("32", "inHg", id="the heaviest air"),
        pytest.param("-273.15", "°C", id="absolute zero"),
        pytest.param("-20", "°C", id="frost"),
        pytest.param("3", "count", id="three"),
    ],
)
def test_what_can_be_measured_is_accepted(value, unit):
    refuse_impossible(Decimal(value), unit)
