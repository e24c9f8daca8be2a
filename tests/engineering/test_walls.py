"""The required wall: drawing or plate first, else shell and ends by formula, in words."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.engineering.vessels import Head, head_pressure, shell_pressure
from fleet.engineering.walls import WallFigures, required_wall

PSI_IN_BAR = 0.0689476
PSI_IN_MPA = 0.00689476
INCH = 25.4

# An air reservoir: 7 bar, 400 mm inside, 100 MPa, joint 0.7, ends 2:1.
AIR = WallFigures(
    pressure_bar=7,
    diameter_mm=400,
    stress_mpa=100,
    efficiency=0.7,
    head=Head.ELLIPSE,
)


def american(psi, diameter_in, stress_psi, efficiency, head, crown_in=None):
    """Figures of a printed example, in bar, mm and MPa."""
    return WallFigures(
        pressure_bar=psi * PSI_IN_BAR,
        diameter_mm=diameter_in * INCH,
        stress_mpa=stress_psi * PSI_IN_MPA,
        efficiency=efficiency,
        head=head,
        crown_mm=None if crown_in is None else crown_in * INCH,
    )


@pytest.mark.parametrize(
    ("figures", "inches"),
    [
        # API 510 worksheet, item 1 (shell; its radius 24 in), ASME VIII-1 UG-27(c)(1).
        # A hemisphere of the same radius asks for less.
        (american(75, 48, 13_500, 0.85, Head.HEMISPHERE), 0.1575),
        # Pressure-vessel handbook, Table 1, citing ASME VIII-1 (1983) UG-32(e): dished
        # end of 48 in crown radius; the shell of 48 in asks for less.
        (american(100, 48, 15_000, 0.85, Head.TORISPHERE, 48), 0.33344),
    ],
)
def test_the_wall_by_formula_is_that_of_printed_examples(figures, inches):
    wall = required_wall(None, figures)

    assert wall.thickness_mm == pytest.approx(inches * INCH, abs=0.012)
    assert wall.thickness_mm >= (inches - 5e-5) * INCH  # rounded up, never down


def test_what_drawing_or_plate_states_goes_before_the_formula():
    assert required_wall(1.5, AIR).words == "1.5 mm by drawing or plate"


def test_the_formula_says_of_which_part_and_by_which_clause():
    # 0.7 * 200 / (70 - 0.42) = 2.0121; 0.7 * 400 / (140 - 0.14) = 2.0020; rounded up.
    assert required_wall(None, AIR).words == (
        "2.02 mm by formula, shell 2.02 mm (ASME VIII-1 UG-27) and ends 2.01 mm (UG-32), "
        "as no minimum from drawing or plate is recorded"
    )


def test_an_outside_diameter_asks_a_little_less_of_the_shell():
    # ASME VIII-1 Appendix 1-1(a)(1): 0.7 * 200 / (70 + 0.28) = 1.9920.
    assert "shell 2 mm" in required_wall(None, replace(AIR, outside=True)).words


@pytest.mark.parametrize(
    ("missing", "words"),
    [
        ({"pressure_bar": None}, "working pressure"),
        ({"diameter_mm": None}, "diameter"),
        ({"stress_mpa": None}, "allowable stress"),
        ({"efficiency": None}, "joint efficiency"),
        ({"head": None}, "shape of the ends"),
        ({"head": Head.TORISPHERE}, "crown radius of the ends"),
    ],
)
def test_what_is_not_recorded_is_named_and_never_guessed(missing, words):
    wall = required_wall(None, replace(AIR, **missing))

    assert wall.thickness_mm is None
    assert wall.words.endswith(f"the formula lacks the {words}")


def test_outside_the_formula_no_wall_is_given_and_the_reason_is():
    wall = required_wall(None, replace(AIR, pressure_bar=700))

    assert wall.thickness_mm is None
    assert "UG-27 does not hold" in wall.words


@given(
    st.floats(2, 15),
    st.floats(150, 800),
    st.floats(60, 140),
    st.floats(0.5, 1),
    st.booleans(),
)
def test_a_vessel_of_the_required_wall_is_rated_for_its_pressure(
    bar, diameter, stress, joint, outside
):
    figures = WallFigures(bar, diameter, outside, stress, joint, Head.ELLIPSE)
    wall = required_wall(None, figures)
    if wall.thickness_mm is None:  # so thin an end may buckle: no formula
        assert "does not hold" in wall.basis
        return
    t = wall.thickness_mm
    inside = diameter / 2 - t if outside else diameter / 2
    assert shell_pressure(t, inside, stress, joint) * 10 >= bar - 1e-6
    end = head_pressure(Head.ELLIPSE, t, 2 * inside, stress, joint)
    assert end * 10 >= bar - 1e-6
