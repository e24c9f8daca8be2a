"""Dates as a workshop knows them, on a form."""

import datetime as dt
import uuid

import pytest
from django import forms
from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment
from fleet.ui.forms import (
    DayAndTimeField,
    MomentField,
    SubmissionForm,
    add_refusal,
    written,
)

TODAY = dt.date(2026, 11, 25)


def refusal(field, value):
    with pytest.raises(ValidationError) as refused:
        field.clean(value)
    return refused.value.code


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2019-05-03", "2019-05-03", "2019-05-03"),
        (" 2019-05 ", "2019-05-01", "2019-05-31"),
        ("2019-Q2", "2019-04-01", "2019-06-30"),
        ("2019", "2019-01-01", "2019-12-31"),
    ],
)
def test_a_date_is_taken_as_closely_as_it_is_known(text, first, last):
    moment = MomentField().clean(text)

    assert moment.earliest == dt.date.fromisoformat(first)
    assert moment.latest == dt.date.fromisoformat(last)


def test_unknown_is_an_answer_unless_a_date_is_needed():
    assert MomentField().clean("unknown") == Moment.unknown()
    assert refusal(MomentField(allow_unknown=False), "unknown") == "unknown"


def test_an_empty_field_is_no_answer():
    assert MomentField(required=False).clean("") is None
    assert refusal(MomentField(), "  ") == "required"


@pytest.mark.parametrize("text", ["03/05/2019", "2019-13", "2019-02-30", "soon"])
def test_what_cannot_be_read_is_refused_with_a_sentence(text):
    with pytest.raises(ValidationError) as refused:
        MomentField().clean(text)

    assert refused.value.code == "invalid"
    assert refused.value.messages[0].endswith(".")


@pytest.mark.parametrize(
    ("text", "refused"),
    [
        pytest.param("2026-11-25", False, id="the latest day itself"),
        pytest.param("2026-11-26", True, id="the day after"),
        pytest.param("2026", False, id="a year that has begun"),
        pytest.param("2027", True, id="a year to come"),
    ],
)
def test_what_lies_wholly_after_the_latest_day_is_refused(text, refused):
    for latest in (TODAY, lambda: TODAY):
        field = MomentField(latest=latest)
        if refused:
            assert refusal(field, text) == "future"
        else:
            assert field.clean(text).earliest <= TODAY


def test_a_time_may_be_given_with_an_exact_day():
    field = MomentField(with_time=True)

    assert field.clean(["2019-05-03", "14:30"]).at == dt.time(14, 30)
    assert field.clean(["2019-05-03", ""]).at is None
    assert field.clean(["2019", ""]) == Moment.parse("2019")


@pytest.mark.parametrize("day", ["2019-05", "unknown", ""])
def test_a_time_without_an_exact_day_is_refused(day):
    assert refusal(MomentField(with_time=True), [day, "14:30"]) == "time_without_day"


def test_a_time_that_is_none_is_refused():
    assert refusal(MomentField(with_time=True), ["2019-05-03", "25:00"]) == "time"


def test_the_day_and_time_field_wants_an_exact_day():
    field = DayAndTimeField(latest=TODAY)

    assert field.clean(["2026-11-25", "09:05"]) == Moment.on(TODAY, dt.time(9, 5))
    assert refusal(field, ["2026-11", ""]) == "invalid"
    assert refusal(field, ["2026-11-26", ""]) == "future"
    assert refusal(field, ["", ""]) == "required"
    assert refusal(field, ["unknown", ""]) == "invalid"


@pytest.mark.parametrize(
    "text", ["2019-05-03", "2019-02", "2019-Q4", "2019", "unknown"]
)
def test_a_moment_is_shown_as_it_would_be_typed(text):
    assert written(Moment.parse(text)) == text


class Dated(SubmissionForm):
    """A form with each kind of date."""

    made = MomentField(required=False)
    tested = DayAndTimeField(latest=TODAY)


def test_an_offered_moment_stands_in_its_fields_and_counts_as_unchanged():
    offered = {
        "made": Moment.parse("2019-Q2"),
        "tested": Moment.on(TODAY, dt.time(9, 5)),
    }
    form = Dated(
        {"made": "2019-Q2", "tested_day": "2026-11-25", "tested_time": "09:05"},
        initial=offered,
    )

    html = str(Dated(initial=offered))

    for value in ("2019-Q2", "2026-11-25", "09:05"):
        assert f'value="{value}"' in html
    assert form.is_valid()
    assert not {"made", "tested"} & set(form.changed_data)


def test_a_form_shows_labels_help_and_errors_tied_to_their_field():
    form = Dated({"made": "soon", "tested_day": "", "tested_time": ""})

    html = str(form)

    assert '<label for="id_made">' in html
    assert "<legend>Tested" in html
    assert 'aria-describedby="id_made_helptext id_made_error"' in html
    assert 'id="id_made_error"' in html
    assert "style=" not in html


def test_each_blank_form_has_a_number_of_its_own():
    assert Dated()["submission"].value() != Dated()["submission"].value()


def test_the_number_of_a_form_comes_back_as_it_was_sent():
    number = uuid.uuid4()
    sent = {"tested_day": "2026-11-25", "submission": str(number)}

    with_number, without = Dated(sent), Dated({"tested_day": "2026-11-25"})

    assert with_number.is_valid()
    assert without.is_valid()
    assert with_number.cleaned_data["submission"] == number
    assert isinstance(without.cleaned_data["submission"], uuid.UUID)


def test_a_refusal_stands_beside_the_field_it_names_or_above_the_form():
    class Plain(forms.Form):
        serial = forms.CharField()

    form = Plain({"serial": "D 1"})
    assert form.is_valid()

    known = ValidationError({"serial": ValidationError("Taken.", code="taken")})
    foreign = ValidationError({"position": ValidationError("Full.", code="full")})
    add_refusal(form, known)
    add_refusal(form, foreign)
    add_refusal(form, ValidationError("Not today.", code="late"))

    assert form.has_error("serial", "taken")
    assert form.has_error("__all__", "full")
    assert form.has_error("__all__", "late")


def test_the_browser_does_not_insist_on_a_time():
    class When(forms.Form):
        on = DayAndTimeField()

    day, time = When()["on"].subwidgets[0].data["subwidgets"]

    assert day["attrs"].get("required")
    assert not time["attrs"].get("required")
