"""Forms of equipment: add, alter from a date on, correct, mend a fitting's record."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.people.models import User
from fleet.records.clock import today
from fleet.register.forms.parts import reason_field, since_field, state_field
from fleet.register.models import Depot, Equipment, EquipmentVersion
from fleet.register.particulars import particulars_fields
from fleet.register.services.equipment import (
    add_equipment,
    alter_equipment,
    correct_equipment,
)
from fleet.register.vocabulary import EquipmentKind
from fleet.ui.forms import MomentField, SubmissionForm


class KindForm(forms.Form):
    """What kind of item is to be added."""

    kind = forms.ChoiceField(label="What is it", choices=EquipmentKind.choices())


class EquipmentForm(SubmissionForm):
    """What is held of an item, with the particulars of its kind."""

    serial = forms.CharField(label="Serial number", max_length=30)
    designation = forms.CharField(
        label="Type designation", max_length=30, required=False
    )
    group = forms.CharField(
        label="Interchangeability group",
        max_length=30,
        required=False,
        help_text="Items of one group may take one another's place.",
    )
    bore_mm = forms.IntegerField(
        label="Bore (mm)", min_value=1, max_value=999, required=False
    )
    pressure_bar = forms.DecimalField(
        label="Rated pressure (bar)",
        max_digits=6,
        decimal_places=2,
        min_value=0,
        required=False,
    )
    state = state_field("State")

    def __init__(self, *args: Any, kind: str, **options: Any) -> None:
        """Add the fields of the kind's own particulars."""
        super().__init__(*args, **options)
        self.kind = EquipmentKind(kind)
        self.own = []
        for column in particulars_fields(kind):
            field = column.formfield(required=False)
            assert field is not None
            self.fields[column.name] = field
            self.own.append(column.name)

    def held(self) -> dict[str, Any]:
        """Return what every kind has."""
        names = ("serial", "designation", "group", "bore_mm", "pressure_bar", "state")
        return {name: self.cleaned_data[name] for name in names}

    def particulars(self) -> dict[str, Any]:
        """Return what this kind has of its own, where anything was written."""
        given = {name: self.cleaned_data[name] for name in self.own}
        return given if any(value not in {None, ""} for value in given.values()) else {}


class AddEquipmentForm(EquipmentForm):
    """Take an item into the register."""

    made = MomentField(
        label="Made",
        latest=today,
        help_text="From the plate or marking, as closely as it can be read: 2019-05-03, "
        "2019-05, 2019-Q2, 2019 or unknown. The worst day it can mean counts.",
    )
    store = forms.ModelChoiceField(
        Depot.objects.all(),
        label="In store at",
        required=False,
        empty_label="Not in a store",
    )
    field_order = ("serial", "made", "store", "state")

    def apply(self, *, by: User) -> Equipment:
        """Record it."""
        return add_equipment(
            by=by,
            kind=self.kind,
            made=self.cleaned_data["made"],
            store=self.cleaned_data["store"],
            particulars=self.particulars(),
            **self.held(),
        )


class _HeldForm(EquipmentForm):
    """A form that starts from what is held of an item."""

    def __init__(
        self,
        *args: Any,
        version: EquipmentVersion,
        own: dict[str, Any],
        **options: Any,
    ) -> None:
        """Start from `version` and the particulars its kind has of its own."""
        names = ("serial", "designation", "group", "bore_mm", "pressure_bar", "state")
        start = {name: getattr(version, name) for name in names} | own
        start |= {"made": version.made}
        options["initial"] = start | options.get("initial", {})
        super().__init__(*args, kind=version.kind, **options)
        self.version, self.before = version, own

    def changes(self) -> dict[str, Any]:
        """Return what every kind has and was written differently."""
        held = self.held()
        return {n: v for n, v in held.items() if v != getattr(self.version, n)}

    def own_changes(self) -> dict[str, Any]:
        """Return the kind's own particulars, if any of them was written differently."""
        given = {name: self.cleaned_data[name] for name in self.own}
        empty = {None, ""}
        changed = any(
            value != self.before.get(name)
            and not (value in empty and self.before.get(name) in empty)
            for name, value in given.items()
        )
        return given if changed else {}

    def clean(self) -> dict[str, Any]:
        """Refuse a form in which nothing is different."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and not self.different():
            raise ValidationError("Nothing is different yet.", code="nothing_changed")
        return cleaned

    def different(self) -> bool:
        """Say whether anything was written differently."""
        return bool(self.changes() or self.own_changes())


class AlterEquipmentForm(_HeldForm):
    """Change what is held of an item from a moment on."""

    since = since_field("The change holds from", allow_unknown=False)
    field_order = ("since", "state")

    def apply(self, *, by: User) -> EquipmentVersion:
        """Record it."""
        return alter_equipment(
            by=by,
            equipment=self.version.equipment,
            since=self.cleaned_data["since"],
            particulars=self.own_changes(),
            **self.changes(),
        )


class CorrectEquipmentForm(_HeldForm):
    """Put right what was written down wrongly of an item."""

    made = MomentField(label="Made", latest=today)
    reason = reason_field()
    field_order = ("serial", "made")

    def different(self) -> bool:
        """Say whether anything was written differently, the make date included."""
        made = self.cleaned_data["made"]
        return bool(made != self.version.made or super().different())

    def apply(self, *, by: User) -> EquipmentVersion:
        """Record it."""
        changes = self.changes()
        if self.cleaned_data["made"] != self.version.made:
            changes["made"] = self.cleaned_data["made"]
        return correct_equipment(
            by=by,
            version=self.version,
            reason=self.cleaned_data["reason"],
            particulars=self.own_changes(),
            **changes,
        )
