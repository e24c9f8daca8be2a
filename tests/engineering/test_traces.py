"""Traces with known answers: times within the sampling step, and what is no trace refused."""

import math
from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.engineering.trace_edges import crossing
from fleet.engineering.trace_found import Wanted
from fleet.engineering.trace_outline import outline
from fleet.engineering.trace_points import find_points
from fleet.engineering.traces import noise_of, rounding_of, trace_of, without_spikes
from tests.engineering.published import Published, Status, check, rows
from tests.engineering.synthetic import TAU_S, Test, logged, stepped

RELEASE = Wanted(release_to=0.4)
ICF = "ICF coach maintenance manual, ch. 4 single-car proforma"

EXPONENTIAL, RAMP = Test(), Test(ramp=True)
EVEN = Test(start_s=5.0)


def fill(test, percent=95.0, **how):
    return partial(
        lambda: find_points(logged(test, **how), Wanted(percent=percent)).fill_s
    )


def ten_to_ninety():
    trace = logged(EVEN, step_s=0.02)
    first = crossing(trace, 0.1 * 3.8, rising=True)
    last = crossing(trace, 0.9 * 3.8, rising=True)
    return last.at_s - first.at_s


TABLE = [
    Published(
        "exponential filling to 95 %",
        fill(EVEN, step_s=0.02),
        4.0,
        0.01,
        "3.8(1 - exp(-t/1.33523)), tau = 4/ln 20",
        Status.DERIVED,
    ),
    Published(
        "straight filling to 95 %",
        fill(Test(start_s=5.0, ramp=True), step_s=0.02),
        3.8,
        1e-6,
        "0 to 3.8 bar in 4.0 s",
        Status.DERIVED,
    ),
    Published(
        "rise time from 10 to 90 %",
        ten_to_ninety,
        2.1972 * TAU_S,
        0.005,
        "Signal-processing reference, risetime: tau·ln 9 by interpolation",
        Status.DERIVED,
    ),
    Published(
        "to 75 % of the maximum",
        fill(Test(start_s=5.0, ramp=True), percent=75.0, step_s=0.02),
        3.0,
        1e-6,
        "Reg. (EU) 2015/68, Annex III, 3.5: time to 75 % of the maximum",
        Status.DERIVED,
    ),
    Published(
        "95 % of 3.8",
        lambda: find_points(logged(RAMP)).filled.value,
        3.61,
        1e-3,
        f"{ICF}, item 2a prints 3.6",
        Status.READ,
    ),
    Published(
        "filling in position P",
        fill(EVEN),
        (3, 5),
        None,
        f"{ICF}, item 2a: 3 to 5 s",
        Status.READ,
    ),
    Published(
        "maximum",
        lambda: find_points(logged(EVEN)).maximum,
        (3.7, 3.9),
        None,
        f"{ICF}, items 2b and 5: 3.8 ± 0.1",
        Status.READ,
    ),
    Published(
        "release 3.8 to 0.4",
        lambda: find_points(logged(EVEN), RELEASE).release_s,
        (15, 20),
        None,
        f"{ICF}, item 3: 15 to 20 s",
        Status.READ,
    ),
    Published(
        "loss after an emergency application",
        lambda: 5 * find_points(logged(Test(leak_per_min=0.02))).hold.fall_per_min,
        0.1,
        0.005,
        f"{ICF}, item 6b: 0.1 in 5 min is the limit",
        Status.READ,
    ),
]

SPOILT = {
    "clean": {},
    "noise": {"noise": 0.004},
    "rounding": {"rounding": 0.01},
    "noise and rounding": {"noise": 0.003, "rounding": 0.01},
    "missing samples": {"lost": 0.2},
    "uneven steps": {"jitter": 0.45},
    "a gauge off zero": {"offset": 0.02},
    "drift": {"drift_per_s": 0.0002},
    "spikes": {"noise": 0.002, "spikes": 5},
    "all at once": {
        "noise": 0.003,
        "rounding": 0.005,
        "lost": 0.1,
        "jitter": 0.3,
        "drift_per_s": 0.0001,
    },
}


@pytest.mark.parametrize("row", rows(TABLE))
def test_points_give_what_is_printed(row):
    check(row)


@pytest.mark.parametrize("how", SPOILT.values(), ids=SPOILT.keys())
@pytest.mark.parametrize("test", [EXPONENTIAL, RAMP], ids=["exponential", "ramp"])
@pytest.mark.parametrize("step_s", [0.1, 0.2])
def test_times_are_found_within_the_sampling_step(test, how, step_s):
    points = find_points(logged(test, step_s=step_s, **how), RELEASE)

    level = 0.4 - how.get("offset", 0) - how.get("drift_per_s", 0) * 83
    assert points.start.at_s == pytest.approx(test.start_s, abs=step_s)
    assert points.filled.at_s == pytest.approx(test.filled_s, abs=step_s)
    assert points.release_start.at_s == pytest.approx(test.release_s, abs=step_s)
    assert points.released.at_s == pytest.approx(test.released_s(level), abs=step_s)


@pytest.mark.parametrize("seed", range(5))
def test_a_leak_in_the_hold_is_measured_within_three_standard_errors(seed):
    trace = logged(Test(leak_per_min=0.1), noise=0.005, seed=seed)

    hold = find_points(trace).hold
    # The last of the filling counts among the first of the hold: 0.002 bar/min.
    assert abs(hold.fall_per_min - 0.1) < 3 * hold.error_per_min + 0.002


def test_a_spike_is_no_maximum():
    points = find_points(logged(RAMP, noise=0.002, spikes=10))

    assert points.maximum == pytest.approx(3.8, abs=0.005)


def test_the_steps_of_a_graduated_application_are_told_apart():
    levels = (0.8, 1.6, 2.4, 3.2, 3.8)

    steps = find_points(stepped(levels, noise=0.004)).steps
    assert [round(step.value, 2) for step in steps] == list(levels)
    # Half of each step is risen 0.5·ln 2 s after the handle moved.
    for number, step in enumerate(steps, 1):
        moved = 10 * number
        assert step.risen_at_s == pytest.approx(moved + 0.5 * math.log(2), abs=0.05)


def test_a_pressure_that_is_let_go_at_once_has_a_maximum_but_no_hold():
    course = [0, 0, 0, 1, 2, 3, 3.8, 3, 2, 1, 0.2, 0]

    points = find_points(trace_of(range(len(course)), course, "bar"), RELEASE)
    assert points.maximum == 3.8
    assert points.hold is None
    assert any("not held" in note for note in points.notes)


def test_typed_points_are_taken_at_their_word():
    points = find_points(
        trace_of([0, 2, 4, 6, 60, 62, 70, 80], [0, 0, 2, 4, 4, 3.5, 1, 0], "bar"),
        Wanted(release_to=0.5),
    )

    # Straight between the points: 95 % of 4 is passed 1.8 s into the second ramp.
    assert points.filled.at_s == pytest.approx(5.8)
    assert points.released.at_s == pytest.approx(75)
    assert points.filled.within_s == 2


def test_a_point_in_a_gap_says_so():
    test = Test(ramp=True)
    whole = logged(test, step_s=0.05)
    kept = [i for i, t in enumerate(whole.times_s) if not 7.5 < t < 9.5]
    trace = trace_of(
        [whole.times_s[i] for i in kept], [whole.values[i] for i in kept], "bar"
    )

    points = find_points(trace)
    assert points.filled.within_s == pytest.approx(2.05, abs=0.1)
    assert any("No samples from 7.50 s" in note for note in points.notes)
    assert len(outline(trace, 700)) == 2


def test_what_is_not_in_the_trace_is_said_not_guessed():
    whole = logged(EXPONENTIAL)
    points = find_points(
        trace_of(whole.times_s[200:], whole.values[200:], "bar"), RELEASE
    )

    assert points.start is None
    assert points.fill_s is None
    assert points.release_s == pytest.approx(8 * math.log(9.5), abs=0.1)
    assert any("start is not in it" in note for note in points.notes)


def test_a_trace_without_a_release_says_so():
    points = find_points(logged(RAMP, last_s=40), RELEASE)

    assert points.released is None
    assert "There is no release in the trace." in points.notes


def test_a_train_pipe_is_timed_as_its_vacuum_is_destroyed():
    course = [21.0 if t < 20 else max(21 - 2.1 * (t - 20) / 10, 0) for t in range(100)]
    trace = trace_of([t / 10 for t in range(100)], course, "inHg")

    passed = crossing(trace, 10.5, rising=False)
    assert passed.at_s == pytest.approx(7.0)
    assert crossing(trace, 25, rising=True) is None
    assert crossing(trace, 10.5, rising=False, after_s=8.0) is None


def test_points_of_one_time_become_their_mean():
    trace = trace_of([0, 0, 1, 1, 2, 2], [0, 2, 4, 6, 8, 10], "bar")

    assert list(trace.times_s) == [0, 1, 2]
    assert list(trace.values) == [1, 5, 9]


@pytest.mark.parametrize(
    ("times", "values", "words"),
    [
        pytest.param([], [], "empty", id="empty"),
        pytest.param([0, 1], [0, 1], "at least 3", id="short"),
        pytest.param([0, 1, 2], [0, 1], "every point", id="uneven"),
        pytest.param([2, 1, 0], [0, 1, 2], "backwards", id="reversed"),
        pytest.param([0, 1, 0.5, 2], [0, 1, 2, 3], "goes back at point 3", id="back"),
        pytest.param([0, 1, math.nan], [0, 1, 2], "a number", id="no number"),
        pytest.param([0, 1, 2], [0, -40, 2], "empty space", id="impossible"),
    ],
)
def test_what_is_no_trace_is_refused(times, values, words):
    with pytest.raises(ValueError, match=words):
        trace_of(times, values, "bar")


@pytest.mark.parametrize("noise", [0.0, 0.01])
def test_a_flat_trace_is_refused(noise):
    flat = logged(Test(maximum=0.0), noise=noise)

    with pytest.raises(ValueError, match="no application"):
        find_points(flat)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (partial(trace_of, [0, 1, 2], [0, 1, 2], "mm"), "measures neither"),
        (partial(Wanted, percent=100), "between 0 and 100"),
        (partial(Wanted, still=0), "above zero"),
        (partial(outline, trace_of([0, 1, 2], [0, 1, 2], "bar"), 0), "one column"),
    ],
)
def test_a_wrong_question_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


@settings(max_examples=25, deadline=None)
@given(st.floats(0.1, 20), st.floats(-100, 1_000))
def test_no_unit_and_no_clock_is_hidden_in_the_search(scale, shift):
    test = logged(EXPONENTIAL, step_s=0.2, noise=0.003)
    plain = find_points(test)

    moved = find_points(
        trace_of(
            [t + shift for t in test.times_s], [v * scale for v in test.values], "bar"
        )
    )
    assert moved.fill_s == pytest.approx(plain.fill_s, abs=0.01)
    assert moved.maximum == pytest.approx(plain.maximum * scale, rel=1e-6)


@settings(max_examples=25, deadline=None)
@given(st.floats(2, 30), st.floats(1, 8))
def test_a_later_start_moves_every_time_and_no_duration(start_s, maximum):
    test = Test(start_s=start_s, release_s=start_s + 40, maximum=maximum, ramp=True)

    points = find_points(logged(test, step_s=0.05))
    assert points.start.at_s == pytest.approx(start_s, abs=0.05)
    assert points.fill_s == pytest.approx(3.8, abs=0.05)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(-0.5, 10), min_size=3, max_size=400), st.integers(1, 200))
def test_the_outline_keeps_the_extremes(values, columns):
    trace = trace_of([float(i) for i in range(len(values))], values, "bar")

    drawn = [value for run in outline(trace, columns) for _, value in run]
    assert min(drawn) == min(values)
    assert max(drawn) == max(values)
    assert len(drawn) <= 2 * columns


@given(st.lists(st.floats(-10, 10), min_size=3, max_size=50))
def test_a_course_that_only_rises_has_no_spikes(values):
    assert without_spikes(sorted(values))[1:-1] == sorted(values)[1:-1]


def test_a_spike_at_either_end_is_taken_off_and_a_slope_left():
    assert without_spikes([9, 1, 2, 3, 4, 5, 0])[0] == 2
    assert without_spikes([0, 1, 2, 3, 4, 5, -9])[-1] == 4
    assert without_spikes([0, 1, 2, 3, 4]) == [0, 1, 2, 3, 4]


def test_noise_is_told_from_slope_and_from_rounding():
    ramp = logged(RAMP, noise=0.01, step_s=0.02)

    assert noise_of(ramp.values) == pytest.approx(0.01, rel=0.1)
    assert noise_of([0.1 * i for i in range(200)]) == pytest.approx(0, abs=1e-12)
    assert rounding_of([round(i * 0.013 / 0.05) * 0.05 for i in range(200)]) == (
        pytest.approx(0.05)
    )
    assert rounding_of(ramp.values) == 0
