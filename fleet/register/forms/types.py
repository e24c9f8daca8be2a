"""Forms of vehicle types: a name and a day, and a sheet of positions."""

from typing import Any

from django import forms

from fleet.people.models import User
from fleet.register.forms.parts import day_field
from fleet.register.models import Position, TypeRevision, VehicleType
from fleet.register.services.types import define_type, revise_type
from fleet.register.vocabulary import Effect
from fleet.ui.forms import SubmissionForm

Rows = list[dict[str, Any]]
SPARE = 3
COLUMNS = (
    "code",
    "label",
    "kind",
    "scope",
    "end",
    "mandatory",
    "effect_missing",
    "normal",
    "group",
    "bore_mm",
    "min_pressure_bar",
)


class TypeForm(SubmissionForm):
    """What a type or its revision is called, and from when it holds."""

    code = forms.SlugField(
        max_length=30, help_text="Short, for good, such as coach-air-2."
    )
    name = forms.CharField(max_length=80)
    effective_from = day_field("In force from")
    source = forms.CharField(
        max_length=200, required=False, help_text="The drawing or list it follows."
    )
    reason = forms.CharField(
        label="What changed", max_length=300, help_text="For those who read it later."
    )

    def __init__(
        self, *args: Any, revising: VehicleType | None = None, **options: Any
    ) -> None:
        """Ask for a code where a type is new, for a reason where one is revised."""
        super().__init__(*args, **options)
        self.revising = revising
        del self.fields["reason" if revising is None else "code"]

    def define(self, *, by: User, places: Rows, figures: Rows) -> VehicleType:
        """Record a new type."""
        said = dict(self.cleaned_data)
        said.pop("submission")
        return define_type(by=by, positions=places, figures=figures, **said)

    def revise(self, *, by: User, places: Rows, figures: Rows) -> TypeRevision:
        """Record a revision."""
        assert self.revising is not None
        said = dict(self.cleaned_data)
        said.pop("submission")
        return revise_type(
            by=by, type=self.revising, positions=places, figures=figures, **said
        )


class PlaceForm(forms.ModelForm[Position]):
    """One position of a type."""

    class Meta:
        model = Position
        fields = COLUMNS
        labels = {
            "kind": "Takes",
            "effect_missing": "When missing",
            "normal": "Normal position",
            "bore_mm": "Bore (mm)",
            "min_pressure_bar": "Rated for at least (bar)",
            "mandatory": "Must be filled",
        }

    def __init__(self, *args: Any, **options: Any) -> None:
        """Start an empty line with the usual effect of a missing item."""
        super().__init__(*args, **options)
        self.fields["effect_missing"].initial = Effect.ISOLATE

    def validate_unique(self) -> None:
        """Leave it to the service, which sees the whole list."""


class _Places(forms.BaseFormSet[PlaceForm]):
    def said(self) -> list[dict[str, Any]]:
        """Return the positions as the services take them, without those struck out."""
        kept = []
        for form in self.forms:
            row = form.cleaned_data
            if row.get("code") and not row.get("DELETE"):
                kept.append({name: row[name] for name in COLUMNS})
        return kept

    @staticmethod
    def held(revision: TypeRevision) -> list[dict[str, Any]]:
        """Return the positions of a revision, to start from."""
        rows = revision.positions.all()
        return [{name: getattr(row, name) for name in COLUMNS} for row in rows]


PlacesForm: Any = forms.formset_factory(
    PlaceForm, formset=_Places, extra=SPARE, can_delete=True
)
