"""Forms of competences: grant, withdraw, correct, retract."""

from typing import Any

from django import forms

from fleet.people.competence import last_day_of
from fleet.people.models import CompetenceVersion, Person, Skill, User
from fleet.people.services import (
    correct_competence,
    grant_competence,
    retract_competence,
    withdraw_competence,
)
from fleet.records.clock import today
from fleet.ui.forms import DayAndTimeField, MomentField, SubmissionForm


class CompetenceForm(SubmissionForm):
    """From when to when it holds, and on whose word."""

    since = MomentField(
        label="Assessed on",
        latest=today,
        allow_unknown=False,
        help_text="It holds from that day: 2019-05-03, 2019-05, 2019-Q2 or 2019.",
    )
    last_day = forms.DateField(
        label="Last day it holds",
        required=False,
        widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"),
        help_text="Left empty, it holds until it is withdrawn.",
    )
    assessed_by = forms.CharField(label="Assessed by", max_length=120)
    grounds = forms.CharField(
        label="Grounds",
        max_length=200,
        required=False,
        help_text="Such as: course and supervised tests, or the certificate's number.",
    )

    def facts(self) -> dict[str, Any]:
        """Return what was written down, as services take it."""
        names = ("since", "last_day", "assessed_by", "grounds")
        return {name: self.cleaned_data[name] for name in names}


class GrantForm(CompetenceForm):
    """Record that a person was assessed."""

    person = forms.ModelChoiceField(Person.objects.none(), label="Who")
    skill = forms.ChoiceField(label="For what", choices=Skill.choices)
    field_order = ("person", "skill")

    def __init__(self, *args: Any, **options: Any) -> None:
        """Offer those still with the line."""
        super().__init__(*args, **options)
        self.fields["person"].queryset = Person.objects.active()  # type: ignore[attr-defined]  # a ModelChoiceField

    def apply(self, *, by: User) -> CompetenceVersion:
        """Record it."""
        return grant_competence(
            by=by,
            person=self.cleaned_data["person"],
            skill=self.cleaned_data["skill"],
            **self.facts(),
        )


class CorrectForm(CompetenceForm):
    """Put a competence right."""

    reason = forms.CharField(
        label="Why",
        max_length=300,
        help_text="What was wrong, and how it is known now. Both versions stay.",
    )

    def __init__(self, *args: Any, version: CompetenceVersion, **options: Any) -> None:
        """Start from what was recorded."""
        options["initial"] = {
            "since": version.since,
            "last_day": last_day_of(version),
            "assessed_by": version.assessed_by,
            "grounds": version.grounds,
        }
        super().__init__(*args, **options)
        self.version = version

    def apply(self, *, by: User) -> CompetenceVersion:
        """Record it."""
        reason = self.cleaned_data["reason"]
        return correct_competence(
            by=by, version=self.version, reason=reason, **self.facts()
        )


class _EndForm(SubmissionForm):
    """Why a competence is to hold no more."""

    reason = forms.CharField(label="Why", max_length=300)

    def __init__(self, *args: Any, version: CompetenceVersion, **options: Any) -> None:
        """Be about one competence."""
        super().__init__(*args, **options)
        self.version = version


class WithdrawForm(_EndForm):
    """End a competence on a day."""

    at = DayAndTimeField(
        label="From this day it no longer holds", latest=today, help_text=""
    )
    field_order = ("at", "reason")

    def apply(self, *, by: User) -> CompetenceVersion:
        """Record it."""
        at, reason = self.cleaned_data["at"], self.cleaned_data["reason"]
        return withdraw_competence(by=by, version=self.version, at=at, reason=reason)


class RetractForm(_EndForm):
    """Say that a competence was never rightly granted."""

    def apply(self, *, by: User) -> CompetenceVersion:
        """Record it."""
        reason = self.cleaned_data["reason"]
        return retract_competence(by=by, version=self.version, reason=reason)
