"""What a page is asked for in its address: the day, and how it is narrowed down."""

import datetime as dt
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.functional import cached_property

from fleet.records.clock import now, today
from fleet.records.knowledge import Knowledge, knowledge_at
from fleet.register.models import Depot
from fleet.register.vocabulary import Level, System

DAYS_AHEAD = 90
FURTHEST = 366 * 40  # days from today, either way: beyond that nothing is recorded


class DayForm(forms.Form):
    """The day a page is for; left out, today."""

    def __init__(self, query: QueryDict) -> None:
        """Take what an address asks; one that names no day asks for today."""
        filled = query.copy()
        filled.setdefault("on", today().isoformat())
        super().__init__(filled)

    on = forms.DateField(
        label="On",
        required=False,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        error_messages={"invalid": "Enter the day as 2026-11-25."},
    )

    known = forms.DateTimeField(
        label="As known at",
        required=False,
        widget=forms.DateTimeInput(
            format="%Y-%m-%dT%H:%M", attrs={"type": "datetime-local"}
        ),
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"],
        error_messages={"invalid": "Enter day and time as 2026-11-25T14:30."},
    )

    def clean_known(self) -> dt.datetime | None:
        """Return the time whose knowledge is asked for; None: what is known now."""
        at: dt.datetime | None = self.cleaned_data.get("known")
        if at is not None and at > now():
            raise forms.ValidationError(
                "Nobody knows yet what will be recorded. Choose a time that has been.",
                code="future",
            )
        return at

    def clean_on(self) -> dt.date:
        """Return the day asked for, within what a register can speak about."""
        day: dt.date = self.cleaned_data.get("on") or today()
        if abs((day - today()).days) > FURTHEST:
            raise forms.ValidationError(
                "Choose a day within forty years of today.", code="too_far"
            )
        return day

    @property
    def day(self) -> dt.date:
        """Return the day asked for; today where what was asked is wrong."""
        self.is_valid()  # a wrong field beside it does not move the day
        return self.cleaned_data.get("on") or today()

    @cached_property
    def knowledge(self) -> Knowledge | None:
        """Return the knowledge asked for; None for that of now, or where it is wrong."""
        self.is_valid()
        at = self.cleaned_data.get("known")
        return knowledge_at(at) if at else None

    @property
    def known_at(self) -> int | None:
        """Return the entry up to which records count; None: all there are."""
        return self.knowledge.number if self.knowledge else None


class BoardForm(DayForm):
    """The board's day, and which vehicles it shows."""

    depot = forms.ModelChoiceField(
        Depot.objects.all(), required=False, empty_label="All depots"
    )
    level = forms.ChoiceField(
        required=False,
        choices=[
            ("", "All"),
            *((level.code, level.label) for level in reversed(Level)),
            ("stale", "Not yet reassessed"),
        ],
        label="Brake status",
    )
    system = forms.ChoiceField(
        required=False, choices=[("", "Air or vacuum"), *System.choices()]
    )
    find = forms.CharField(
        required=False,
        widget=forms.TextInput(attrs={"placeholder": "number or type"}),
    )
    read = forms.ChoiceField(
        label="Of what was known then",
        required=False,
        choices=[("again", "as today's rules read it"), ("then", "as shown then")],
    )

    ahead = forms.ChoiceField(
        label="Looking ahead",
        required=False,
        choices=[("", "as recorded"), ("done", "programme done")],
    )

    @classmethod
    def asked(cls, query: QueryDict) -> "BoardForm":
        """Return the form for an address; an empty address asks for today."""
        form = cls(query)
        form.is_valid()
        return form

    def value(self, name: str) -> Any:
        """Return what was asked of one field, "" or None where nothing sound was."""
        return self.cleaned_data.get(name) if hasattr(self, "cleaned_data") else None


class DueForm(forms.Form):
    """How far ahead the due list looks, and what of."""

    days = forms.TypedChoiceField(
        label="Within",
        coerce=int,
        required=False,
        empty_value=None,
        choices=[(30, "30 days"), (90, "90 days"), (365, "a year"), (1096, "3 years")],
    )
    depot = forms.ModelChoiceField(
        Depot.objects.all(), required=False, empty_label="All depots"
    )
    find = forms.CharField(
        required=False,
        widget=forms.TextInput(attrs={"placeholder": "requirement or number"}),
    )

    @classmethod
    def asked(cls, query: QueryDict) -> "DueForm":
        """Return the form for an address; an empty address asks for 90 days."""
        filled = query.copy()
        filled.setdefault("days", str(DAYS_AHEAD))
        form = cls(filled)
        form.is_valid()
        return form

    def value(self, name: str) -> Any:
        """Return what was asked of one field, None where nothing sound was."""
        return self.cleaned_data.get(name) or None

    def until(self, today: dt.date) -> dt.date:
        """Return the last day the list looks ahead to."""
        return today + dt.timedelta(days=self.value("days") or DAYS_AHEAD)
