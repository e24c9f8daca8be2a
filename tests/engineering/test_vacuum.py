"""The laws that leaks and pull of the vacuum brake obey, and what they refuse."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fleet.engineering.flow import SHARP_EDGED, Choke
from fleet.engineering.vacuum import (
    WORKING_21_MBAR,
    WORKING_25_MBAR,
    InwardLeak,
    LeakLine,
    VacuumCylinder,
    absolute_mbar,
    applied,
    chamber_holding,
    leak_from_fall,
    leak_through,
    left_on_mbar,
    seconds_to_fall,
    together,
    train_pipe_fall,
    vacuum_after,
)

COACH = VacuumCylinder(609.6, 80.0, 320.0)
ONE = InwardLeak(10.0)
VACUUMS = st.floats(0, 1000)
LEAKS = st.builds(InwardLeak, st.floats(0.1, 500))
VOLUMES = st.floats(5, 2000)


@given(LEAKS, VACUUMS, VACUUMS)
def test_a_deeper_vacuum_never_leaks_less_and_never_more_than_choked(leak, one, other):
    low, high = sorted((one, other))

    assert 0 <= leak.at(low) <= leak.at(high) <= leak.choked_l_per_min


@given(VOLUMES, LEAKS, st.floats(1, 1000), st.floats(0, 1))
def test_the_vacuum_after_a_time_to_fall_is_the_one_asked_for(
    volume, leak, start, share
):
    to = share * start
    seconds = seconds_to_fall(volume, leak, from_mbar=start, to_mbar=to)

    found = vacuum_after(volume, leak, from_mbar=start, seconds=seconds)

    assert found == pytest.approx(to, abs=0.05)


@given(VOLUMES, LEAKS, st.floats(50, 1000), st.floats(1, 3600))
def test_the_leak_found_from_a_fall_is_the_one_that_made_it(
    volume, leak, start, seconds
):
    left = vacuum_after(volume, leak, from_mbar=start, seconds=seconds)
    assume(1 < left < start - 0.1)

    found = leak_from_fall(volume, first_mbar=start, last_mbar=left, seconds=seconds)

    assert found.choked_l_per_min == pytest.approx(leak.choked_l_per_min, rel=1e-3)


@given(st.floats(100, 1000), st.floats(0, 80), st.floats(0, 80), st.floats(10, 500))
def test_more_lift_never_pulls_harder(working, one, other, chamber):
    cylinder = VacuumCylinder(500, 25, chamber)
    less, more = sorted((one, other))
    pull = [
        applied(cylinder, working_mbar=working, lift_mm=lift) for lift in (less, more)
    ]

    assert 0 <= pull[1].pull_kn <= pull[0].pull_kn
    assert pull[0].differential_mbar <= working + 1e-9


@given(st.floats(0, 80), st.floats(0, 500))
def test_25_inhg_pulls_harder_than_21_by_more_than_the_ratio_of_the_two(lift, chamber):
    cylinder = VacuumCylinder(500, 25, chamber)
    low, high = (
        applied(cylinder, working_mbar=working, lift_mm=lift).pull_kn
        for working in (WORKING_21_MBAR, WORKING_25_MBAR)
    )

    assert high / low >= 25 / 21 - 1e-9


@given(LEAKS, st.floats(0, 400), st.floats(0, 300), st.floats(1, 300))
def test_a_larger_chamber_holds_longer(leak, chamber, drops_at, more):
    def seconds(litres):
        return chamber_holding(
            VacuumCylinder(500, 25, litres),
            leak,
            working_mbar=WORKING_21_MBAR,
            lift_mm=60,
            drops_at_mbar=drops_at,
        ).seconds

    assert seconds(chamber + more) > seconds(chamber) >= 0


@given(LEAKS, st.floats(0, 700), st.floats(0, 700))
def test_a_brake_that_needs_more_pull_drops_off_sooner(leak, one, other):
    def seconds(drops_at):
        return chamber_holding(
            COACH,
            leak,
            working_mbar=WORKING_21_MBAR,
            lift_mm=100,
            drops_at_mbar=drops_at,
        ).seconds

    less, more = sorted((one, other))
    assert seconds(more) <= seconds(less)


@given(st.floats(0.5, 20))
def test_a_test_disc_is_found_again_from_the_leak_it_makes(diameter):
    leak = leak_through(Choke(diameter, SHARP_EDGED))

    assert leak.hole_mm() == pytest.approx(diameter)


def test_one_leak_falls_evenly_from_deep_and_slower_from_shallow():
    def rate(first):
        last = vacuum_after(500, ONE, from_mbar=first, seconds=30)
        return train_pipe_fall(
            500, first_mbar=first, last_mbar=last, seconds=30
        ).mbar_per_min

    assert rate(700) == pytest.approx(rate(600))
    assert rate(200) < 0.95 * rate(600)


def test_falls_from_different_vacuums_show_the_same_leak():
    shallow = vacuum_after(500, ONE, from_mbar=200, seconds=300)

    found = train_pipe_fall(500, first_mbar=200, last_mbar=shallow, seconds=300)

    assert found.leak.choked_l_per_min == pytest.approx(10, rel=1e-3)


@given(st.lists(LEAKS, min_size=1, max_size=12), VACUUMS)
def test_a_train_draws_in_the_air_of_all_its_vehicles(leaks, vacuum):
    alone = sum(leak.at(vacuum) for leak in leaks)

    assert together(leaks).at(vacuum) == pytest.approx(alone)


def test_the_two_lines_carry_opposite_dangers():
    pipe = train_pipe_fall(500, first_mbar=711, last_mbar=650, seconds=60)
    chamber = chamber_holding(
        COACH, ONE, working_mbar=711, lift_mm=100, drops_at_mbar=300
    )

    assert (pipe.line, chamber.line) == (LeakLine.TRAIN_PIPE, LeakLine.CHAMBER)
    assert "brakes on" in pipe.line.danger
    assert "brake off" in chamber.line.danger


def test_a_tight_train_pipe_has_no_leak():
    found = train_pipe_fall(500, first_mbar=711, last_mbar=711, seconds=60)

    assert found.leak is None
    assert found.mbar_per_min == 0


def test_a_train_pipe_partly_drawn_leaves_less_pull():
    full = applied(COACH, working_mbar=711, lift_mm=100)
    partly = applied(COACH, working_mbar=711, lift_mm=100, train_pipe_mbar=400)

    assert partly.chamber_mbar == pytest.approx(full.chamber_mbar)
    assert partly.differential_mbar == pytest.approx(full.differential_mbar - 400)


def test_with_the_train_pipe_drawn_as_deep_the_brake_is_off():
    found = applied(COACH, working_mbar=711, lift_mm=100, train_pipe_mbar=711)

    assert found.pull_kn == 0
    assert found.chamber_mbar == pytest.approx(711)


def test_a_brake_too_weak_from_the_start_holds_for_no_time():
    found = chamber_holding(
        COACH, ONE, working_mbar=300, lift_mm=100, drops_at_mbar=500
    )

    assert found.seconds == 0


def test_a_higher_working_vacuum_taking_over_leaves_nothing_on():
    assert left_on_mbar(was_mbar=WORKING_21_MBAR, now_mbar=WORKING_25_MBAR) == 0


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        pytest.param(
            lambda: absolute_mbar(1100), "1100 mbar cannot be", id="below nothing"
        ),
        pytest.param(lambda: absolute_mbar(-1), "lies between 0", id="pressure"),
        pytest.param(lambda: absolute_mbar(float("nan")), "cannot be", id="no number"),
        pytest.param(lambda: InwardLeak(0), "flow of free air", id="no leak"),
        pytest.param(lambda: together([]), "flow of free air", id="no train"),
        pytest.param(lambda: VacuumCylinder(0, 25), "The bore", id="no bore"),
        pytest.param(
            lambda: VacuumCylinder(500, 25).upper_l(130),
            "ends at 127 mm",
            id="through the top",
        ),
        pytest.param(
            lambda: seconds_to_fall(100, ONE, from_mbar=400, to_mbar=500),
            "lets the vacuum fall",
            id="rising",
        ),
        pytest.param(
            lambda: train_pipe_fall(100, first_mbar=700, last_mbar=690, seconds=0),
            "time between the readings",
            id="at once",
        ),
        pytest.param(
            lambda: vacuum_after(0, ONE, from_mbar=700, seconds=1),
            "The volume",
            id="no volume",
        ),
    ],
)
def test_vacuum_refuses_what_cannot_be_with_a_sentence(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        wrong()
