"""Forms of work in hand."""

from typing import Any

from django import forms

from fleet.defects import services
from fleet.defects.forms.parts import person_field, scope_field, when_field
from fleet.defects.models import WorkInHand
from fleet.people.models import Person, User
from fleet.register.models import Vehicle
from fleet.register.vocabulary import Scope
from fleet.ui.forms import SubmissionForm


class StartWorkForm(SubmissionForm):
    """What work begins on a vehicle."""

    what = forms.CharField(label="What is to be done", max_length=200)
    scope = scope_field(initial=Scope.VEHICLE)
    since = when_field("Begun")
    person = person_field("Taken in hand by")

    def apply(self, *, by: User, vehicle: Vehicle) -> WorkInHand:
        """Take the vehicle in hand; may raise ValidationError."""
        names = ("what", "scope", "since", "person")
        said = {name: self.cleaned_data[name] for name in names}
        return services.start_work(by=by, vehicle=vehicle, **said)


class ReleaseWorkForm(SubmissionForm):
    """The signature that ends work in hand."""

    done_by = person_field("Work done by")
    at = when_field("Released")

    def __init__(
        self, *args: Any, work: WorkInHand, signer: Person, **options: Any
    ) -> None:
        """Begin with who took it in hand."""
        super().__init__(*args, **options)
        self.work, self.signer = work, signer
        self.fields["done_by"].initial = work.done_by_id

    def apply(self, *, by: User) -> WorkInHand:
        """Release the vehicle, signed by who is signed in."""
        return services.release_to_traffic(
            by=by,
            person=self.signer,
            work=self.work,
            at=self.cleaned_data["at"],
            done_by=self.cleaned_data["done_by"],
        )
