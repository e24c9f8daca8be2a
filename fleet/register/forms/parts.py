"""Fields that several forms of the register share."""

from django import forms

from fleet.records.clock import today
from fleet.register.models import Depot
from fleet.register.vocabulary import EquipmentState
from fleet.ui.forms import DayAndTimeField, MomentField


def reason_field() -> forms.CharField:
    """Return the field that asks why something is put right."""
    return forms.CharField(
        label="Why",
        max_length=300,
        help_text="What was wrong, and how it is known now. Both versions stay.",
    )


def since_field(label: str, *, allow_unknown: bool = True) -> MomentField:
    """Return a field for a moment that may be known to the year only, or not at all."""
    closely = "As closely as it is known: 2019-05-03, 2019-05, 2019-Q2, 2019"
    tail = " or unknown." if allow_unknown else "."
    return MomentField(
        label=label,
        with_time=True,
        latest=today,
        allow_unknown=allow_unknown,
        help_text=f"{closely}{tail} Clear the time if it is not known.",
    )


def day_field(label: str) -> forms.DateField:
    """Return a field for a plain day, picked as the browser does."""
    # The browser's own field takes one format only, whatever the language.
    return forms.DateField(
        label=label, widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d")
    )


def moment_field(label: str) -> DayAndTimeField:
    """Return a field for a moment of a known day."""
    return DayAndTimeField(
        label=label,
        latest=today,
        help_text="Clear the time if it is not known. Where a change and a test fall on "
        "one day, the times tell which came first.",
    )


def store_field(label: str) -> forms.ModelChoiceField[Depot]:
    """Return a field for the store an item goes to."""
    return forms.ModelChoiceField(Depot.objects.all(), label=label, empty_label=None)


def state_field(label: str) -> forms.ChoiceField:
    """Return a field for the state of an item."""
    return forms.ChoiceField(label=label, choices=EquipmentState.choices())


def remark_field() -> forms.CharField:
    """Return the field for a remark."""
    return forms.CharField(label="Remark", max_length=200, required=False)
