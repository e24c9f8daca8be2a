"""The pipe diagram: every position on it, in its state, and within reach of a finger."""

from collections import Counter

import pytest

from fleet.register.vocabulary import EquipmentKind
from fleet.ui.drawing import Group, Line, Text, to_svg
from fleet.ui.palette import BRAKE_PIPE, MAIN_RESERVOIR_PIPE, TRAIN_PIPE
from fleet.ui.pipe_diagram import Arrangement, Part, pipe_diagrams
from fleet.ui.pipe_parts import STATES

TWO_PIPE = Arrangement(air="two_pipe", mr_pipe=True)
ONE_PIPE = Arrangement(air="one_pipe")
VACUUM = Arrangement(vacuum="braked")
DUAL = Arrangement(air="two_pipe", vacuum="braked", mr_pipe=True)
PIPED = Arrangement(air="piped", vacuum="piped", mr_pipe=True)
ARRANGEMENTS = {
    "two-pipe": TWO_PIPE,
    "one-pipe": ONE_PIPE,
    "vacuum": VACUUM,
    "dual": DUAL,
    "piped": PIPED,
    "none": Arrangement(),
}
AT_BOTH_ENDS = {
    "bp_hose",
    "mr_hose",
    "bp_end_cock",
    "mr_end_cock",
    "vacuum_hose",
    "vacuum_dummy",
    "swan_neck",
}


def part(kind, code=None, **facts):
    code = code or kind
    return Part(code, kind, f"Label of {code}", href=f"/position/{code}", **facts)


def parts_of(kinds, many=1):
    """So many parts of each kind; at each end, where a kind has ends."""
    return [
        part(kind, f"{kind}-{number}-{end or ''}", end=end)
        for kind in kinds
        for number in range(many)
        for end in ((1, 2) if kind in AT_BOTH_ENDS else (None,))
    ]


def codes(diagram):
    return Counter(g.code for g in diagram.drawing.groups() if g.code)


def group_of(diagrams, code):
    (group,) = (g for d in diagrams for g in d.drawing.groups() if g.code == code)
    return group


@pytest.mark.parametrize("many", [1, 2, 5])
@pytest.mark.parametrize("arrangement", ARRANGEMENTS.values(), ids=ARRANGEMENTS)
def test_every_kind_of_equipment_appears_whatever_the_arrangement(arrangement, many):
    parts = parts_of([kind.value for kind in EquipmentKind], many)

    diagrams = pipe_diagrams(parts, arrangement)

    shown = sum((codes(d) for d in diagrams), Counter())
    assert set(shown) == {p.position for p in parts}
    assert all(max(codes(d).values()) == 1 for d in diagrams)


def test_an_unknown_kind_stands_among_what_is_also_fitted():
    (diagram,) = pipe_diagrams([part("wheel_slide_protection")], ONE_PIPE)

    assert codes(diagram) == {"wheel_slide_protection": 1}
    words = [s.words for s in diagram.drawing.shapes() if isinstance(s, Text)]
    assert "Also fitted" in words


def test_gear_that_both_brakes_share_is_on_both_drawings():
    air, vacuum = pipe_diagrams([part("slack_adjuster"), part("handbrake")], DUAL)

    assert codes(air) == codes(vacuum) == {"slack_adjuster": 1, "handbrake": 1}


def test_a_gauge_is_drawn_on_the_system_it_belongs_to():
    gauge = part("gauge", system="vacuum")

    air, vacuum = pipe_diagrams([gauge], DUAL)

    assert codes(air) == {}
    assert codes(vacuum) == {"gauge": 1}


def test_a_gauge_marked_for_a_system_that_is_not_there_is_still_drawn():
    (diagram,) = pipe_diagrams([part("gauge", system="vacuum")], ONE_PIPE)

    assert codes(diagram) == {"gauge": 1}


@pytest.mark.parametrize(
    ("arrangement", "pipes"),
    [
        pytest.param(TWO_PIPE, {BRAKE_PIPE, MAIN_RESERVOIR_PIPE}, id="two-pipe"),
        pytest.param(ONE_PIPE, {BRAKE_PIPE}, id="one-pipe"),
        pytest.param(VACUUM, {TRAIN_PIPE}, id="vacuum"),
        pytest.param(DUAL, {BRAKE_PIPE, MAIN_RESERVOIR_PIPE, TRAIN_PIPE}, id="dual"),
        pytest.param(Arrangement(air="piped"), {BRAKE_PIPE}, id="piped for air"),
        pytest.param(Arrangement(), set(), id="no pipes"),
    ],
)
def test_the_pipes_that_run_through_are_those_of_the_arrangement(arrangement, pipes):
    found = {
        shape.pen.colour
        for diagram in pipe_diagrams([], arrangement)
        for shape in diagram.drawing.shapes()
        if isinstance(shape, Line) and shape.pen.width == 6
    }

    assert found == pipes


def test_the_reservoir_is_fed_by_the_main_reservoir_pipe_or_through_the_distributor():
    parts = parts_of(["distributor", "auxiliary_reservoir"])

    def drawn(arrangement):
        (diagram,) = pipe_diagrams(parts, arrangement)
        shapes = list(diagram.drawing.shapes())
        yellow = [
            s
            for s in shapes
            if isinstance(s, Line) and s.pen.colour == MAIN_RESERVOIR_PIPE
        ]
        words = {s.words for s in shapes if isinstance(s, Text)}
        return len(yellow), "charged through it" in words

    assert drawn(TWO_PIPE) == (2, False)
    assert drawn(ONE_PIPE) == (0, True)
    assert drawn(Arrangement(air="one_pipe", mr_pipe=True)) == (1, True)


def test_a_finding_carries_its_number_and_leads_to_its_position():
    parts = [part("distributor", state="attention", number=7, note="overdue 23 d")]

    group = group_of(pipe_diagrams(parts, TWO_PIPE), "distributor")

    assert group.href == "/position/distributor"
    assert "7" in [s.words for s in group.items if isinstance(s, Text)]
    assert group.title == (
        "Label of distributor: outstanding. overdue 23 d. Finding 7."
    )


@pytest.mark.parametrize(
    "kind",
    ["distributor", "bp_hose", "bp_end_cock", "vacuum_cylinder", "brake_rigging"],
)
def test_each_state_has_a_line_of_its_own_without_tone(kind):
    def outline(state):
        found = pipe_diagrams([part(kind, state=state, end=1)], DUAL)
        group = next(g for d in found for g in d.drawing.groups())
        return tuple(
            (type(s), s.pen.width, s.pen.dash, getattr(s, "runs", ()))
            for s in group.items
            if hasattr(s, "pen")
        )

    assert len({outline(state) for state in STATES}) == len(STATES)


def test_a_state_nobody_knows_is_refused():
    with pytest.raises(ValueError, match="doubtful"):
        part("distributor", state="doubtful")


def test_a_handle_lies_along_the_pipe_when_open_and_across_it_when_closed():
    def handle(cock):
        found = pipe_diagrams([part("bp_end_cock", end=1, cock=cock)], ONE_PIPE)
        (line,) = (
            s for s in group_of(found, "bp_end_cock").items if isinstance(s, Line)
        )
        return "along" if line.y1 == line.y2 else "across"

    assert handle("open") == "along"
    assert handle("closed") == "across"


def test_parts_at_an_end_are_drawn_at_that_end():
    parts = [part("bp_hose", f"hose-{end}", end=end) for end in (2, 1)]

    found = pipe_diagrams(parts, ONE_PIPE)

    left, right = group_of(found, "hose-1").hit, group_of(found, "hose-2").hit
    assert left.x < 100
    assert right.x > 1000


def test_a_hose_that_names_no_end_takes_the_end_that_is_free():
    parts = [part("bp_hose", "somewhere"), part("bp_hose", "at-1", end=1)]

    found = pipe_diagrams(parts, ONE_PIPE)

    assert group_of(found, "somewhere").hit.x > 1000


@pytest.mark.parametrize("arrangement", ARRANGEMENTS.values(), ids=ARRANGEMENTS)
def test_every_position_gives_a_finger_44_points_and_lies_on_the_sheet(arrangement):
    parts = parts_of([kind.value for kind in EquipmentKind], 4)

    for diagram in pipe_diagrams(parts, arrangement):
        for group in diagram.drawing.groups():
            assert group.hit.width >= 44
            assert group.hit.height >= 44
            assert group.hit.x >= 0
            assert group.hit.x + group.hit.width <= diagram.drawing.width
            assert group.hit.y + group.hit.height <= diagram.drawing.height


@pytest.mark.parametrize("arrangement", [TWO_PIPE, ONE_PIPE, VACUUM, DUAL])
def test_no_two_positions_claim_the_same_spot(arrangement):
    parts = parts_of([kind.value for kind in EquipmentKind], 4)

    for diagram in pipe_diagrams(parts, arrangement):
        hits = [(g.code, g.hit) for g in diagram.drawing.groups()]
        centres = [(c, h.x + h.width / 2, h.y + h.height / 2) for c, h in hits]
        clashes = [
            (code, other)
            for code, x, y in centres
            for other, hit in hits
            if other != code
            and hit.x < x < hit.x + hit.width
            and hit.y < y < hit.y + hit.height
        ]
        assert clashes == []


def test_labels_are_escaped_and_no_style_is_inline():
    parts = [Part("D", "distributor", "<script>", note='"&', href="/p")]

    (diagram,) = pipe_diagrams(parts, TWO_PIPE)
    svg = to_svg(diagram.drawing, title=diagram.title)

    assert "<script>" not in svg
    assert "style=" not in svg


def test_a_long_note_is_cut_on_the_drawing_and_kept_in_the_title():
    note = "past its overhaul by one thousand and one days, and not isolated"

    group = group_of(
        pipe_diagrams([part("distributor", note=note)], TWO_PIPE), "distributor"
    )

    shown = [s.words for s in group.items if isinstance(s, Text)]
    assert any(words.endswith("…") for words in shown)
    assert note in group.title


def test_the_drawing_can_be_read_out():
    (diagram,) = pipe_diagrams(
        [part("bp_hose", end=1), part("gauge", cock="")], ONE_PIPE
    )

    assert "Label of bp_hose: nothing outstanding." in diagram.words
    assert "Label of gauge: nothing outstanding." in diagram.words


def test_every_group_of_a_diagram_is_a_position():
    for diagram in pipe_diagrams(parts_of(["distributor", "vacuum_cylinder"]), DUAL):
        assert all(isinstance(g, Group) and g.code for g in diagram.drawing.groups())
