"""Recordings of several applications, and of a train pipe; the true times are known."""

import math

import pytest

from fleet.engineering.trace_found import Wanted
from fleet.engineering.trace_points import find_points
from fleet.engineering.traces import trace_of
from tests.engineering.synthetic import Test, logged

STEP_S = 0.1


def two_applications(noise=0.0):
    """A weak application of 100 s, then a full one beginning at 105.0037 s."""
    weak = logged(Test(maximum=2.0), step_s=STEP_S, noise=noise)
    full = logged(Test(), step_s=STEP_S, noise=noise, seed=2)
    times = [*weak.times_s, *(t + 100 for t in full.times_s)]
    return trace_of(times, [*weak.values, *full.values], "bar")


def train_pipe(*, rest=5.0, falls_to=3.5, step_s=0.05):
    """A pipe drawn down along a straight line from 10 s, back from 40 s, both at 0.5 a s."""
    times = [i * step_s for i in range(int(60 / step_s))]

    def value(t):
        if t < 10:
            return rest
        down = max(rest - 0.5 * (t - 10), falls_to)
        return down if t < 40 else min(falls_to + 0.5 * (t - 40), rest)

    return trace_of(times, [value(t) for t in times], "bar")


@pytest.mark.parametrize("noise", [0.0, 0.004], ids=["clean", "noisy"])
@pytest.mark.parametrize(
    ("number", "start", "maximum"),
    [(None, 105.0037, 3.8), (1, 5.0037, 2.0), (2, 105.0037, 3.8)],
    ids=["the strongest", "the first", "the second"],
)
def test_of_several_applications_the_one_chosen_counts(noise, number, start, maximum):
    found = find_points(two_applications(noise), Wanted(application=number))

    assert len(found.applications) == 2
    assert found.start.at_s == pytest.approx(start, abs=2 * STEP_S)
    assert found.maximum == pytest.approx(maximum, abs=0.02)
    assert found.fill_s == pytest.approx(4.0, abs=2 * STEP_S)


def test_the_times_of_an_application_are_those_it_has_in_a_recording_of_its_own():
    wanted = Wanted(release_to=0.4)
    alone = find_points(logged(Test(), step_s=STEP_S), wanted)
    among = find_points(two_applications(), wanted)

    assert among.fill_s == pytest.approx(alone.fill_s, abs=STEP_S)
    assert among.release_s == pytest.approx(alone.release_s, abs=STEP_S)


def test_an_application_that_is_not_there_is_refused_by_its_number():
    with pytest.raises(ValueError, match="There is no application 3: 2 found"):
        find_points(two_applications(), Wanted(application=3))


def test_a_train_pipe_is_timed_down_to_a_level_and_back_to_one():
    wanted = Wanted(falls=True, fill_to=4.0, release_to=4.75)
    found = find_points(train_pipe(), wanted)

    # 5 to 4 bar at 0.5 bar/s: 2 s. 3.5 to 4.75 bar at the same rate: 2.5 s.
    assert found.falls
    assert found.rest == pytest.approx(5.0)
    assert found.maximum == pytest.approx(3.5)
    assert found.fill_s == pytest.approx(2.0, abs=0.05)
    assert found.release_s == pytest.approx(2.5, abs=0.05)
    assert found.filled.value == pytest.approx(4.0)
    assert found.peak.value == pytest.approx(3.5, abs=0.01)


def test_a_level_the_train_pipe_never_passes_gives_no_time_and_says_so():
    found = find_points(train_pipe(), Wanted(falls=True, fill_to=3.0, release_to=5.2))

    assert found.fill_s is None
    assert found.release_s is None
    assert any("does not pass 3 bar" in note for note in found.notes)
    assert any("does not come back to 5.2 bar" in note for note in found.notes)


def test_turning_a_trace_upside_down_moves_no_point_in_time():
    cylinder = logged(Test(), step_s=STEP_S, noise=0.003)
    pipe = trace_of(cylinder.times_s, [5 - v for v in cylinder.values], "bar")
    one = find_points(cylinder, Wanted(fill_to=3.0, release_to=0.5))
    other = find_points(pipe, Wanted(falls=True, fill_to=2.0, release_to=4.5))

    assert math.isclose(one.fill_s, other.fill_s, abs_tol=1e-6)
    assert math.isclose(one.release_s, other.release_s, abs_tol=1e-6)
    assert math.isclose(one.maximum, 5 - other.maximum, abs_tol=1e-6)
