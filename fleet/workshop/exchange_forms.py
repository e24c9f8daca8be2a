"""Forms of exchange units: describe a group, send units away, take them in again."""

from typing import Any

from django import forms

from fleet.records.clock import today
from fleet.register.forms.parts import day_field, reason_field
from fleet.register.models import Equipment
from fleet.ui.forms import SubmissionForm
from fleet.workshop.exchange_need import OTHER, OVERDUE, READY, Unit
from fleet.workshop.models import (
    ConsignmentItem,
    ConsignmentVersion,
    Contractor,
    ContractorVersion,
)
from fleet.workshop.models.exchange import BACK_AS

OWN = "Our own bench"


def _contractors() -> forms.TypedChoiceField:
    return forms.TypedChoiceField(
        label="Who overhauls them", required=False, coerce=int, empty_value=None
    )


class _WithContractor(SubmissionForm):
    """A form that asks who overhauls; those no longer used are not offered."""

    def __init__(self, *args: Any, **options: Any) -> None:
        """Offer them by name."""
        super().__init__(*args, **options)
        held = ContractorVersion.objects.current().exclude(ended_on__lte=today())
        named = list(held.order_by("name").values_list("contractor", "name"))
        self.fields["contractor"].choices = [  # type: ignore[attr-defined]  # a choice field
            ("", OWN),
            *named,
        ]

    def chosen(self) -> Contractor | None:
        """Return the one chosen."""
        key = self.cleaned_data["contractor"]
        return None if key is None else Contractor.objects.get(pk=key)


class GroupForm(_WithContractor):
    """What the units of a group are."""

    label = forms.CharField(
        label="What they are, many", max_length=80, help_text="Such as: distributors."
    )
    alike = forms.CharField(
        label="What makes them interchangeable",
        max_length=200,
        required=False,
        help_text="Type, bracket, timing, pressure.",
    )
    contractor = _contractors()
    turnaround_weeks = forms.IntegerField(
        label="Weeks until one taken off is serviceable again",
        required=False,
        min_value=1,
        max_value=260,
        help_text="Left empty, as long as the contractor takes. Empty with our own "
        "bench, a unit taken off is not counted on again.",
    )
    least = forms.IntegerField(
        label="Warn below so many in store", min_value=0, max_value=1000, initial=0
    )

    def facts(self) -> dict[str, Any]:
        """Return what was written down."""
        names = ("label", "alike", "turnaround_weeks", "least")
        facts = {name: self.cleaned_data[name] for name in names}
        return facts | {"contractor": self.chosen()}


class SendForm(_WithContractor):
    """Which units go away, to whom, until when."""

    items = forms.TypedMultipleChoiceField(
        label="Which units", coerce=int, widget=forms.CheckboxSelectMultiple
    )
    contractor = _contractors()
    reference = forms.CharField(
        label="Order or note number", max_length=60, required=False
    )
    sent_on = day_field("Sent on")
    expected_on = day_field("Expected back on")
    field_order = ("items", "contractor", "reference", "sent_on", "expected_on")

    def __init__(self, *args: Any, units: list[Unit], **options: Any) -> None:
        """Offer the units that lie in a store, those that want overhaul first."""
        super().__init__(*args, **options)
        self.fields["items"].choices = [  # type: ignore[attr-defined]  # a choice field
            (
                unit.version.equipment_id,
                f"{unit.version.serial}, {unit.version.get_state_display().lower()}"
                f"{' but overdue' if unit.place == OVERDUE else ''}, {unit.where}",
            )
            for place in (OTHER, OVERDUE, READY)
            for unit in units
            if unit.place == place
        ]

    def facts(self) -> dict[str, Any]:
        """Return what was written down."""
        names = ("reference", "sent_on", "expected_on")
        facts = {name: self.cleaned_data[name] for name in names}
        items = Equipment.objects.filter(pk__in=self.cleaned_data["items"])
        return facts | {
            "contractor": self.chosen(),
            "items": list(items.order_by("pk")),
        }


class TakeInForm(SubmissionForm):
    """Which units are back, and how."""

    items = forms.ModelMultipleChoiceField(
        ConsignmentItem.objects.none(),
        label="Which units",
        widget=forms.CheckboxSelectMultiple,
    )
    on = day_field("Back on")
    state = forms.ChoiceField(
        label="They came back", choices=[(s.value, s.label) for s in BACK_AS]
    )

    def __init__(
        self, *args: Any, away: list[tuple[ConsignmentItem, str]], **options: Any
    ) -> None:
        """Offer what is still away."""
        super().__init__(*args, **options)
        rows = ConsignmentItem.objects.filter(pk__in=[item.pk for item, _ in away])
        self.fields["items"].queryset = rows.select_related(  # type: ignore[attr-defined]  # a ModelMultipleChoiceField
            "equipment", "consignment"
        )
        self.fields["items"].choices = [(item.pk, words) for item, words in away]  # type: ignore[attr-defined]  # the same


class ExpectForm(SubmissionForm):
    """Another day on which units are expected."""

    day = day_field("Now expected on")


class CorrectSendingForm(_WithContractor):
    """Where and when units were sent, put right."""

    contractor = _contractors()
    reference = forms.CharField(
        label="Order or note number", max_length=60, required=False
    )
    sent_on = day_field("Sent on")
    expected_on = day_field("Expected back on")
    reason = reason_field()

    @staticmethod
    def said(version: ConsignmentVersion) -> dict[str, Any]:
        """Return what a version says."""
        names = ("reference", "sent_on", "expected_on")
        said = {name: getattr(version, name) for name in names}
        return said | {"contractor": version.contractor_id}

    def facts(self) -> dict[str, Any]:
        """Return what was written down."""
        names = ("reference", "sent_on", "expected_on", "reason")
        facts = {name: self.cleaned_data[name] for name in names}
        return facts | {"contractor": self.chosen()}


class CorrectReturnForm(SubmissionForm):
    """When and how a unit came back, put right."""

    returned_on = day_field("Back on")
    state = forms.ChoiceField(
        label="It came back", choices=[(s.value, s.label) for s in BACK_AS]
    )
    reason = reason_field()
