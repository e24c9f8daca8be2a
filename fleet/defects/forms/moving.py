"""Forms of an authority to move a vehicle whose brake is isolated."""

from typing import Any

from django import forms

from fleet.defects import services
from fleet.defects.forms.parts import person_field
from fleet.defects.models import Isolation, MoveAuthority
from fleet.people.models import User
from fleet.ui.forms import SubmissionForm


def _day_field(label: str) -> forms.DateField:
    widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    return forms.DateField(label=label, widget=widget)


class MoveForm(SubmissionForm):
    """Where it may be moved to, up to when, within which limits, by whose leave."""

    destination = forms.CharField(label="To", max_length=120)
    limits = forms.CharField(
        label="Limits, as train crew should read them",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Speed, place in the train, who rides, which line and times.",
    )
    since = _day_field("First day")
    last_day = _day_field("Last day")
    person = person_field("Given by")

    def apply(self, *, by: User, isolation: Isolation) -> MoveAuthority:
        """Record the authority; may raise ValidationError."""
        names = ("destination", "limits", "since", "last_day", "person")
        said: dict[str, Any] = {name: self.cleaned_data[name] for name in names}
        return services.authorise_move(by=by, isolation=isolation, **said)


class WithdrawForm(SubmissionForm):
    """From which day an authority does not hold any more, and why."""

    from_day = _day_field("Does not hold from")
    reason = forms.CharField(label="Why", max_length=300)
