"""The status strip: each level by its shape alone, each day in its place."""

import datetime as dt
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from fleet.ui.drawing import Circle, Drawing, Line, Path, Pen, Rect, Text, to_svg
from fleet.ui.level_shapes import LEVELS, Box, level_mark, level_shape
from fleet.ui.strip import (
    StripRow,
    StripSpan,
    Window,
    status_strip,
    strip_words,
)

FIRST, LAST, TODAY = dt.date(2026, 6, 1), dt.date(2028, 5, 31), dt.date(2026, 11, 25)


def strip(*rows, **options):
    options = {"first": FIRST, "last": LAST, "today": TODAY, **options}
    return status_strip(rows, **options)


def row(*spans, label="Air"):
    return StripRow(label, tuple(StripSpan(*span) for span in spans))


def colourless(item):
    """A shape with every colour but black-or-white taken out of it."""
    pen = getattr(item, "pen", None)
    dark = {"fill": "dark" if getattr(item, "fill", "") not in {"", "#ffffff"} else ""}
    match item:
        case Line():
            return replace(item, pen=Pen("ink", pen.width, pen.dash))
        case Rect() | Circle() | Path():
            ink = Pen("ink" if pen.colour else "", pen.width, pen.dash)
            return replace(item, pen=ink, **dark)
        case Text():
            return replace(item, fill="")


def test_each_level_has_a_shape_of_its_own_without_colour():
    box = Box(0, 0, 60, 16)

    shapes = {tuple(map(colourless, level_shape(level, box))) for level in LEVELS}

    assert len(shapes) == len(LEVELS) == 6


def test_the_mark_and_the_strip_use_the_same_shapes():
    mark = level_mark("stopped").shapes()
    bar = strip(row((FIRST, None, "stopped"))).shapes()

    assert {type(s) for s in mark} <= {type(s) for s in bar}


def test_a_level_nobody_knows_is_refused():
    with pytest.raises(ValueError, match="doubtful"):
        level_shape("doubtful", Box(0, 0, 10, 10))


@pytest.mark.parametrize("width", [0.4, 1, 9, 17])
@pytest.mark.parametrize("level", LEVELS)
def test_even_a_sliver_of_a_level_is_drawn_within_its_box(level, width):
    for shape in level_shape(level, Box(0, 0, width, 16)):
        if isinstance(shape, Rect):
            assert shape.x + shape.width <= width + 1
            assert shape.width >= 0


def test_a_span_takes_the_part_of_the_window_that_it_lasts():
    window = Window(dt.date(2027, 1, 1), dt.date(2027, 12, 31), 0, 365)

    assert window.x(dt.date(2027, 1, 1)) == 0
    assert window.x(dt.date(2027, 1, 11)) == 10
    assert window.x(dt.date(2030, 1, 1)) == 365
    assert window.x(dt.date(2020, 1, 1)) == 0


def test_days_that_no_span_covers_are_shown_as_not_fitted():
    drawing = strip(row((dt.date(2027, 1, 1), dt.date(2027, 6, 1), "braked", "Fit")))

    titles = [group.title for group in drawing.groups()]

    assert [t.split(" from ")[0] for t in titles] == ["Not fitted", "Fit", "Not fitted"]


def test_spans_outside_the_window_are_left_out():
    drawing = strip(
        row(
            (dt.date(2020, 1, 1), FIRST, "stopped", "Long ago"),
            (FIRST, None, "braked", "Fit"),
        )
    )

    assert [g.title.split(" from ")[0] for g in drawing.groups()] == ["Fit"]


def test_a_forecast_edge_is_broken_and_a_recorded_one_is_not():
    def broken(forecast):
        change = dt.date(2027, 5, 1)
        spans = (
            StripSpan(FIRST, change, "braked"),
            StripSpan(change, None, "piped", forecast=forecast),
        )
        drawing = strip(StripRow("Air", spans))
        lines = (s for s in drawing.shapes() if isinstance(s, Line))
        return [line for line in lines if line.pen.dash]

    assert len(broken(forecast=True)) == 1
    assert broken(forecast=False) == []


def test_today_is_marked_only_inside_the_window():
    inside = strip(row((FIRST, None, "braked")))
    outside = strip(row((FIRST, None, "braked")), today=dt.date(2030, 1, 1))

    assert len(list(inside.shapes())) == len(list(outside.shapes())) + 2


def test_two_rows_are_named_and_stand_below_each_other():
    one = strip(row((FIRST, None, "braked")))
    two = strip(row((FIRST, None, "braked")), row((FIRST, None, "piped"), label="Vac"))

    words = {s.words for s in two.shapes() if isinstance(s, Text)}
    assert {"Air", "Vac"} <= words
    assert "Air" not in {s.words for s in one.shapes() if isinstance(s, Text)}
    assert two.height > one.height


def test_the_strip_can_be_read_out_in_words():
    told = strip_words(
        [row((dt.date(2027, 1, 1), dt.date(2027, 2, 1), "braked", "Fit to run braked"))]
    )

    assert told == "Air: Fit to run braked from 2027-01-01 until 2027-01-31."


def test_a_strip_is_svg_without_inline_style():
    svg = to_svg(strip(row((FIRST, None, "stale", "<b>"))), title="T 107")

    assert "style=" not in svg
    assert "&lt;b&gt;" in svg
    ElementTree.fromstring(svg)


def test_every_month_of_the_window_has_its_tick():
    drawing = strip(row((FIRST, None, "braked")), last=dt.date(2026, 12, 31))

    ticks = [s for s in drawing.shapes() if isinstance(s, Line) and s.pen.width == 1]

    assert len(ticks) == 7


def test_no_rows_make_an_empty_strip_not_an_error():
    assert isinstance(strip(), Drawing)
