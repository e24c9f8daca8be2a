"""Distributors, metric cylinders and the air they use, against printed figures."""

import pytest

from fleet.engineering.air import (
    Cylinder,
    Distributor,
    Reservoir,
    Stage,
    equalise,
    full_application,
    graduated_release,
    reservoir_after_bar,
)
from fleet.engineering.charging import air_per_application
from fleet.engineering.units import scaled
from tests.engineering.published import Published, Status, check, rows

PROFORMA = (
    "Indian maintenance manual for BG coaches (air brake), ch. 4, single-car test, "
)
LINE = "p = 3.8 · drop / 1.5, at most 3.8; the 1.5 bar from memory of UIC 540"

METRIC = Cylinder(406, 120)
HUNDRED = Reservoir(5.0, 100.0)
USUAL = Distributor(3.8, 1.5, starts_at_drop_bar=0.4, first_step_bar=0.6)


def _graduated(drop, cylinder):
    return Published(
        f"distributor, drop of {drop} bar",
        lambda: graduated_release(Distributor(3.8, 1.5), drop).bar,
        cylinder,
        0.01,
        LINE,
        Status.DERIVED,
    )


TABLE = [
    Published(
        "cylinder of 406 mm at 120 mm",
        lambda: METRIC.swept_l,
        15.54,
        0.01,
        "π/4 · bore² · stroke by hand",
        Status.DERIVED,
    ),
    Published(
        "fall of a reservoir of 100 l that fills it to 3.8 bar",
        lambda: 5.0 - reservoir_after_bar(HUNDRED, METRIC, 3.8),
        0.748,
        0.001,
        "Boyle by hand, 1.01325 bar",
        Status.DERIVED,
    ),
    Published(
        "where the two equalise",
        lambda: equalise(HUNDRED, METRIC).bar,
        4.19,
        0.01,
        "Boyle by hand, 1.01325 bar",
        Status.DERIVED,
    ),
    Published(
        "with 1 l of clearance and 1 l of pipe",
        lambda: equalise(HUNDRED, Cylinder(406, 120, 1.0, 1.0)).bar,
        (6.01325 * 100 + 1.01325 * 2) / 117.535 - 1.01325,
        0.001,
        "Boyle by hand, clearance and pipe at atmospheric pressure",
        Status.DERIVED,
    ),
    Published(
        "distributor, full service or emergency, kg/cm2",
        lambda: scaled(
            full_application(
                Distributor(scaled(3.8, "kgf/cm2", "bar"), 1.5), HUNDRED, METRIC
            ).bar,
            "bar",
            "kgf/cm2",
        ),
        (3.7, 3.9),
        None,
        PROFORMA + "items 2b and 5",
        Status.READ,
    ),
    Published(
        "distributor, pipe from 5.0 to 3.5 bar",
        lambda: graduated_release(USUAL, 5.0 - 3.5).stage,
        Stage.FULL,
        None,
        "Trade summary of UIC 543, section 1: 3.5 bar at full service",
        Status.READ,
    ),
    Published(
        "distributor, 0.6 bar must apply",
        lambda: graduated_release(USUAL, 0.6).bar,
        (0.5, 3.8),
        None,
        "Trade guide to UIC 541-1, section 1; " + PROFORMA + "item 4a",
        Status.READ,
    ),
    Published(
        "distributor, 0.3 bar must not apply",
        lambda: graduated_release(USUAL, 0.3).stage,
        Stage.RELEASED,
        None,
        "Trade guide to UIC 541-1, section 1; " + PROFORMA + "item 4b",
        Status.READ,
    ),
    _graduated(0.5, 1.27),
    _graduated(0.8, 2.03),
    _graduated(1.0, 2.53),
    _graduated(1.5, 3.8),
    _graduated(5.0, 3.8),
    Published(
        "free air of an application, cylinder",
        lambda: air_per_application(METRIC, 3.8).cylinder_l,
        15.535 * 4.81325 / 1.01325,
        0.01,
        "Boyle by hand, 1.01325 bar",
        Status.DERIVED,
    ),
    Published(
        "free air of an application, pipe of 25 l by 1.5 bar",
        lambda: (
            air_per_application(
                METRIC, 3.8, brake_pipe_l=25, pipe_drop_bar=1.5
            ).brake_pipe_l
        ),
        37.01,
        0.01,
        "V · drop / pa by hand; 25 l is the most EN 15355 has in its scope",
        Status.DERIVED,
    ),
]


@pytest.mark.parametrize("row", rows(TABLE))
def test_distributors_agree_with_what_is_printed_of_them(row):
    check(row)
