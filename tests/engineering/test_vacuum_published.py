"""The vacuum brake against printed figures."""

from math import pi

import pytest

from fleet.engineering.units import scaled
from fleet.engineering.vacuum import (
    WORKING_21_MBAR,
    WORKING_25_MBAR,
    InwardLeak,
    VacuumCylinder,
    absolute_mbar,
    applied,
    critical_vacuum_mbar,
    left_on_mbar,
    seconds_to_fall,
)
from tests.engineering.published import Published, Status, check, rows

TUTORIAL = "Choked Flow of Gases, tutorial of a maker of precision orifices, p. 38"
PUMPS = "Flow Through an Orifice, paper of a maker of vacuum pumps, section Flow"
SOCIETY = "Query column of a railway society, Q11.02"
PARTS = "Comparison of brake systems adapted from official papers, component table"
VENTED = "A web article on vented vessels and vacuum pumps"
BOYLE = "Boyle by hand, 1013.25 mbar"

# The 24 in cylinder and the 320 l chamber of a coach; 80 l above the piston is assumed.
COACH = VacuumCylinder(609.6, 80.0, 320.0)
ONE = InwardLeak(10.0)


def _inhg(mbar):
    return scaled(mbar, "mbar", "inHg")


def _at(inhg):
    return ONE.at(scaled(inhg, "inHg", "mbar"))


def _differential(inhg, lift_mm=200.0):
    working = scaled(inhg, "inHg", "mbar")
    return applied(COACH, working_mbar=working, lift_mm=lift_mm).differential_mbar


TABLE = [
    Published(
        "general working vacuum",
        lambda: _inhg(WORKING_21_MBAR),
        21,
        1e-9,
        SOCIETY,
        Status.READ,
    ),
    Published(
        "working vacuum of some lines",
        lambda: _inhg(WORKING_25_MBAR),
        25,
        1e-9,
        SOCIETY,
        Status.READ,
    ),
    Published(
        "flow is fixed from 15 inHg",
        lambda: _at(15),
        10.0,
        0,
        f"{TUTORIAL}: fixed between 15 and 30 inHg",
        Status.READ,
    ),
    Published(
        "flow is the same at 29 inHg",
        lambda: _at(29),
        10.0,
        0,
        f"{TUTORIAL}: fixed between 15 and 30 inHg",
        Status.READ,
    ),
    Published(
        "critical vacuum in torr, about half an atmosphere",
        lambda: critical_vacuum_mbar() / 1013.25 * 760,
        380,
        25,
        f"{PUMPS}: around 380 torr",
        Status.READ,
    ),
    Published(
        "below half an atmosphere the flow follows the vacuum",
        lambda: _at(8) / _at(12),
        (0.7, 0.95),
        None,
        f"{PUMPS}: in sub-critical flow it depends on the vacuum; share by formula",
        Status.DERIVED,
    ),
    Published(
        "no brake has more than the atmosphere to press with",
        lambda: applied(COACH, working_mbar=1013.25, lift_mm=200).differential_mbar,
        (0, 1013.25),
        None,
        "US Army TM 55-203, 8-29: the pressure available is less than the atmosphere's",
        Status.READ,
    ),
    Published(
        "20 inHg of vacuum, called 675 mbar absolute",
        lambda: absolute_mbar(scaled(20, "inHg", "mbar")),
        675,
        5,
        f"{VENTED}: vacuum taken for absolute pressure; it is 336 mbar absolute",
        Status.REFUTED,
    ),
    Published(
        "20 inHg of vacuum",
        lambda: absolute_mbar(scaled(20, "inHg", "mbar")),
        1013.25 - 20 * 33.86389,
        0.001,
        "NIST SP 811:2008, B.8: 1 inHg = 33.863 89 mbar (from memory), by hand",
        Status.DERIVED,
    ),
    Published(
        "coach drawn to 510 mm of mercury, at a lift of 200 mm",
        lambda: _differential(510 / 25.4),
        1013.25 - (1013.25 - 679.94) * 400 / (400 - 58.37),
        0.05,
        f"{PARTS}: 510 mmHg, 24 in, 320 l; 80 l above the piston assumed; {BOYLE}",
        Status.DERIVED,
    ),
    Published(
        "21 inHg at a chamber squeezed by a fifth, 30 inHg of air",
        lambda: _inhg(
            applied(
                VacuumCylinder(500, 25 * pi, 0),
                working_mbar=WORKING_21_MBAR,
                lift_mm=80,
                atmosphere_mbar=scaled(30, "inHg", "mbar"),
            ).differential_mbar
        ),
        30 - 9 * 1.25,
        1e-6,
        "Boyle by hand: 78.5 l less 15.7 l, 9 inHg absolute become 11.25",
        Status.DERIVED,
    ),
    Published(
        "25 inHg in the same cylinder",
        lambda: _inhg(
            applied(
                VacuumCylinder(500, 25 * pi, 0),
                working_mbar=WORKING_25_MBAR,
                lift_mm=80,
                atmosphere_mbar=scaled(30, "inHg", "mbar"),
            ).differential_mbar
        ),
        30 - 5 * 1.25,
        1e-6,
        "Boyle by hand: 5 inHg absolute become 6.25; 27 % more pull, not 19 %",
        Status.DERIVED,
    ),
    Published(
        "pull of it at 21 inHg",
        lambda: applied(COACH, working_mbar=WORKING_21_MBAR, lift_mm=0).pull_kn,
        71.1142 * 0.29186,
        0.01,
        "711.142 mbar on 0.29186 m2 by hand",
        Status.DERIVED,
    ),
    Published(
        "10 l a minute into 100 l, 21 inHg to the critical vacuum",
        lambda: seconds_to_fall(
            100, ONE, from_mbar=WORKING_21_MBAR, to_mbar=critical_vacuum_mbar()
        ),
        60 * 10 * (711.142 - 477.97) / 1013.25,
        0.1,
        "Choked, so V · Δp / (pa · Q) by hand",
        Status.DERIVED,
    ),
    Published(
        "chambers drawn to 25 inHg, worked at 21",
        lambda: _inhg(left_on_mbar(was_mbar=WORKING_25_MBAR, now_mbar=WORKING_21_MBAR)),
        4,
        1e-9,
        "Common practice: cords are pulled when a lower vacuum takes over",
        Status.DERIVED,
    ),
]


@pytest.mark.parametrize("row", rows(TABLE))
def test_vacuum_agrees_with_what_is_printed_of_it(row):
    check(row)
