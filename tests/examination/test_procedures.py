"""Bringing in and revising procedures."""

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from fleet.examination.models import Procedure, ProcedureLine, ProcedureRevision
from fleet.examination.services import revise_procedure, revision_in_force
from fleet.records.clock import today
from fleet.records.models import Mention
from fleet.records.refusing import codes_of
from tests.examination.factories import (
    IN_FORCE,
    air_test_lines,
    make_bench_test,
    make_procedure,
    measured,
    question,
)

pytestmark = pytest.mark.django_db

TOMORROW = today() + dt.timedelta(days=1)


def revise(procedure, **values):
    """A revision from tomorrow on, with the same lines unless told otherwise."""
    values = {
        "by": None,
        "title": "Single-vehicle air brake test",
        "source": "operator's own",
        "effective_from": TOMORROW,
        "lines": air_test_lines(),
        "reason": "clearer words",
    } | values
    return revise_procedure(procedure=procedure, **values)


def refused(**values):
    """The refusal of a procedure with these values; nothing of it is kept."""
    with pytest.raises(ValidationError) as caught:
        make_procedure(**values)
    assert not Procedure.objects.exists()
    assert not ProcedureLine.objects.exists()
    return caught.value


def test_lines_keep_the_order_they_are_walked_in():
    revision = make_procedure().revisions.get()

    assert [(line.order, line.text) for line in revision.lines.all()] == [
        (1, "Brake pipe leakage"),
        (2, "Release time"),
        (3, "Brake applies and releases in steps"),
        (4, "Piston stroke, cylinder 1"),
    ]


def test_a_unit_is_kept_by_its_own_name():
    lines = [measured("Leakage", "pressure_rate", "kg/cm2 / min".replace(" ", ""), "0")]

    revision = make_procedure(lines=lines).revisions.get()

    assert revision.lines.get().unit == "kgf/cm2/min"


def test_limits_may_be_given_as_text_or_number():
    lines = [measured("Stroke", "length", "mm", low=85, high="101.6")]

    line = make_procedure(lines=lines).revisions.get().lines.get()

    assert (line.low, line.high) == (85, Decimal("101.6"))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        pytest.param(
            measured("Time", "time", "bar", 1), "bar is not a unit", id="unit"
        ),
        pytest.param(measured("Time", "tempo", "s", 1), "no quantity", id="quantity"),
        pytest.param(
            measured("Time", "time", "s", 5, 1), "above the upper", id="limits"
        ),
        pytest.param(measured("Time", "time", "s", "?"), "not a number", id="number"),
        pytest.param(measured("Time", "time", "s", -5), "not below zero", id="sign"),
        pytest.param(question("Sound?", unit="s"), "no quantity, unit", id="question"),
        pytest.param(measured("", "time", "s"), "cannot be blank", id="no text"),
        pytest.param(question("Sound?", scope="roof"), "not a valid", id="scope"),
    ],
)
def test_a_wrong_line_is_named_and_nothing_is_kept(line, said):
    refusal = refused(lines=[question("Brake applies"), line])

    assert set(refusal.error_dict) == {"lines"}
    assert refusal.messages[0].startswith(f"Line 2, “{line['text']}”: ")
    assert said in refusal.messages[0]


def test_a_procedure_needs_a_line():
    assert codes_of(refused(lines=[])) == {"no_lines"}


def test_two_lines_that_read_the_same_are_refused():
    lines = [measured("Stroke", "length", "mm"), measured("Stroke", "length", "in")]

    refusal = refused(lines=lines)

    assert codes_of(refusal) == {"same_text"}
    assert "Lines 1 and 2" in refusal.messages[0]


@pytest.mark.parametrize(
    ("field", "key"), [("cautions", "stand_clear"), ("scopes", "roof")]
)
def test_an_unknown_caution_or_scope_is_refused(field, key):
    refusal = refused(**{field: [key]})

    assert codes_of(refusal) == {"unknown_key"}
    assert set(refusal.error_dict) == {field}


def test_a_revision_takes_effect_no_earlier_than_tomorrow():
    procedure = make_procedure()

    with pytest.raises(ValidationError) as caught:
        revise(procedure, effective_from=today())

    assert codes_of(caught.value) == {"too_soon"}
    assert procedure.revisions.count() == 1


def test_until_a_revision_takes_effect_the_one_before_it_is_in_force():
    procedure = make_procedure()
    revision = revise(procedure)

    assert revision.number == 2
    assert revision_in_force(procedure, today()).number == 1
    assert revision_in_force(procedure, TOMORROW) == revision


def test_a_revision_comes_after_the_one_before_it():
    procedure = make_procedure()
    revise(procedure, effective_from=TOMORROW + dt.timedelta(days=30))

    with pytest.raises(ValidationError) as caught:
        revise(procedure, effective_from=TOMORROW)

    assert codes_of(caught.value) == {"before_the_last"}


def test_a_revision_needs_a_reason():
    with pytest.raises(ValidationError) as caught:
        revise(make_procedure(), reason="")

    assert codes_of(caught.value) == {"no_reason"}


def test_a_revision_is_carried_out_on_what_the_procedure_always_was():
    revision = revise(make_bench_test(), lines=[measured("Time", "time", "s", 1)])

    assert (revision.subject, revision.kind) == ("equipment", "distributor")
    assert revision.scopes == ["air_brake"]


def test_a_revision_is_in_the_log_of_its_procedure():
    procedure = make_procedure()
    revision = revise(procedure)

    mention = Mention.objects.get(entry=revision.opened_by)

    assert (mention.kind, mention.key) == ("examination.procedure", procedure.pk)


def test_before_it_was_brought_in_a_procedure_was_not_in_force():
    procedure = make_procedure()

    with pytest.raises(ValidationError) as caught:
        revision_in_force(procedure, IN_FORCE - dt.timedelta(days=1))

    assert codes_of(caught.value) == {"not_in_force"}


def test_one_revision_of_each_procedure_is_in_force():
    revise(make_procedure())
    bench = make_bench_test()

    in_force = ProcedureRevision.objects.in_force(TOMORROW)

    assert {(r.procedure.code, r.number) for r in in_force} == {
        ("svt-air", 2),
        (bench.code, 1),
    }


def test_a_line_says_what_is_good_enough():
    leakage, _, steps, stroke = make_procedure().revisions.get().lines.all()

    assert leakage.criterion_words == "at most 0.2 bar/min"
    assert steps.criterion_words == "Each step is seen"
    assert (stroke.criterion_words, stroke.has_criterion) == ("", False)
