"""Cylinder pressure of air brakes, against printed figures."""

from functools import partial
from math import pi

import pytest

from fleet.engineering.air import (
    Cylinder,
    Reservoir,
    direct_release,
    direct_release_linear,
    equalise,
    full_reduction_bar,
)
from fleet.engineering.units import scaled
from tests.engineering.published import Published, Status, check, rows

CHART = (
    "A. Krug, North American freight train brakes, full-service / equalisation chart"
)
TEXT = "A. Krug, North American freight train brakes, "
ARMY = "US Army TM 55-203, brake cylinder and reservoir c.(1)"
OWN = "Boyle without clearance, anchored on TM 55-203: 70 psi and 8 in give 50 psi"
ALASKA = "Air Brakes and Train Handling Rules 1996, 67.9.2: about 20 % more"


def _psi(value):
    return scaled(value, "psi", "bar")


def _in_psi(bar):
    return scaled(bar, "bar", "psi")


def _inches(travel):
    return Cylinder(254.0, scaled(travel, "in", "mm"))


def _army(pressure=70.0):
    """Return the reservoir that equalises at 50 psi from 70 with 8 in of travel."""
    ratio = (50 + 14.7) / (70 - 50)
    return Reservoir(_psi(pressure), ratio * _inches(8).swept_l)


def _of_cubic_inches(volume):
    """Return a cylinder of a stated swept volume."""
    litres = scaled(volume, "in3", "l")
    bore = 254.0
    return Cylinder(bore, litres * 1e6 / (pi / 4 * bore**2))


def _equalised(travel):
    return _in_psi(
        equalise(_army(), _inches(travel), atmosphere_bar=_psi(14.7)).bar,
    )


def _reduction(travel):
    return _in_psi(
        full_reduction_bar(_army(), _inches(travel), atmosphere_bar=_psi(14.7)),
    )


def _boyle(drop, reservoir=70.0):
    return _in_psi(
        direct_release(
            _army(reservoir),
            _psi(70.0 - drop),
            _inches(8),
            atmosphere_bar=_psi(14.7),
        ).bar
    )


def _linear(reservoir, pipe):
    return _in_psi(direct_release_linear(_psi(reservoir), _psi(pipe)).bar)


def _ab(*volumes):
    """Return where reservoirs at 90 psi equalise with a cylinder of 773 in3, in psi."""
    reservoir = Reservoir(_psi(90), scaled(sum(volumes), "in3", "l"))
    found = equalise(reservoir, _of_cubic_inches(773), atmosphere_bar=_psi(14.7))
    return _in_psi(found.bar)


def _chart(pipe, reduction, equalised):
    return [
        Published(
            f"linear rule, {pipe} psi: equalises",
            partial(_linear, pipe, 0),
            equalised,
            0.5,
            CHART,
            Status.READ,
        ),
        Published(
            f"linear rule, {pipe} psi: full-service reduction",
            lambda: pipe - _linear(pipe, 0),
            reduction,
            0.5,
            CHART,
            Status.READ,
        ),
    ]


def _travel(inches, equalised, reduction):
    return [
        Published(
            f"{inches} in of travel: equalises",
            partial(_equalised, inches),
            equalised,
            0.1,
            OWN,
            Status.DERIVED,
        ),
        Published(
            f"{inches} in of travel: full-service reduction",
            partial(_reduction, inches),
            reduction,
            0.1,
            OWN,
            Status.DERIVED,
        ),
    ]


def _drop(psi, cylinder):
    return Published(
        f"Boyle, reduction of {psi} psi",
        partial(_boyle, psi),
        cylinder,
        0.1,
        f"{OWN}; p = r · drop - pa",
        Status.DERIVED,
    )


TABLE = [
    *_chart(70, 20, 50),
    *_chart(80, 23, 57),
    *_chart(90, 26, 64),
    Published(
        "linear rule, 10 psi from 90",
        partial(_linear, 90, 80),
        25,
        1e-9,
        TEXT + "service application",
        Status.READ,
    ),
    Published(
        "linear rule, 15 psi from 90 in two steps",
        partial(_linear, 90, 75),
        37.5,
        1e-9,
        TEXT + "second reduction",
        Status.READ,
    ),
    Published(
        "linear rule, reservoir recharged to 79 only, pipe to 75",
        partial(_linear, 79, 75),
        10,
        1e-9,
        TEXT + "recharge example",
        Status.READ,
    ),
    Published(
        "linear rule, reservoir at 79, pipe at 80: stays released",
        partial(_linear, 79, 80),
        0,
        0,
        TEXT + "recharge example",
        Status.READ,
    ),
    Published(
        "Boyle, reservoir at 69, pipe at 70: stays released",
        partial(_boyle, 0, 69.0),
        0,
        0,
        TEXT + "recharge example, by the other model",
        Status.DERIVED,
    ),
    Published("70 psi and 8 in", partial(_equalised, 8), 50, 0.5, ARMY, Status.READ),
    Published(
        "70 psi and 8 in: full application",
        partial(_reduction, 8),
        20,
        1,
        "US Army TM 55-203, K triple valve, full service: about 20 pounds",
        Status.READ,
    ),
    Published(
        "volume ratio that belongs to it",
        lambda: _army().volume_l / _inches(8).swept_l,
        3.235,
        0.001,
        "(50 + 14.7)/(70 - 50), from TM 55-203",
        Status.DERIVED,
    ),
    *_travel(4, 58.7, 11.3),
    *_travel(6, 54.1, 15.9),
    *_travel(7, 52.0, 18.0),
    *_travel(8, 50.0, 20.0),
    *_travel(9, 48.1, 21.9),
    *_travel(11, 44.7, 25.3),
    *_travel(12, 43.2, 26.8),
    _drop(5, 1.5),
    _drop(6, 4.7),
    _drop(8, 11.2),
    _drop(10, 17.7),
    _drop(15, 33.8),
    _drop(20, 50.0),
    Published(
        "first 5 psi hardly show on the gauge",
        partial(_boyle, 5),
        0,
        2,
        "M. S. Shade, 1000 Practical Air-Brake Questions (1913), cylinder pressure",
        Status.READ,
    ),
    Published(
        "first 5 psi by the linear rule, called nothing",
        partial(_linear, 70, 65),
        0,
        2,
        "The same statement of Shade's (1913) against the linear rule: 12.5 psi",
        Status.REFUTED,
    ),
    Published(
        "Boyle starts at",
        partial(_boyle, 4.55),
        0.03,
        0.03,
        f"{OWN}; 14.7 / 3.235",
        Status.DERIVED,
    ),
    Published(
        "a service reduction",
        partial(_reduction, 8),
        (5, 25),
        None,
        "49 CFR 232.5, definition of service reduction",
        Status.READ,
    ),
    Published(
        "a 10 psi reduction by Boyle",
        partial(_boyle, 10),
        (10, 25),
        None,
        "US Army TM 55-2210-223-34, 2-7, and -224-34, 2-9: 10 to 25 psi",
        Status.READ,
    ),
    Published(
        "a 10 psi reduction by the linear rule",
        partial(_linear, 90, 80),
        (10, 25 + 1e-9),
        None,
        "US Army TM 55-2210-223-34, 2-7, and -224-34, 2-9: 10 to 25 psi",
        Status.READ,
    ),
    Published(
        "auxiliary reservoir of 2500 in3 at 90 psi",
        partial(_ab, 2500),
        65.3,
        0.2,
        "Boyle; volumes from memory",
        Status.MEMORY,
    ),
    Published(
        "with the emergency reservoir of 3500 in3",
        partial(_ab, 2500, 3500),
        78.1,
        0.2,
        "Boyle; volumes from memory",
        Status.MEMORY,
    ),
    Published(
        "emergency over full service",
        lambda: 100 * (_ab(2500, 3500) / _ab(2500) - 1),
        20,
        2,
        f"{ALASKA}; volumes from memory",
        Status.READ,
    ),
]


@pytest.mark.parametrize("row", rows(TABLE))
def test_cylinder_pressure_agrees_with_what_is_printed_of_it(row):
    check(row)
