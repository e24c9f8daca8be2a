"""Whether a revision asks less than the one before it, told in words."""

import pytest

from fleet.examination.lines import procedure_lines
from fleet.examination.models import ProcedureRevision
from fleet.examination.revisions import changes_between, changes_of
from fleet.examination.vocabulary import LineKind, Repeat, Stage
from fleet.register.vocabulary import Effect, Scope
from tests.examination.factories import (
    air_test_lines,
    make_procedure,
    measured,
    question,
)

TIME = measured("Release time", "time", "s", "15", "20", effect_failed=Effect.ISOLATE)


def between(old, new):
    """What changes from one line to another, each a change of TIME."""
    lines = [procedure_lines([TIME | values]) for values in (old, new)]
    return changes_between(*lines)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ({}, {"high": "25"}, "limit was 15 to 20 s, now 15 to 25 s"),
        ({}, {"low": "12"}, "limit was 15 to 20 s, now 12 to 20 s"),
        ({}, {"low": None}, "limit was 15 to 20 s, now at most 20 s"),
        ({}, {"low": None, "high": None}, "limit was 15 to 20 s, now no limit set"),
        ({}, {"low": "16", "high": "25"}, "limit was 15 to 20 s, now 16 to 25 s"),
        (
            {},
            {"low": "0.25", "high": "0.5", "unit": "min"},
            "limit was 15 to 20 s, now 0.25 to 0.5 min",
        ),
        (
            {},
            {"effect_failed": Effect.CONDITION},
            "if not met: was brake to be isolated, now condition",
        ),
        ({}, {"required": False}, "was to be answered, now may be left out"),
        (
            {"repeat": Repeat.CYLINDER},
            {},
            "was each brake cylinder, now asked once",
        ),
        ({"criterion": "Evenly"}, {}, "criterion was Evenly, now none"),
        (
            {},
            {
                "kind": LineKind.QUESTION,
                "quantity": "",
                "unit": "",
                "low": None,
                "high": None,
            },
            "was measured (time), now question",
        ),
    ],
)
def test_what_asks_less_is_weaker_and_the_way_back_is_stricter(old, new, said):
    changes = between(old, new)

    assert changes.weakened == (f"Release time: {said}",)
    assert changes.asks_less
    assert not changes.tightened

    back = between(new, old)
    assert not back.removed
    if "kind" not in new and "low" not in new:
        assert len(back.tightened) == 1
        assert not back.asks_less


@pytest.mark.parametrize(
    ("new", "said"),
    [
        ({"scope": Scope.VEHICLE}, "bears on: was Air brake, now Vehicle"),
        ({"source": "WVR 2"}, "source: was operator's own, now WVR 2"),
        ({"low": "15.00", "high": "20"}, None),
    ],
)
def test_what_is_neither_less_nor_more_is_altered(new, said):
    changes = between({}, new)

    assert changes.altered == ((f"Release time: {said}",) if said else ())
    assert not changes.asks_less


def test_the_same_limit_in_another_unit_is_no_weaker():
    changes = between(
        {"low": "30", "high": "60"}, {"low": "0.5", "high": "1", "unit": "min"}
    )

    assert changes.altered == ("Release time: limit was 30 to 60 s, now 0.5 to 1 min",)


def test_a_further_choice_that_will_do_is_weaker():
    lines = [
        procedure_lines([question("Adjuster", kind=LineKind.CHOICE, choices=choices)])
        for choices in (
            [["Works", True], ["Stiff", False]],
            [["Works", True], ["Stiff", True], ["Seized", False]],
        )
    ]

    assert changes_between(*lines).weakened == (
        "Adjuster: good enough was Works, now Works; or Stiff",
    )
    assert changes_between(*lines[::-1]).tightened == (
        "Adjuster: good enough was Works; or Stiff, now Works",
    )


def test_a_line_worded_anew_is_taken_out_and_brought_in():
    old, new = procedure_lines([TIME]), procedure_lines([TIME | {"text": "Release"}])

    changes = changes_between(old, new)

    assert changes.removed == ("Release time (15 to 20 s)",)
    assert changes.added == ("Release (15 to 20 s)",)


def test_a_line_as_found_that_goes_is_told_apart_from_the_line_as_left():
    pair = [TIME | {"stage": Stage.AS_FOUND}, TIME | {"stage": Stage.AS_LEFT}]

    changes = changes_between(procedure_lines(pair), procedure_lines(pair[:1]))

    assert changes.removed == ("Release time, as left (15 to 20 s)",)


def test_nothing_changed_is_no_change():
    lines = procedure_lines(air_test_lines())

    assert not changes_between(lines, lines)


@pytest.mark.django_db
def test_what_stands_about_the_lines_is_held_against_too():
    old = make_procedure(skill="air", cautions=["movement"]).revisions.get()
    new = ProcedureRevision(
        title="Air brake test",
        source=old.source,
        scopes=[Scope.AIR_BRAKE],
        cautions=["after_work"],
    )

    changes = changes_of(old, new, old.lines.all())

    assert changes.weakened == (
        "No longer there, bears on: brake pipe",
        "No longer there, caution: Before anyone goes on or under the vehicle",
        "Competence needed: was Air brake tests, now none",
    )
    assert changes.tightened == ("New, caution: When the work is done",)
    assert changes.altered == (
        "title: was Single-vehicle air brake test, now Air brake test",
    )
