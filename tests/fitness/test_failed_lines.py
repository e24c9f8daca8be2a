"""What a failed test says of a choice, and of a line asked at each place."""

import pytest

from fleet.examination.vocabulary import LineKind, Repeat, Stage
from fleet.fitness.gather import vehicle_files
from tests.examination.factories import make_procedure, make_test, measured, question
from tests.register.factories import make_vehicle

pytestmark = pytest.mark.django_db


def failed(lines, readings):
    """The lines a test fails, in words, as the vehicle's file holds them."""
    vehicle = make_vehicle()
    make_test(procedure=make_procedure(lines=lines), vehicle=vehicle, readings=readings)
    (file,) = vehicle_files([vehicle.pk])
    (test,) = file.tests
    return [(line.text, line.found) for line in test.failed]


def test_a_choice_that_will_not_do_is_told_by_its_words():
    choices = [["Works", True], ["Seized", False]]
    line = question("Adjuster", kind=LineKind.CHOICE, choices=choices)

    assert failed([line], [{"line": 1, "choice": "Seized"}]) == [("Adjuster", "Seized")]


def test_a_reading_at_a_place_names_the_place():
    line = measured("Stroke", "length", "mm", 85, 130, repeat=Repeat.CYLINDER)
    reading = {"line": 1, "position": "cylinder-1", "value": "140", "unit": "mm"}

    assert failed([line], [reading]) == [
        ("Stroke, cylinder-1", "140 mm, limit 85 to 130 mm")
    ]


def test_what_was_found_wrong_and_put_right_fails_nothing():
    lines = [
        measured("Stroke", "length", "mm", 85, 130, stage=Stage.AS_FOUND),
        measured("Stroke", "length", "mm", 85, 130, stage=Stage.AS_LEFT),
        question("Blocks clear", "Clear"),
    ]
    readings = [
        {"line": 1, "value": "140", "unit": "mm"},
        {"line": 2, "value": "100", "unit": "mm"},
        {"line": 3, "answer": "not_met"},
    ]

    assert failed(lines, readings) == [("Blocks clear", "not met")]
