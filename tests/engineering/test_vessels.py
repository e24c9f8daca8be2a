"""Walls of reservoirs against printed sums, the wrong ones refuted, and laws of any wall."""

from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.engineering.vessels import (
    Basis,
    Head,
    allowable_stress,
    head_pressure,
    head_thickness,
    minimum_thickness,
    pressure_volume_bar_litre,
    proof_pressure,
    rated_pressure,
    round_seam_thickness,
    shell_pressure,
    shell_thickness,
    shell_thickness_outside,
    survey_minimum,
    telltale_depth_in,
)
from tests.engineering.published import Published, Status, check, rows

UG27 = "formula ASME VIII-1 UG-27(c)(1)"
HEADS = "Pressure-vessel handbook, Table 1, citing ASME VIII-1 (1983) UG-32 and UG-27"
API_SET = "API 510 calculation set (inspector training)"
EXAM = "API 510 Exam B, 150 Q&A"
CFR = "49 CFR 230.72 and 229.31(c)"

TABLE = [
    Published(
        "shell from P and R",
        partial(shell_thickness, 185, 35, 15_000, 1.0),
        0.4349,
        1e-4,
        f"ASME Section VIII training example, part I; {UG27}",
        Status.DERIVED,
    ),
    Published(
        "shell with joint efficiency 0.85",
        partial(shell_thickness, 75, 24, 13_500, 0.85),
        0.1575,
        1e-4,
        f"API 510 worksheet, item 1; {UG27}",
        Status.DERIVED,
    ),
    Published(
        "rated pressure of a shell",
        partial(shell_pressure, 0.850, 52, 15_000, 1.0),
        242.8,
        0.1,
        f"Inspector's lesson 2, quiz 7-2; {UG27}",
        Status.DERIVED,
    ),
    Published(
        "shell from outside diameter",
        partial(shell_thickness_outside, 500, 12.75 / 2, 15_000, 1.0),
        0.2097,
        1e-4,
        "Inspector's lesson 2, quiz 7-1; formula ASME VIII-1 Appendix 1-1 (from memory)",
        Status.DERIVED,
    ),
    Published(
        "rated pressure, 48 in shell",
        partial(shell_pressure, 1.25, 24, 20_000, 0.85),
        859,
        0.5,
        "API 510 guide, Q2 (printed option 859)",
        Status.READ,
    ),
    Published(
        "rated pressure printed with 2SEt",
        partial(shell_pressure, 0.5, 20, 15_000, 0.85),
        629,
        5,
        f"{API_SET}, 4: prints 629 psi, which is no UG-27",
        Status.REFUTED,
    ),
    Published(
        "rated pressure as UG-27 has it",
        partial(shell_pressure, 0.5, 20, 15_000, 0.85),
        314.0,
        0.1,
        f"{API_SET}, 4, recomputed; {UG27}",
        Status.DERIVED,
    ),
    Published(
        "thickness printed at half",
        partial(shell_thickness, 500, 18, 15_000, 1.0),
        0.31,
        5e-3,
        f"{API_SET}, 5: prints 0.31 in",
        Status.REFUTED,
    ),
    Published(
        "thickness as UG-27 has it",
        partial(shell_thickness, 500, 18, 15_000, 1.0),
        0.6122,
        1e-4,
        f"{API_SET}, 5, recomputed; {UG27}",
        Status.DERIVED,
    ),
    Published(
        "round seams",
        partial(round_seam_thickness, 42.5, 2.25, 20_000, 1.0),
        0.002390,
        1e-6,
        f"{HEADS}(c)(2): PRi/(2SE + .4P)",
        Status.DERIVED,
    ),
    Published(
        "thin pipe",
        partial(shell_thickness, 42.5, 2.25, 20_000, 1.0),
        0.00478,
        1e-4,
        "Remaining-life sheet, PD/2SE: 0.00478 in = 0.12 mm",
        Status.READ,
    ),
    Published(
        "2:1 end",
        partial(head_thickness, Head.ELLIPSE, 100, 48, 15_000, 0.85),
        0.18838,
        1e-5,
        f"{HEADS}(d): PDi/(2SE - .2P)",
        Status.DERIVED,
    ),
    Published(
        "dished and flanged end",
        partial(head_thickness, Head.TORISPHERE, 100, 48, 15_000, 0.85),
        0.33344,
        1e-5,
        f"{HEADS}(e): .885PLi/(SE - .1P)",
        Status.DERIVED,
    ),
    Published(
        "hemisphere",
        partial(head_thickness, Head.HEMISPHERE, 100, 24, 15_000, 0.85),
        0.09419,
        1e-5,
        f"{HEADS}(d): PRi/(2SE - .2P)",
        Status.DERIVED,
    ),
    Published(
        "proof before the 1999 addenda",
        partial(proof_pressure, 1000, 1.5, cold_over_hot=16.3 / 15.0),
        1630,
        1,
        f"{EXAM}, Q2, API 510 5.8.2.1",
        Status.READ,
    ),
    Published(
        "proof by UG-99",
        partial(proof_pressure, 1000, 1.3, cold_over_hot=16.3 / 15.0),
        1413,
        1,
        f"{EXAM}, Q2, the option 1413",
        Status.READ,
    ),
    Published(
        "proof of a main reservoir",
        partial(proof_pressure, 140),
        175,
        1e-9,
        "49 CFR 229.31(a), 2007: at least 25 % above 140 psi",
        Status.DERIVED,
    ),
    Published(
        "telltale depth, 11 in radius",
        partial(telltale_depth_in, 140, 11, 11_000),
        0.0846,
        1e-4,
        f"{CFR}: 0.6PR/(S - 0.6P)",
        Status.DERIVED,
    ),
    Published(
        "telltale depth, 12 in radius",
        partial(telltale_depth_in, 140, 12, 11_000),
        0.0923,
        1e-4,
        "49 CFR 229.31(c), 2004; S as a fifth of the tensile strength from memory",
        Status.MEMORY,
    ),
    Published(
        "shallowest telltale",
        partial(telltale_depth_in, 50, 6, 11_000),
        1 / 16,
        0,
        "49 CFR 229.31(c), 2004: not less than 1/16 in",
        Status.READ,
    ),
    Published(
        "survey minimum",
        partial(survey_minimum, 140, 11, 11_000),
        0.1411,
        1e-4,
        f"{CFR}: PR/(S - 0.6P)",
        Status.DERIVED,
    ),
    Published(
        "survey minimum, second class of construction",
        partial(survey_minimum, 140, 11, 11_000, seam_in_doubt=True),
        0.2843,
        1e-4,
        f"{CFR}: PR/(0.5S - 0.6P)",
        Status.DERIVED,
    ),
    Published(
        "allowable stress",
        partial(allowable_stress, 55_000),
        11_000,
        0,
        "49 CFR 230.72: a fifth of 55 000 psi",
        Status.READ,
    ),
    Published(
        "pressure times volume",
        partial(pressure_volume_bar_litre, 10, 270),
        2700,
        0,
        "Worked example of a guide to SI 2000/128 (secondary): 270 l at 10 bar",
        Status.READ,
    ),
]

PRESSURES = st.floats(1, 150)
RADII = st.floats(4, 20)
STRESSES = st.floats(8_000, 20_000)
JOINTS = st.floats(0.5, 1)


@pytest.mark.parametrize("row", rows(TABLE))
def test_vessels_give_what_is_printed(row):
    check(row)


@given(st.floats(0.05, 1), st.floats(0, 0.9), RADII, STRESSES, JOINTS)
def test_a_thicker_shell_never_lowers_the_rated_pressure(
    thin, more, radius, stress, joint
):
    thinner = shell_pressure(thin, radius, stress, joint)
    thicker = shell_pressure(min(thin + more, radius / 2), radius, stress, joint)

    assert thicker >= thinner


@given(PRESSURES, RADII, STRESSES, JOINTS)
def test_a_shell_of_the_required_thickness_is_rated_for_the_pressure(
    pressure, radius, stress, joint
):
    thickness = shell_thickness(pressure, radius, stress, joint)

    assert shell_pressure(thickness, radius, stress, joint) == pytest.approx(pressure)


@given(st.sampled_from(Head), st.floats(60, 150), RADII, STRESSES, JOINTS)
def test_an_end_of_the_required_thickness_is_rated_for_the_pressure(
    head, pressure, size, stress, joint
):
    thickness = head_thickness(head, pressure, size, stress, joint)

    found = head_pressure(head, thickness, size, stress, joint)
    assert found == pytest.approx(pressure)


@given(PRESSURES, RADII, STRESSES, JOINTS, st.floats(0.1, 10))
def test_no_unit_is_hidden_in_the_formulas(pressure, radius, stress, joint, scale):
    plain = shell_thickness(pressure, radius, stress, joint)

    scaled = shell_thickness(pressure * scale, radius * 25.4, stress * scale, joint)
    assert scaled == pytest.approx(plain * 25.4)


@given(PRESSURES, RADII, st.floats(10_000, 20_000))
def test_a_telltale_ends_before_the_outside_of_the_thinnest_wall(
    pressure, radius, stress
):
    depth = telltale_depth_in(pressure, radius, stress)

    assert depth == max(0.6 * survey_minimum(pressure, radius, stress), 1 / 16)


def test_inside_and_outside_radius_tell_the_same_wall():
    thickness = shell_thickness(140, 11, 11_000)

    outside = shell_thickness_outside(140, 11 + thickness, 11_000)
    assert outside == pytest.approx(thickness)


def test_the_weakest_part_rates_the_vessel():
    assert rated_pressure(12.0, 10.5, 11.0) == 10.5
    assert rated_pressure(12.0) == 12.0


def test_what_the_plate_states_goes_before_the_formula():
    stated = minimum_thickness(stated_mm=4.0, formula_mm=2.1)
    reckoned = minimum_thickness(stated_mm=None, formula_mm=2.1)

    assert (stated.thickness_mm, stated.basis) == (4.0, Basis.STATED)
    assert (reckoned.thickness_mm, reckoned.basis) == (2.1, Basis.FORMULA)
    assert minimum_thickness(stated_mm=None, formula_mm=None) is None


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (partial(shell_thickness, 5_000, 10, 10_000), "does not hold"),
        (partial(shell_pressure, 6, 10, 10_000), "thicker than half the radius"),
        (partial(shell_thickness_outside, 5_000, 10, 10_000), "does not hold"),
        (partial(round_seam_thickness, 15_000, 10, 10_000, 1.0), "does not hold"),
        (partial(head_thickness, Head.ELLIPSE, 7_000, 10, 10_000), "thick"),
        (partial(head_thickness, Head.TORISPHERE, 1, 48, 15_000), "buckle"),
        (partial(head_pressure, Head.HEMISPHERE, 5, 10, 10_000), "thick"),
        (partial(shell_thickness, 100, 10, 10_000, 1.1), "efficiency"),
        (partial(shell_thickness, -1, 10, 10_000), "more than 0"),
        (partial(proof_pressure, 10, 0.9), "not below the working pressure"),
        (partial(minimum_thickness, stated_mm=0.0, formula_mm=2.0), "more than 0"),
    ],
)
def test_outside_its_validity_a_formula_refuses(call, words):
    with pytest.raises(ValueError, match=words):
        call()
