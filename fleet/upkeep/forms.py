"""Forms of the policy: what a requirement, a line of the matrix, the conditions hold."""

from typing import Any

from django import forms

from fleet.defects.models import ClearingPolicy
from fleet.defects.services.policy import CLEARING_FIELDS
from fleet.examination.models import Procedure
from fleet.register.vocabulary import EquipmentKind, Scope
from fleet.upkeep.drafts import values_in
from fleet.upkeep.labels import LABELS
from fleet.upkeep.models import (
    ConcessionPolicy,
    ConditionsRevision,
    MatrixRevision,
    PolicyDraft,
    RequirementRevision,
)
from fleet.upkeep.services import (
    CONCESSION_FIELDS,
    CONDITIONS_FIELDS,
    MATRIX_FIELDS,
    REQUIREMENT_FIELDS,
)
from fleet.upkeep.vocabulary import PolicyKind


class DraftForm(forms.ModelForm):  # type: ignore[type-arg]  # one for each sort of revision
    """From when the next revision is to hold, why, and what it holds."""

    effective_from = forms.DateField(
        label="Takes effect on",
        required=False,
        widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"),
        help_text="Tomorrow at the earliest. It may be filled in later.",
    )
    because = forms.CharField(
        label="Why",
        max_length=300,
        required=False,
        help_text="Needed before a revision is approved.",
    )

    @classmethod
    def of(cls, draft: PolicyDraft, data: Any) -> "DraftForm":
        """Return the form for what a draft revises, filled with what it holds."""
        initial = values_in(draft) | {
            "effective_from": draft.effective_from,
            "because": draft.reason,
        }
        form = FORMS[draft.kind] if not draft.withdraws else WithdrawForm
        return form(data, initial=initial)

    def content(self) -> dict[str, Any]:
        """Return what was written as plain values, procedures by their codes."""
        said = dict(self.cleaned_data)
        for name in ("effective_from", "because"):
            said.pop(name)
        if "procedure" in said:
            said["procedure"] = said["procedure"].code if said["procedure"] else ""
        if "procedures" in said:
            said["procedures"] = [procedure.code for procedure in said["procedures"]]
        return said


class RequirementForm(DraftForm):
    """What must be done to what, within which limits."""

    class Meta:
        model = RequirementRevision
        fields = REQUIREMENT_FIELDS
        labels = LABELS[PolicyKind.REQUIREMENT]
        help_texts = {
            "procedure": "Left empty: an age limit, met only by renewal.",
            "storage_credit_days": "Left empty: it runs on, as rubber ages.",
            "concession_days": "Beyond the last good day. Left empty: the general policy.",
        }


class MatrixForm(DraftForm):
    """Which tests must follow a change."""

    procedures = forms.ModelMultipleChoiceField(
        Procedure.objects.order_by("code"),
        label=LABELS[PolicyKind.MATRIX]["procedures"],
        widget=forms.CheckboxSelectMultiple,
    )

    class Meta:
        model = MatrixRevision
        fields = MATRIX_FIELDS
        labels = LABELS[PolicyKind.MATRIX]
        help_texts = {
            "kind": "Only for equipment fitted. Left empty: any kind.",
            "scope": "Left empty: what the position or system changed bears on.",
        }


class ConditionsForm(DraftForm):
    """The operator's general conditions."""

    class Meta:
        model = ConditionsRevision
        fields = CONDITIONS_FIELDS
        labels = LABELS[PolicyKind.CONDITIONS]


class ConcessionsForm(DraftForm):
    """How far concessions may go."""

    never_scopes = forms.MultipleChoiceField(
        label=LABELS[PolicyKind.CONCESSIONS]["never_scopes"],
        choices=Scope.choices(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    never_kinds = forms.MultipleChoiceField(
        label=LABELS[PolicyKind.CONCESSIONS]["never_kinds"],
        choices=EquipmentKind.choices(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    class Meta:
        model = ConcessionPolicy
        fields = CONCESSION_FIELDS
        labels = LABELS[PolicyKind.CONCESSIONS]


class ClearingForm(DraftForm):
    """What is asked before a defect or work is cleared."""

    independent_scopes = forms.MultipleChoiceField(
        label=LABELS[PolicyKind.CLEARING]["independent_scopes"],
        choices=Scope.choices(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Work that may have touched any part counts if one of them is named.",
    )

    class Meta:
        model = ClearingPolicy
        fields = CLEARING_FIELDS
        labels = LABELS[PolicyKind.CLEARING]
        help_texts = {
            "release_needed_from": "Lighter work is cleared by doing it.",
            "recurrence_count": "Such as 3: the third time. The second at the earliest.",
            "recurrence_days": "Judged by the revision in force when it was reported.",
        }


class WithdrawForm(DraftForm):
    """From when it is withdrawn, and why."""

    class Meta:
        model = RequirementRevision
        fields = ()

    def _post_clean(self) -> None:
        """Have nothing to look at but the day and the reason."""


class NewForm(forms.Form):
    """The code of a requirement or line that is new."""

    code = forms.SlugField(
        label="Code",
        max_length=20,
        help_text="Short and for good, such as R-41. It is never changed.",
    )


FORMS: dict[str, type[DraftForm]] = {
    PolicyKind.REQUIREMENT: RequirementForm,
    PolicyKind.MATRIX: MatrixForm,
    PolicyKind.CONDITIONS: ConditionsForm,
    PolicyKind.CONCESSIONS: ConcessionsForm,
    PolicyKind.CLEARING: ClearingForm,
}
