"""Forms of visits: accept, the evidence line by line, newer evidence, end early."""

from typing import Any

from django import forms

from fleet.examination.models import Test, TestRecord
from fleet.register.forms.parts import day_field
from fleet.register.models import Vehicle
from fleet.ui.forms import SubmissionForm
from fleet.upkeep.models import VisitEvidence
from fleet.upkeep.visits import SEEN, Seen

SPARE = 3  # empty lines


class AcceptForm(SubmissionForm):
    """On whose regime, on what evidence, how long."""

    owner = forms.CharField(label="Owner", max_length=80)
    regime = forms.CharField(
        label="Owner's regime, with its document",
        max_length=200,
        help_text="Such as: brake maintenance plan BM 3, issue 4.",
    )
    tests = forms.ModelMultipleChoiceField(
        Test.objects.none(),
        label="Acceptance tests made here",
        widget=forms.CheckboxSelectMultiple,
        help_text="Record them first; only passed ones of this vehicle are listed.",
    )
    condition = forms.CharField(
        label="Condition, as train crew should read it", max_length=200, required=False
    )
    since = day_field("Accepted from")
    last_day = day_field("Last good day")

    def __init__(self, data: Any, *, vehicle: Vehicle, **options: Any) -> None:
        """Offer the tests of the vehicle."""
        super().__init__(data, **options)
        records = TestRecord.objects.current().filter(vehicle=vehicle, passed=True)
        newest = records.select_related("procedure_revision").order_by("-on_latest")[
            :20
        ]
        field = self.fields["tests"]
        assert isinstance(field, forms.ModelMultipleChoiceField)
        field.queryset = Test.objects.filter(
            pk__in=[r.test_id for r in newest]
        ).order_by("-pk")
        words = {r.test_id: f"{r.procedure_revision.title}, {r.on}" for r in newest}
        field.label_from_instance = lambda obj: words[obj.pk]  # type: ignore[method-assign]


class EndForm(SubmissionForm):
    """When a visit ends before its time, and why."""

    last_day = day_field("Last good day")
    reason = forms.CharField(label="Why?", max_length=300)


class RenewForm(SubmissionForm):
    """Why the list of evidence is another from now on."""

    reason = forms.CharField(label="Why?", max_length=300)


class SeenForm(forms.ModelForm[VisitEvidence]):
    """One piece of evidence; a line without a document is left out."""

    class Meta:
        model = VisitEvidence
        fields = SEEN
        labels = {
            "words": "Document",
            "number": "Its number",
            "issued_by": "Issued by",
            "dated": "Dated",
            "valid_until": "Valid until",
        }
        widgets = {
            name: forms.DateInput({"type": "date"}, format="%Y-%m-%d")
            for name in ("dated", "valid_until")
        }

    def clean(self) -> dict[str, Any]:
        """Refuse a document that runs out before its date."""
        said: dict[str, Any] = super().clean() or {}
        dated, until = said.get("dated"), said.get("valid_until")
        if dated and until and until < dated:
            self.add_error("valid_until", "It runs out before its date. Look at both.")
        return said


class _Lines(forms.BaseFormSet[SeenForm]):
    def add_fields(self, form: SeenForm, index: int | None) -> None:
        """Call striking out a line what it is: the line stays in the history."""
        super().add_fields(form, index)
        form.fields["DELETE"].label = "Strike this line out"

    def said(self) -> list[Seen]:
        """Return the lines written, without those struck out."""
        return [
            Seen(**{name: form.cleaned_data[name] for name in SEEN})
            for form in self.forms
            if form.cleaned_data.get("words") and not form.cleaned_data.get("DELETE")
        ]


EvidenceLines: Any = forms.formset_factory(
    SeenForm, formset=_Lines, extra=SPARE, can_delete=True
)
