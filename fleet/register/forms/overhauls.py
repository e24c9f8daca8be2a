"""Forms of overhauls: who did it, put right, taken back."""

from typing import Any

from django import forms

from fleet.people.models import User
from fleet.records.clock import today
from fleet.register.forms.parts import reason_field
from fleet.register.models import Equipment, OverhaulVersion
from fleet.register.services.overhauls import (
    correct_overhaul,
    record_overhaul,
    retract_overhaul,
)
from fleet.ui.forms import MomentField, SubmissionForm

SUGGESTED = "overhaulers"  # the list of names used before, on the page


class OverhaulForm(SubmissionForm):
    """Who overhauled an item, when, by which paper, with which kit."""

    on = MomentField(
        label="Overhauled on",
        latest=today,
        help_text="As closely as it is known: 2019-05-03, 2019-05, 2019-Q2, 2019 or "
        "unknown.",
    )
    overhauler = forms.CharField(
        label="Overhauled by",
        max_length=80,
        widget=forms.TextInput({"list": SUGGESTED, "autocomplete": "off"}),
        help_text="Firm or workshop. Choose a name used before where it is the same one: "
        "a trace finds names spelt alike.",
    )
    certificate = forms.CharField(
        label="Certificate or job number", max_length=60, required=False
    )
    kit_batch = forms.CharField(
        label="Kit or batch of seals", max_length=40, required=False
    )

    def said(self) -> dict[str, Any]:
        """Return what is held of the overhaul."""
        names = ("on", "overhauler", "certificate", "kit_batch")
        return {name: self.cleaned_data[name] for name in names}

    def apply(self, *, by: User, equipment: Equipment) -> OverhaulVersion:
        """Record it; may raise ValidationError."""
        return record_overhaul(by=by, equipment=equipment, **self.said())


class CorrectOverhaulForm(OverhaulForm):
    """Put right what was written down wrongly of an overhaul."""

    reason = reason_field()

    def correct(self, *, by: User, version: OverhaulVersion) -> OverhaulVersion:
        """Record the correction; may raise ValidationError."""
        reason = self.cleaned_data["reason"]
        return correct_overhaul(by=by, version=version, reason=reason, **self.said())


class RetractOverhaulForm(SubmissionForm):
    """Why an overhaul is taken back."""

    reason = reason_field()

    def apply(self, *, by: User, version: OverhaulVersion) -> OverhaulVersion:
        """Take it back; may raise ValidationError."""
        reason = self.cleaned_data["reason"]
        return retract_overhaul(by=by, version=version, reason=reason)
