"""The sketch of a vessel: where points stand, and which one is the thinnest."""

from itertools import combinations

import pytest

from fleet.ui.drawing import Circle, Text, to_svg
from fleet.ui.vessel_drawing import Part, VesselPoint, part_of, vessel_drawing


def points(names, thinnest=0):
    return [
        VesselPoint(number, name, f"{5 + number / 10:.1f}", number == thinnest)
        for number, name in enumerate(names, start=1)
    ]


def discs(drawing):
    """Where each numbered point stands, by its number."""
    texts = [s for s in drawing.shapes() if isinstance(s, Text)]
    return {int(t.words): (t.x, t.y) for t in texts if t.words.isdigit()}


@pytest.mark.parametrize(
    ("name", "part"),
    [
        ("End 1, crown", Part.END_1),
        ("End 2, knuckle", Part.END_2),
        ("Dome, right", Part.END_2),
        ("Shell, top, near end 2", Part.TOP),
        ("Shell, bottom at the drain", Part.BOTTOM),
        ("Longitudinal seam", Part.MIDDLE),
        ("Point 7", Part.MIDDLE),
        ("", Part.MIDDLE),
    ],
)
def test_a_point_stands_on_the_part_its_name_speaks_of(name, part):
    assert part_of(name) is part


def test_top_stands_above_bottom_and_end_one_left_of_end_two():
    names = ("Shell, top", "Shell, bottom", "End 1", "End 2")

    placed = discs(vessel_drawing(points(names)))

    assert placed[1][1] < placed[2][1]
    assert placed[3][0] < placed[1][0] < placed[4][0]


@pytest.mark.parametrize("count", [0, 1, 7, 30, 60])
def test_any_number_of_points_stands_inside_the_sketch_and_apart(count):
    names = [f"End {n % 2 + 1}, {n}" if n % 5 == 0 else f"{n}" for n in range(count)]

    drawing = vessel_drawing(points(names))

    placed = discs(drawing)
    assert sorted(placed) == list(range(1, count + 1))
    assert all(
        0 < x < drawing.width and 0 < y < drawing.height for x, y in placed.values()
    )
    assert all(
        abs(a[0] - b[0]) >= 16 or abs(a[1] - b[1]) >= 16
        for a, b in combinations(placed.values(), 2)
    )


def test_only_the_thinnest_point_is_ringed():
    def rings(thinnest):
        drawing = vessel_drawing(points(("Shell, top", "Seam"), thinnest))
        circles = [s for s in drawing.shapes() if isinstance(s, Circle)]
        return [circle for circle in circles if circle.pen.colour]

    assert rings(0) == []
    [ring] = rings(2)
    assert ring.x == discs(vessel_drawing(points(("Shell, top", "Seam"), 2)))[2][0]


def test_the_sketch_is_drawn_on_a_page_too():
    svg = to_svg(vessel_drawing(points(("Shell, top",))), title="Thickness survey")

    assert "Not to scale" in svg
    assert "style=" not in svg
