"""The drawing of a trace: what was found is on it, in black and white, and in words."""

from dataclasses import replace
from xml.etree import ElementTree

import pytest

from fleet.engineering.trace_found import Wanted
from fleet.engineering.trace_outline import outline
from fleet.engineering.trace_points import find_points
from fleet.ui.drawing import Circle, Line, Path, Text, to_svg
from fleet.ui.trace_drawing import (
    TraceLimit,
    TraceMark,
    TraceSheet,
    TraceSpan,
    found_on,
    ticks,
    trace_drawing,
    trace_words,
)
from tests.engineering.synthetic import Test, logged

TRACE = logged(Test(ramp=True), step_s=0.05, noise=0.003)
POINTS = find_points(TRACE, Wanted(release_to=0.4))
MARKS, SPANS = found_on(POINTS)
LIMITS = (TraceLimit(3.9, "3.9 bar at most"), TraceLimit(0.4, "0.4 bar released"))
SHEET = TraceSheet(outline(TRACE, 700), "bar", MARKS, LIMITS, SPANS)


def shapes(kind, sheet=SHEET, **how):
    return [
        item for item in trace_drawing(sheet, **how).shapes() if isinstance(item, kind)
    ]


def words(sheet=SHEET, **how):
    return [text.words for text in shapes(Text, sheet, **how)]


def test_every_found_point_is_numbered_and_told():
    said = words()

    assert len(MARKS) == 5
    for number, mark in enumerate(MARKS, 1):
        assert said.count(str(number)) >= 2  # on the trace and in the legend
        assert any(line.startswith(mark.label) for line in said)
    assert "start of application: 5.00 s, 0.00 bar" in said


def test_durations_and_limits_stand_in_words():
    said = words()

    assert "filled in 3.8 s" in said
    assert {"released in 15.4 s", "released in 15.5 s"} & set(said)  # 15.45 s
    assert {"3.9 bar at most", "0.4 bar released"} <= set(said)


def test_a_limit_is_told_from_trace_and_grid_by_its_dashes():
    broken = [line for line in shapes(Line) if line.pen.dash == (6, 3)]
    course = shapes(Path)

    assert len(broken) == len(LIMITS)
    assert all(not path.pen.dash for path in course)
    assert broken[0].y1 < broken[1].y1  # the higher limit lies higher


def test_a_mark_lies_on_the_trace():
    dots = [dot for dot in shapes(Circle) if dot.radius < 3]
    course = [point for run in shapes(Path)[0].runs for point in run]

    for dot in dots:
        near = min(course, key=lambda point: abs(point[0] - dot.x))
        assert abs(near[1] - dot.y) < 12


def test_nothing_leaves_the_paper():
    for width in (360.0, 720.0):
        drawing = trace_drawing(SHEET, width=width)
        for item in drawing.shapes():
            if isinstance(item, Line):
                assert 0 <= min(item.x1, item.x2) <= max(item.x1, item.x2) <= width
            elif isinstance(item, (Circle, Text)):
                assert 0 <= item.x <= width
                assert 0 <= item.y <= drawing.height


def test_a_gap_leaves_the_line_open():
    first, second = ((0.0, 0.0), (1.0, 1.0)), ((5.0, 1.0), (6.0, 0.0))
    sheet = TraceSheet((first, second), "psi")

    assert len(shapes(Path, sheet)[0].runs) == 2
    assert "Gaps in the trace: 1." in trace_words(sheet)


def test_numbers_of_points_close_together_do_not_cover_each_other():
    marks = tuple(TraceMark(10 + at / 50, 3.0, f"point {at}") for at in range(4))

    bubbles = [c for c in shapes(Circle, replace(SHEET, marks=marks)) if c.radius > 3]
    for at, one in enumerate(bubbles):
        for other in bubbles[at + 1 :]:
            assert abs(one.x - other.x) + abs(one.y - other.y) > 2 * one.radius


def test_the_account_in_words_names_points_durations_and_limits():
    told = trace_words(SHEET)

    assert told.startswith("Trace in bar from")
    for part in (
        *(m.label for m in MARKS),
        *(s.label for s in SPANS),
        "0.4 bar released",
    ):
        assert part in told


def test_it_renders_as_svg_without_styles_and_escaped():
    sheet = replace(SHEET, limits=(TraceLimit(1.0, "<b>&"),))

    svg = to_svg(trace_drawing(sheet), title="Trace", desc=trace_words(sheet))
    ElementTree.fromstring(svg)
    assert "style=" not in svg
    assert "<b>" not in svg


def test_points_that_were_not_found_are_not_drawn():
    none = replace(POINTS, start=None, release_start=None)

    marks, spans = found_on(none)
    assert [mark.label for mark in marks] == ["filled", "maximum", "released"]
    assert spans == ()


def test_a_span_near_the_right_edge_is_told_on_its_left():
    sheet = TraceSheet(
        SHEET.runs, "bar", spans=(TraceSpan(98, 99, "released in 1.0 s"),)
    )

    text = next(t for t in shapes(Text, sheet) if t.words == "released in 1.0 s")
    assert text.anchor == "end"


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        pytest.param(0, 3.9, [0, 1, 2, 3, 4], id="bar"),
        pytest.param(0, 62, [0, 10, 20, 30, 40, 50, 60, 70], id="seconds"),
        pytest.param(0.01, 0.04, [0.01, 0.02, 0.03, 0.04], id="small"),
        pytest.param(5, 5, [5, 6], id="flat"),
    ],
)
def test_axes_are_marked_at_round_values(low, high, expected):
    most = 8 if high > 10 else 5 if high != 0.04 else 4
    assert ticks(low, high, most) == pytest.approx(expected)


def test_a_sheet_without_a_trace_is_refused():
    with pytest.raises(ValueError, match="no trace"):
        trace_drawing(TraceSheet((), "bar"))
