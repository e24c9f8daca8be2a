"""Fields that several forms of this slice share."""

from typing import Any

from django import forms

from fleet.people.models import Person
from fleet.records.clock import today
from fleet.register.vocabulary import Scope
from fleet.ui.forms import DayAndTimeField


def person_field(label: str, **options: Any) -> "forms.ModelChoiceField[Person]":
    """Return a choice of the people still with the line."""
    return forms.ModelChoiceField(Person.objects.active(), label=label, **options)


def when_field(label: str, **options: Any) -> DayAndTimeField:
    """Return a day with a time, not after today."""
    return DayAndTimeField(label=label, latest=today, **options)


def scope_field(**options: Any) -> forms.ChoiceField:
    """Return a choice of what a defect or work bears on."""
    options.setdefault("label", "Bears on")
    return forms.ChoiceField(choices=[("", "Choose"), *Scope.choices()], **options)


def note_field(label: str = "Note", *, required: bool = False) -> forms.CharField:
    """Return room for a few words."""
    rows = forms.Textarea(attrs={"rows": 3})
    return forms.CharField(label=label, required=required, widget=rows)


def reason_field() -> forms.CharField:
    """Return room for why a record is put right."""
    return forms.CharField(
        label="Why",
        max_length=300,
        help_text="Both versions stay; this says why there are two.",
    )
