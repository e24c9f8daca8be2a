"""Choices, lines asked for each place, and what was found beside what was left."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment
from fleet.examination.models import ProcedureLine
from fleet.examination.services import correct_test
from fleet.examination.sheet import sheet_of
from fleet.examination.vocabulary import Answer, LineKind, Repeat, Stage, TestSubject
from fleet.records.refusing import codes_of
from fleet.register.services.types import revise_type
from fleet.register.vocabulary import EquipmentKind, Fitment, Scope
from tests.examination.factories import (
    make_bench_test,
    make_procedure,
    make_test,
    measured,
    question,
)
from tests.register.factories import (
    make_type,
    make_vehicle,
    place,
    vacuum_places,
)

pytestmark = pytest.mark.django_db

CYLINDERS = [
    place(f"cyl-{n}", f"Brake cylinder {n}", EquipmentKind.BRAKE_CYLINDER, "air_brake")
    for n in (1, 2)
]
VACUUM_CYLINDER = place(
    "vac-cyl", "Vacuum cylinder", EquipmentKind.VACUUM_CYLINDER, "vacuum_brake"
)
HANDLES = [
    place(f"alarm-{n}", f"Handle {n}", EquipmentKind.PASSENGER_ALARM, "vehicle")
    for n in (1, 2, 3)
]


def choice(text="Slack adjuster", choices=None, **values):
    """A line answered by one of several words."""
    chosen = [["Works", True], ["Stiff but works", True], ["Seized", False]]
    return question(text, kind=LineKind.CHOICE, choices=choices or chosen, **values)


def stroke(**values):
    """A stroke measured at each cylinder, 85 to 130 mm."""
    values = {"repeat": Repeat.CYLINDER} | values
    return measured("Piston stroke", "length", "mm", 85, 130, **values)


def adjusted_stroke():
    """A stroke as found and as left, of the whole vehicle."""
    once = {"repeat": Repeat.NONE}
    return [stroke(stage=Stage.AS_FOUND, **once), stroke(stage=Stage.AS_LEFT, **once)]


def coach(code, positions, **values):
    """A vehicle of a type with these positions."""
    return make_vehicle(type=make_type(code, positions=positions), **values)


def record(lines, readings, *, vehicle=None, scopes=(Scope.AIR_BRAKE,)):
    """A test by a procedure of these lines."""
    procedure = make_procedure("kinds", lines=lines, scopes=scopes)
    vehicle = vehicle or coach("two-cylinders", CYLINDERS)
    return make_test(procedure=procedure, vehicle=vehicle, readings=readings)


def refused(lines, readings, **values):
    """The refusal of a test, keyed by line."""
    with pytest.raises(ValidationError) as caught:
        record(lines, readings, **values)
    return {k: {e.code for e in v} for k, v in caught.value.error_dict.items()}


def rows(record):
    """What the sheet of a test shows: asked, and found."""
    return [(row.asked.words, row.words) for row in sheet_of(record).rows]


@pytest.mark.parametrize(
    ("chosen", "answer", "passed"),
    [
        ("Works", Answer.MET, True),
        ("Stiff but works", Answer.MET, True),
        ("Seized", Answer.NOT_MET, False),
    ],
)
def test_a_choice_is_met_or_not_as_the_line_lays_down(chosen, answer, passed):
    tested = record([choice()], [{"line": 1, "choice": chosen}])

    assert tested.readings.get().answer == answer
    assert tested.passed is passed
    assert rows(tested) == [("Slack adjuster", f"{chosen}: {answer.label.lower()}")]


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ({"choice": "Gone"}, "no_such_choice"),
        ({"answer": Answer.MET}, "choice_needed"),
        ({"choice": "Works", "answer": Answer.NOT_DONE}, "value_and_reason"),
    ],
)
def test_a_choice_is_one_of_those_of_its_line(row, code):
    assert refused([choice()], [{"line": 1, **row}]) == {"line_1": {code}}


@pytest.mark.parametrize(
    ("choices", "said"),
    [
        ([["Works", True]], "one at least that is good enough, and one that is not"),
        ([["A", True], ["B", True]], "one that is not"),
        ([["A", False], ["B", False]], "one at least that is good enough"),
        ([["A", True], ["A", False]], "read the same"),
        ([["A", True], [" ", False]], "has a word"),
    ],
)
def test_choices_that_settle_nothing_are_refused(choices, said):
    with pytest.raises(ValidationError) as caught:
        make_procedure(lines=[choice(choices=choices)])

    assert said in caught.value.messages[0]
    assert not ProcedureLine.objects.exists()


def test_only_a_choice_has_choices_and_they_are_its_criterion():
    line = make_procedure(lines=[choice()]).revisions.get().lines.get()
    assert (line.criterion_words, line.has_criterion) == (
        "Works; or Stiff but works",
        True,
    )

    with pytest.raises(ValidationError):
        make_procedure("x", lines=[question("Sound?", choices=[["A", True]])])


def test_a_repeated_line_takes_one_reading_for_each_place():
    tested = record(
        [stroke()],
        [
            {"line": 1, "position": "cyl-1", "value": "100", "unit": "mm"},
            {"line": 1, "position": "cyl-2", "value": "140", "unit": "mm"},
        ],
    )

    assert (tested.passed, tested.failed, tested.unanswered) == (False, 1, 0)
    assert rows(tested) == [
        ("Piston stroke, Brake cylinder 1", "100 mm, limit 85 to 130 mm"),
        ("Piston stroke, Brake cylinder 2", "140 mm, limit 85 to 130 mm"),
    ]


def test_a_place_left_out_is_unanswered():
    tested = record(
        [stroke()], [{"line": 1, "position": "cyl-1", "value": "100", "unit": "mm"}]
    )

    assert (tested.passed, tested.unanswered) == (False, 1)
    assert rows(tested)[1] == ("Piston stroke, Brake cylinder 2", "Not answered")


@pytest.mark.parametrize("position", ["", "cyl-3"])
def test_a_reading_of_a_place_the_type_lacks_is_refused(position):
    row = {"line": 1, "position": position, "value": "100", "unit": "mm"}
    key = "line_1" + (f"__{position}" if position else "")

    assert refused([stroke()], [row]) == {key: {"no_such_place"}}


def test_a_line_asked_once_takes_no_place():
    row = {"line": 1, "position": "cyl-1", "choice": "Works"}

    assert refused([choice()], [row]) == {"line_1__cyl-1": {"no_such_place"}}


@pytest.mark.parametrize(
    ("scopes", "places"),
    [
        ([Scope.AIR_BRAKE, Scope.SHARED_GEAR], ["cyl-1", "cyl-2"]),
        ([Scope.VACUUM_BRAKE], ["vac-cyl"]),
        ([Scope.SHARED_GEAR], ["cyl-1", "cyl-2", "vac-cyl"]),
    ],
)
def test_cylinders_are_those_of_the_brake_the_procedure_bears_on(scopes, places):
    vehicle = coach("dual", [*CYLINDERS, VACUUM_CYLINDER], vacuum=Fitment.BRAKED)

    tested = record([stroke()], [], vehicle=vehicle, scopes=scopes)

    assert [row.asked.position for row in sheet_of(tested).rows] == places


def test_each_handle_and_each_end_are_asked():
    lines = [
        question("Alarm applies", repeat=Repeat.HANDLE),
        question("Hose stowed", repeat=Repeat.END),
    ]

    tested = record(lines, [], vehicle=coach("three-handles", HANDLES))

    assert [row.asked.words for row in sheet_of(tested).rows] == [
        "Alarm applies, Handle 1",
        "Alarm applies, Handle 2",
        "Alarm applies, Handle 3",
        "Hose stowed, No. 1 end",
        "Hose stowed, No. 2 end",
    ]
    assert tested.unanswered == 5


def test_handles_a_type_lacks_are_not_asked_but_its_cylinders_are():
    lines = [question("Alarm applies", repeat=Repeat.HANDLE), stroke()]

    tested = record(lines, [], vehicle=coach("bare", HANDLES[:0] + vacuum_places()))

    assert rows(tested) == [
        ("Alarm applies", "None on this vehicle's type"),
        ("Piston stroke", "Not answered"),
    ]
    assert tested.unanswered == 1


def test_the_places_are_those_of_the_type_on_the_day_of_the_test():
    vehicle = coach("revised", CYLINDERS)
    revise_type(
        by=None,
        type=vehicle.versions.get().type,
        name="Open coach",
        effective_from=dt.date(2020, 1, 1),
        positions=CYLINDERS[:1],
        reason="one cylinder taken off",
    )
    procedure = make_procedure("kinds", lines=[stroke()])

    asked = [
        [
            row.asked.position
            for row in sheet_of(
                make_test(
                    procedure=procedure,
                    vehicle=vehicle,
                    readings=[],
                    on=Moment.on(dt.date(year, 6, 1)),
                )
            ).rows
        ]
        for year in (2019, 2021)
    ]

    assert asked == [["cyl-1", "cyl-2"], ["cyl-1"]]


def test_only_what_is_done_on_a_vehicle_is_repeated():
    with pytest.raises(ValidationError) as caught:
        make_bench_test(lines=[stroke()], subject=TestSubject.EQUIPMENT)

    assert "Only what is done on a vehicle is repeated." in caught.value.messages[0]


def found_and_left(found=None, left=None):
    """A test of a stroke of 85 to 130 mm, as found and as left."""
    readings = []
    for order, given in ((1, found), (2, left)):
        if isinstance(given, Answer):
            readings.append({"line": order, "answer": given, "note": "no access"})
        elif given is not None:
            readings.append({"line": order, "value": given, "unit": "mm"})
    return readings


@pytest.mark.parametrize(
    ("found", "left", "result", "words"),
    [
        pytest.param("100", None, (True, 0, 0), "Left as found", id="nothing adjusted"),
        pytest.param("140", "100", (True, 0, 0), "100 mm", id="put right"),
        pytest.param("140", None, (False, 1, 0), "Left as found", id="left wrong"),
        pytest.param("140", "135", (False, 1, 0), "135 mm", id="adjusted, still wrong"),
        pytest.param(
            Answer.NOT_DONE, "100", (True, 0, 0), "100 mm", id="not measured, because"
        ),
        pytest.param(None, None, (False, 0, 1), "Left as found", id="neither"),
        pytest.param(
            "140", Answer.NOT_DONE, (False, 1, 1), "Not done", id="left unmeasured"
        ),
    ],
)
def test_what_was_left_decides_and_what_was_found_stays(found, left, result, words):
    tested = record(adjusted_stroke(), found_and_left(found, left))

    assert (tested.passed, tested.failed, tested.unanswered) == result
    assert rows(tested)[1][1].startswith(words)


def test_what_was_found_wrong_and_put_right_is_told_and_fails_nothing():
    tested = record(adjusted_stroke(), found_and_left("140", "100"))

    assert rows(tested)[0] == (
        "Piston stroke, as found",
        "140 mm, limit 85 to 130 mm. Found so, then put right",
    )
    assert not tested.readings.filter(answer=Answer.NOT_MET).exists()


def test_what_was_left_needs_what_was_found_or_why_not():
    assert refused(adjusted_stroke(), found_and_left(None, "100")) == {
        "line_2": {"as_found_needed"}
    }


def test_a_correction_keeps_to_the_same_rule():
    tested = record(adjusted_stroke(), found_and_left("140", "100"))

    with pytest.raises(ValidationError) as caught:
        correct_test(
            by=None,
            record=tested,
            reason="misread",
            readings=found_and_left(None, "101"),
        )

    assert codes_of(caught.value) == {"as_found_needed"}


@pytest.mark.parametrize(
    "lines",
    [
        pytest.param([stroke(stage=Stage.AS_LEFT)], id="alone"),
        pytest.param(
            [stroke(stage=Stage.AS_LEFT), stroke(stage=Stage.AS_FOUND)], id="before"
        ),
        pytest.param(
            [
                measured("Piston stroke", "time", "s", stage=Stage.AS_FOUND),
                measured("Piston stroke", "length", "mm", stage=Stage.AS_LEFT),
            ],
            id="another quantity",
        ),
        pytest.param(
            [stroke(stage=Stage.AS_FOUND, repeat=""), stroke(stage=Stage.AS_LEFT)],
            id="asked of other places",
        ),
    ],
)
def test_an_as_left_line_stands_after_the_same_line_as_found(lines):
    with pytest.raises(ValidationError) as caught:
        make_procedure(lines=lines)

    assert "put the same line, as found, before it" in caught.value.messages[0]


def test_strokes_are_found_and_left_at_each_cylinder_by_itself():
    lines = [stroke(stage=Stage.AS_FOUND), stroke(stage=Stage.AS_LEFT)]
    given = [("cyl-1", 1, "140"), ("cyl-1", 2, "100"), ("cyl-2", 1, "90")]
    readings = [
        {"line": order, "position": position, "value": value, "unit": "mm"}
        for position, order, value in given
    ]

    assert record(lines, readings).passed
