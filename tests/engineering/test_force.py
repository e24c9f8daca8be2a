"""Block force, percentages and hand brakes against printed figures, and laws of any gear."""

from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.engineering.force import (
    Rigging,
    block_force,
    braked_weight_percentage,
    braking_ratio_percent,
    cast_iron_block_friction,
    compare_force,
    composite_block_friction,
    gradient_pull_kn,
    hand_brake,
    hand_brakes_needed,
    lever,
    leverage,
    piston_force_kn,
    whole_percentage,
)
from fleet.engineering.stopping import basic_deceleration
from tests.engineering.published import Published, Status, check, rows

CURVES = "Paper on shunting braking curves and its code; UIC 544-1 Appendix G 4.4"
KARWATZKI = "same code, 0.055·(F+200)/(F+50)·(v+150)/(v+75)"
IRON = "Karwatzki, cast iron (from memory)"
LUDY = "Air Brakes treatise (public domain), pp. 100-101, service column"
RULE3 = "AAR Interchange Rule 3 as quoted, (b)(9)"
LBF_KN = 0.0044482216152605
PSI_BAR = 0.0689475729
SHUNTER = Rigging(ratio=5.65, efficiency=0.83, blocks=16)
SHUNTER_PISTON_KN = 269.5 / 5.65

TABLE = [
    Published(
        "force without losses",
        lambda: block_force(SHUNTER_PISTON_KN, SHUNTER).lossless_kn,
        269.5,
        0.1,
        CURVES,
        Status.READ,
    ),
    Published(
        "dynamic force",
        lambda: block_force(SHUNTER_PISTON_KN, SHUNTER).total_kn,
        223.7,
        0.1,
        CURVES,
        Status.READ,
    ),
    Published(
        "dynamic force per block",
        lambda: block_force(SHUNTER_PISTON_KN, SHUNTER).per_block_kn,
        13.98,
        0.01,
        CURVES,
        Status.READ,
    ),
    Published(
        "percentage, rounded down",
        lambda: whole_percentage(braked_weight_percentage(56, 53)),
        105,
        None,
        CURVES,
        Status.READ,
    ),
    Published(
        "force of that deceleration",
        lambda: round(basic_deceleration(105), 2) * 53,
        45.58,
        0.01,
        CURVES,
        Status.READ,
    ),
    Published(
        "percentage of a train",
        partial(braked_weight_percentage, 960, 1200),
        80,
        0,
        "Guide to UIC 544-1: B/m·100",
        Status.DERIVED,
    ),
    *(
        Published(
            f"composition block at {speed} km/h",
            partial(composite_block_friction, 16.842, speed),
            friction,
            1e-4,
            KARWATZKI,
            Status.DERIVED,
        )
        for speed, friction in ((0, 0.3568), (25, 0.3122), (100, 0.2549))
    ),
    *(
        Published(
            f"cast-iron block at {speed} km/h",
            partial(cast_iron_block_friction, 20, speed),
            friction,
            1e-4,
            IRON,
            Status.MEMORY,
        )
        for speed, friction in ((0, 0.3024), (60, 0.1210), (120, 0.0951))
    ),
    Published(
        "first lever",
        partial(lever, 4500, 1, 3),
        1500,
        1,
        f"{LUDY}: 4 500 lb to 1 500 lb",
        Status.READ,
    ),
    Published(
        "truck lever",
        partial(lever, 1500, 4, 1),
        6000,
        1,
        f"{LUDY}: 1 500 lb to 6 000 lb a beam",
        Status.READ,
    ),
    Published(
        "least light weight for 70 %",
        lambda: 24_000 * LBF_KN / (0.70 * 9.80665) / 0.00045359237,
        34_286,
        1,
        f"{LUDY}: 24 000 lb at 70 %",
        Status.READ,
    ),
    Published(
        "ten-inch cylinder at 50 psi",
        lambda: piston_force_kn(50 * PSI_BAR, 254) / LBF_KN,
        3927,
        1,
        RULE3,
        Status.DERIVED,
    ),
    Published(
        "leverage for 60 % of 43 000 lb",
        partial(leverage, 43_000, 60, 3927),
        6.57,
        0.01,
        RULE3,
        Status.DERIVED,
    ),
    Published(
        "ratio of a bogie-mounted brake",
        lambda: braking_ratio_percent(2110 * 8 * 0.00980665, 4 * 20.32),
        20.8,
        0.1,
        "RDSO WD-23-BMBS-2008, 2.1: 2 110 kgf a wheel, 8 wheels, 4 x 20.32 t",
        Status.DERIVED,
    ),
    Published(
        "what each hand brake held",
        lambda: gradient_pull_kn(10_070 * 0.90718474, 0.013) / 57 / LBF_KN,
        4593,
        1,
        "TSB R11Q0056, Appendices A and B, as quoted: 57 for 10 070 tons on 1.3 %",
        Status.DERIVED,
    ),
    Published(
        "57 hand brakes of that force",
        lambda: hand_brakes_needed(
            gradient_pull_kn(10_070 * 0.90718474, 0.013) / LBF_KN, 4593
        ),
        57,
        None,
        "TSB R11Q0056, Appendices A and B, as quoted",
        Status.READ,
    ),
    Published(
        "72 equal cars on 1.2 %",
        partial(hand_brakes_needed, 72 * 0.012, 0.085),
        11,
        None,
        "Worked post citing TSB R06V0136, 1.14.2",
        Status.READ,
    ),
]

PISTONS = st.floats(0, 60)
LOSSES = st.floats(0, 5)


@pytest.mark.parametrize("row", rows(TABLE))
def test_force_gives_what_is_printed(row):
    check(row)


@given(PISTONS, st.floats(0, 20), LOSSES)
def test_more_cylinder_force_never_brakes_less(piston, more, spring):
    rigging = Rigging(8, 0.83, 8, spring, 2.0, 4.0)

    less = block_force(piston, rigging).total_kn
    assert block_force(piston + more, rigging).total_kn >= less >= 0


@given(PISTONS, LOSSES, LOSSES)
def test_springs_and_slack_adjuster_never_add_force(piston, spring, adjuster):
    bare = block_force(piston, Rigging(8, 0.83, 8))

    fitted = block_force(piston, Rigging(8, 0.83, 8, spring, adjuster, 4.0))
    assert fitted.total_kn <= bare.total_kn


@given(st.floats(1, 60), st.floats(5, 60), st.floats(0, 0.08), st.floats(0, 0.02))
def test_a_steeper_gradient_is_never_held_more_easily(block, mass, gradient, more):
    gentle = hand_brake(block, 0.2, mass, gradient)
    steep = hand_brake(block, 0.2, mass, gradient + more)

    assert steep.pulls_kn >= gentle.pulls_kn
    assert gentle.holds or not steep.holds


@given(st.floats(1, 40), st.floats(10, 60), st.floats(1, 2))
def test_the_steepest_gradient_is_just_held(block, mass, margin):
    steepest = hand_brake(block, 0.2, mass, 0.01, margin=margin).steepest

    just = hand_brake(block, 0.2, mass, steepest * 0.999, margin=margin)
    over = hand_brake(block, 0.2, mass, steepest * 1.001, margin=margin)
    assert just.holds
    assert not over.holds


def test_the_adjuster_works_at_its_own_ratio():
    rigging = Rigging(8, 0.9, 8, return_kn=1.5, adjuster_kn=2.0, adjuster_ratio=4.0)

    # (20 - 1.5)·8 - 4·2 = 140 kN, of which nine tenths arrive.
    force = block_force(20, rigging)
    assert force.lossless_kn == pytest.approx(140)
    assert force.total_kn == pytest.approx(126)


def test_a_fall_asks_why_once_it_exceeds_the_set_part():
    within = compare_force(91, type_kn=100, previous_kn=100, ask_below=0.1)
    beyond = compare_force(89, type_kn=100, previous_kn=95, ask_below=0.1)

    assert within.questions == ()
    assert within.from_type == pytest.approx(-0.09)
    assert len(beyond.questions) == 1
    assert "the figure of the type" in beyond.questions[0]


def test_without_figures_nothing_is_compared():
    change = compare_force(50, type_kn=None, previous_kn=None, ask_below=0.1)

    assert (change.from_type, change.from_previous, change.questions) == (
        None,
        None,
        (),
    )


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (partial(Rigging, 0, 0.9, 8), "more than 0"),
        (partial(Rigging, 8, 1.2, 8), "Efficiency"),
        (partial(Rigging, 8, 0.9, 0), "one brake block"),
        (partial(piston_force_kn, -1, 300), "below 0 bar"),
        (partial(composite_block_friction, 100, 50), "5 to 60 kN"),
        (partial(composite_block_friction, 20, 300), "0 to 160 km/h"),
        (partial(hand_brake, 20, 0.2, 30, 0.01, margin=0.5), "margin"),
        (partial(hand_brake, 20, 1.5, 30, 0.01), "Friction"),
        (
            partial(compare_force, 1, type_kn=1, previous_kn=None, ask_below=5),
            "between 0 and 1",
        ),
        (partial(braked_weight_percentage, 20, 0), "more than 0 t"),
    ],
)
def test_a_figure_that_cannot_be_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
