"""Straight lines through readings, against certified values and a reference library."""

import random
import statistics
from functools import partial

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fleet.engineering.trend import fit_line, t_95
from tests.engineering.published import Published, Status, check, rows

NORRIS = "NIST Statistical Reference Datasets, linear regression, Norris.dat, certified"
GUIDE = "hp 48gII graphing calculator user's manual, p. 18-54 f., Example 1"
ANSCOMBE = "F. J. Anscombe, The American Statistician 27 (1973), set I"
TABLE_OF_T = "NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2"

NORRIS_XY = [
    *[(0.2, 0.1), (337.4, 338.8), (118.2, 118.1), (884.6, 888.0), (10.1, 9.2)],
    *[(226.5, 228.1), (666.3, 668.5), (996.3, 998.5), (448.6, 449.1), (777.0, 778.9)],
    *[(558.2, 559.2), (0.4, 0.3), (0.6, 0.1), (775.5, 778.1), (666.9, 668.8)],
    *[(338.0, 339.3), (447.5, 448.9), (11.6, 10.8), (556.0, 557.7), (228.1, 228.3)],
    *[(995.8, 998.0), (887.6, 888.8), (120.2, 119.6), (0.3, 0.3), (0.3, 0.6)],
    *[(556.8, 557.6), (339.1, 339.3), (887.2, 888.0), (999.0, 998.5), (779.0, 778.9)],
    *[(11.1, 10.2), (118.3, 117.6), (229.2, 228.9), (669.1, 668.4), (448.9, 449.2)],
    (0.5, 0.2),
]
GUIDE_XY = [(2.0, 5.5), (2.5, 7.2), (3.0, 9.4), (3.5, 10.0), (4.0, 12.2)]
ANSCOMBE_XY = [
    *[(10, 8.04), (8, 6.95), (13, 7.58), (9, 8.81), (11, 8.33), (14, 9.96)],
    *[(6, 7.24), (4, 4.26), (12, 10.84), (7, 4.82), (5, 5.68)],
]


def _fit(points):
    return fit_line([x for x, _ in points], [y for _, y in points])


def _t(degrees, printed, tolerance=0.0005):
    return Published(
        f"Student's t, {degrees}",
        partial(t_95, degrees),
        printed,
        tolerance,
        TABLE_OF_T,
        Status.MEMORY,
    )


TABLE = [
    Published(
        "Norris, slope",
        lambda: _fit(NORRIS_XY).slope,
        1.00211681802045,
        1e-12,
        NORRIS,
        Status.READ,
    ),
    Published(
        "Norris, intercept",
        lambda: _fit(NORRIS_XY).intercept,
        -0.262323073774029,
        1e-11,
        NORRIS,
        Status.READ,
    ),
    Published(
        "Norris, standard error of the slope",
        lambda: _fit(NORRIS_XY).standard_error,
        0.429796848199937e-3,
        1e-14,
        NORRIS,
        Status.READ,
    ),
    Published(
        "five points, slope",
        lambda: _fit(GUIDE_XY).slope,
        3.24,
        1e-9,
        GUIDE,
        Status.READ,
    ),
    Published(
        "five points, intercept",
        lambda: _fit(GUIDE_XY).intercept,
        -0.86,
        1e-9,
        GUIDE,
        Status.READ,
    ),
    Published(
        "five points, half width of the slope at 95 %",
        lambda: _fit(GUIDE_XY).half_width_95,
        0.860242,
        5e-7,
        GUIDE,
        Status.READ,
    ),
    Published(
        "five points, interval of the slope called -1.72 to -0.0002",
        lambda: _fit(GUIDE_XY).slope + _fit(GUIDE_XY).half_width_95,
        -0.00024217,
        1e-6,
        f"{GUIDE}: the interval is laid round the intercept; round 3.24 it ends at 4.10",
        Status.REFUTED,
    ),
    Published(
        "Student's t, 3, to many figures",
        partial(t_95, 3),
        3.18244630528,
        1e-9,
        GUIDE,
        Status.READ,
    ),
    Published(
        "Anscombe I, slope",
        lambda: _fit(ANSCOMBE_XY).slope,
        0.5001,
        1e-4,
        ANSCOMBE,
        Status.MEMORY,
    ),
    Published(
        "Anscombe I, intercept",
        lambda: _fit(ANSCOMBE_XY).intercept,
        3.0001,
        1e-4,
        ANSCOMBE,
        Status.MEMORY,
    ),
    _t(1, 12.706),
    _t(2, 4.303),
    _t(7, 2.365),
    _t(10, 2.228),
    _t(30, 2.042),
    _t(60, 2.000),
    _t(100, 1.984),
    _t(1_000_000, 1.960),
]


@pytest.mark.parametrize("row", rows(TABLE))
def test_lines_agree_with_what_is_printed_of_them(row):
    check(row)


POINTS = st.lists(
    st.tuples(st.integers(-1000, 1000), st.integers(-1000, 1000)),
    min_size=2,
    max_size=30,
).filter(lambda points: len({x for x, _ in points}) > 1)


@given(POINTS)
def test_the_line_is_that_of_the_reference_library(points):
    oracle = statistics.linear_regression(
        [float(x) for x, _ in points], [float(y) for _, y in points]
    )

    line = _fit(points)

    assert line.slope == pytest.approx(oracle.slope, abs=1e-9)
    assert line.intercept == pytest.approx(oracle.intercept, abs=1e-6)


@given(POINTS, st.integers(-500, 500), st.integers(-500, 500))
def test_where_clock_and_gauge_begin_to_count_does_not_matter(points, later, higher):
    assume(len(points) > 2)
    moved = [(x + later, y + higher) for x, y in points]

    assert _fit(moved).slope == pytest.approx(_fit(points).slope, abs=1e-9)
    assert _fit(moved).standard_error == pytest.approx(
        _fit(points).standard_error, abs=1e-9
    )


@given(st.integers(1, 5_000), st.integers(1, 5_000))
def test_more_readings_never_make_the_confidence_wider(one, other):
    fewer, more = sorted((one, other))

    assert 1.9599 < t_95(more) <= t_95(fewer) <= 12.7063


def test_the_interval_holds_the_true_slope_about_nineteen_times_in_twenty():
    chance = random.Random(7)
    times = list(range(8))
    held = 0
    for _ in range(2_000):
        line = fit_line(times, [0.5 * x + chance.gauss(0, 1) for x in times])
        held += abs(line.slope - 0.5) <= line.half_width_95

    assert 0.93 < held / 2_000 < 0.97


def test_the_two_ways_to_student_meet():
    """Up to 200 degrees t is summed, beyond it is a series: dt/dn = (z³ + z)/(4n²)."""
    z = 1.959964

    assert t_95(200) - t_95(201) == pytest.approx((z**3 + z) / 4 / 200.5**2, rel=0.05)


def test_two_points_tell_nothing_of_their_scatter():
    line = fit_line([0, 60], [5.0, 4.9])

    assert line.standard_error is None
    assert line.half_width_95 is None


@pytest.mark.parametrize(
    ("xs", "ys", "sentence"),
    [
        pytest.param([1], [1], "at least two", id="one reading"),
        pytest.param([1, 2], [1], "do not go with", id="a reading missing"),
        pytest.param([3, 3], [1, 2], "of the same moment", id="all at once"),
        pytest.param([1, 2], [1, float("nan")], "must be a number", id="no number"),
    ],
)
def test_a_line_is_refused_with_a_sentence(xs, ys, sentence):
    with pytest.raises(ValueError, match=sentence):
        fit_line(xs, ys)


def test_student_needs_more_than_two_readings():
    with pytest.raises(ValueError, match="With two readings"):
        t_95(0)
