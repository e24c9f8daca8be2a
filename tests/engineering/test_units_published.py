"""Units for the calculations, against printed factors; absolute kept apart."""

from decimal import Decimal
from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.engineering.units import UNITS, convert, scaled, unit_named
from tests.engineering.published import Published, Status, check, rows

NIST = "NIST SP 811:2008, Appendix B.8"
YARD = "Yard and pound agreement 1959: 1 in = 25.4 mm exactly"


def _of(value, unit, to):
    return partial(lambda: float(convert(Decimal(value), unit, to)))


TABLE = [
    Published(
        "cubic foot",
        _of("1", "ft3", "l"),
        28.31685,
        5e-6,
        f"{NIST}, cubic foot 2.831 685 E-02 m3",
        Status.MEMORY,
    ),
    Published(
        "cubic inch",
        _of("1", "in3", "l"),
        0.01638706,
        5e-9,
        f"{NIST}, cubic inch 1.638 706 E-05 m3",
        Status.MEMORY,
    ),
    Published(
        "mile",
        _of("1", "mile", "km"),
        1.609344,
        0,
        f"{NIST}, mile 1.609 344 E+03 m",
        Status.MEMORY,
    ),
    Published(
        "cubic foot a minute",
        _of("1", "ft3/min", "l/min"),
        28.31685,
        5e-6,
        f"{NIST}, cubic foot per minute 4.719 474 E-04 m3/s",
        Status.MEMORY,
    ),
    Published(
        "psi absolute",
        _of("14.696", "psi abs", "bar abs"),
        1.01325,
        3e-5,  # 14.696 psi is itself rounded
        f"{NIST}, psi 6.894 757 E+03 Pa; atmosphere 1.013 25 E+05 Pa",
        Status.MEMORY,
    ),
    Published(
        "atmosphere in inches of mercury",
        _of("1013.25", "mbar abs", "inHg abs"),
        29.92126,
        5e-6,
        f"{NIST}, inch of mercury, conventional 3.386 389 E+03 Pa",
        Status.MEMORY,
    ),
    Published(
        "21 inHg in mm of mercury",
        _of("21", "in", "mm"),
        533.4,
        1e-12,
        f"{YARD}; a column of mercury is a length",
        Status.MEMORY,
    ),
    Published(
        "25 inHg in mm of mercury",
        _of("25", "in", "mm"),
        635.0,
        1e-12,
        f"{YARD}; a column of mercury is a length",
        Status.MEMORY,
    ),
    Published(
        "21 inHg of vacuum",
        _of("21", "inHg", "mbar"),
        (711.1, 711.2),
        None,
        f"{NIST}, 1 inHg = 33.863 89 mbar",
        Status.MEMORY,
    ),
    Published(
        "25 inHg of vacuum",
        _of("25", "inHg", "mbar"),
        (846.5, 846.7),
        None,
        f"{NIST}, 1 inHg = 33.863 89 mbar",
        Status.MEMORY,
    ),
    Published(
        "kilogram-force on a square centimetre",
        _of("1", "kgf/cm2", "bar"),
        0.980665,
        0,
        "3rd CGPM 1901, Resolution 2: standard gravity 9.806 65 m/s2",
        Status.MEMORY,
    ),
    Published(
        "pound on a square inch",
        _of("1", "psi", "bar"),
        (0.06894757, 0.06894758),
        None,
        f"{NIST}, psi 6.894 757 E+03 Pa",
        Status.MEMORY,
    ),
    Published(
        "US gallon, by its 231 cubic inches",
        _of("231", "in3", "ft3"),
        0.13368,
        5e-6,
        "Compressor pump-up guidance: 0.13368 ft3 in a gallon",
        Status.READ,
    ),
    Published(
        "5 psi in kilopascal",
        _of("5", "psi", "kPa"),
        34,
        0.5,
        "US Army TM 55-2210-224-12, 2-13c: 5 psi (34 kPa)",
        Status.READ,
    ),
]


@pytest.mark.parametrize("row", rows(TABLE))
def test_units_agree_with_what_is_printed_of_them(row):
    check(row)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("psia", "psi abs"),
        ("Bara", "bar abs"),
        ("cfm", "ft3/min"),
        ("Litres", "l"),
        ("cu ft", "ft3"),
        ("miles", "mile"),
    ],
)
def test_the_units_of_calculations_are_known_by_the_names_people_type(typed, meant):
    assert unit_named(typed) == meant


@pytest.mark.parametrize(
    ("unit", "to"),
    [
        pytest.param("bar", "bar abs", id="gauge and absolute"),
        pytest.param("mbar", "mbar abs", id="vacuum and absolute"),
        pytest.param("inHg", "inHg abs", id="a vacuum gauge and a barometer"),
        pytest.param("mm", "km", id="a stroke and a journey"),
    ],
)
def test_what_takes_more_than_a_factor_is_not_converted(unit, to):
    with pytest.raises(ValueError, match="is not a unit of"):
        convert(Decimal(1), unit, to)
    with pytest.raises(ValueError, match="is not a unit of"):
        scaled(1.0, unit, to)


@given(
    st.decimals("0", "10000", places=3),
    st.sampled_from(
        [
            (unit.name, other.name)
            for unit in UNITS.values()
            for other in UNITS.values()
            if unit.quantity == other.quantity
        ]
    ),
)
def test_computed_values_are_converted_as_readings_are(value, pair):
    exact = float(convert(value, *pair))

    assert scaled(float(value), *pair) == pytest.approx(exact, rel=1e-12, abs=1e-9)
