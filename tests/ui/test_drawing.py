"""The display list and its SVG: nothing inline, everything escaped, names told."""

from xml.etree import ElementTree

import pytest

from fleet.ui.drawing import (
    Circle,
    Drawing,
    Group,
    Line,
    Path,
    Pen,
    Rect,
    Text,
    moved,
    to_svg,
)

SVG = "{http://www.w3.org/2000/svg}"
INK = Pen("#000000", 2, (3, 2))
EVERY_SHAPE = (
    Rect(0, 0, 10, 10, INK, "#ffffff", 2),
    Line(0, 0, 10, 10, INK),
    Circle(5, 5, 3, INK),
    Path((((0, 0), (5, 5), (9, 0)),), INK),
    Path((((0, 0), (1, 1), (2, 2), (3, 3)),), INK, curved=True),
    Text(1, 9, "BP"),
)


def drawn(*items, **options):
    svg = to_svg(Drawing(20, 10, items), title="A title", **options)
    return ElementTree.fromstring(svg)


def test_every_shape_is_drawn_without_a_style_attribute():
    root = drawn(Group(EVERY_SHAPE, href="/x", title="All of them"))

    assert len(root.findall(f".//{SVG}path")) == 2
    assert [e for e in root.iter() if "style" in e.attrib] == []


def test_a_dash_and_an_outline_are_presentation_attributes():
    line = drawn(Line(0, 0, 10, 10, INK)).find(f"{SVG}line")

    assert line.get("stroke-dasharray") == "3 2"
    assert line.get("stroke-width") == "2"


def test_words_that_look_like_markup_stay_words():
    trap = '</text><script>"&'
    group = Group((Text(0, 0, trap),), title=trap, href='/x?a="b"', code='"')

    root = drawn(group, desc=trap)

    assert root.find(f".//{SVG}text").text == trap
    assert root.find(f".//{SVG}script") is None
    assert root.find(f"{SVG}a").get("href") == '/x?a="b"'


def test_ids_are_used_only_where_the_page_gives_one():
    without = drawn(desc="Longer")
    first, second = drawn(ident="one", desc="x"), drawn(ident="two", desc="x")

    assert [e for e in without.iter() if "id" in e.attrib] == []
    assert without.get("aria-label") == "A title"
    assert first.get("aria-labelledby") == "one-title"
    ids = {e.get("id") for root in (first, second) for e in root.iter()} - {None}
    assert len(ids) == 4


def test_a_drawing_with_links_is_not_hidden_behind_one_image():
    assert drawn(*EVERY_SHAPE).get("role") == "img"
    assert drawn(Group(EVERY_SHAPE, href="/x")).get("role") == "group"


def test_shapes_come_out_of_nested_groups_in_order():
    first, second, third = EVERY_SHAPE[:3]
    drawing = Drawing(1, 1, (first, Group((second, Group((third,))))))

    assert list(drawing.shapes()) == [first, second, third]
    assert len(list(drawing.groups())) == 2


@pytest.mark.parametrize("item", EVERY_SHAPE, ids=lambda i: type(i).__name__)
def test_moving_there_and_back_changes_nothing(item):
    there = moved(Group((item,), hit=Rect(0, 0, 44, 44)), 5, -7)

    assert there.items != (item,)
    assert there.hit.y == -7
    assert moved(there, -5, 7).items == (item,)


def test_a_curve_with_a_point_missing_is_refused():
    with pytest.raises(ValueError, match="1 \\+ 3n"):
        Path((((0, 0), (1, 1)),), INK, curved=True)
