"""Forms of fittings: fit, take off, exchange, put the record right."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.people.models import User
from fleet.register.forms.parts import (
    moment_field,
    reason_field,
    remark_field,
    since_field,
    state_field,
    store_field,
)
from fleet.register.models import (
    Equipment,
    EquipmentVersion,
    Fitting,
    Position,
    Vehicle,
)
from fleet.register.services.fittings import (
    correct_fitting,
    exchange,
    fit,
    retract_fitting,
    take_off,
)
from fleet.register.vocabulary import EquipmentKind, EquipmentState
from fleet.ui.forms import SubmissionForm

MOST = 200


class ItemForm(SubmissionForm):
    """Which item goes in: one from a store, or by its serial number."""

    equipment = forms.ChoiceField(label="Item from a store", required=False)
    serial = forms.CharField(
        label="or its serial number",
        max_length=30,
        required=False,
        help_text="For an item that is not in the list above.",
    )
    allow_wrong_kind = forms.BooleanField(
        label="It is really there, although of another kind",
        required=False,
        help_text="It will stand as a finding until the right kind is fitted.",
    )

    def __init__(
        self, *args: Any, vehicle: Vehicle, place: Position, **options: Any
    ) -> None:
        """Offer what lies in stores and suits the position."""
        super().__init__(*args, **options)
        self.vehicle, self.place = vehicle, place
        offered = [("", "Choose an item"), *suitable(place)]
        self.fields["equipment"].choices = offered  # type: ignore[attr-defined]  # a ChoiceField

    def clean(self) -> dict[str, Any]:
        """Find the item that is meant."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        chosen, serial = cleaned.get("equipment"), cleaned.get("serial", "").strip()
        if "equipment" in self.errors:
            return cleaned
        if bool(chosen) == bool(serial):
            raise ValidationError(
                "Choose an item from the list, or give one serial number; not both.",
                code="one_item",
            )
        if chosen:
            cleaned["item"] = Equipment.objects.get(pk=chosen)
        else:
            cleaned["item"] = self._by_serial(serial)
        return cleaned

    def _by_serial(self, serial: str) -> Equipment | None:
        held = EquipmentVersion.objects.newest().filter(serial__iexact=serial)
        if not self.cleaned_data.get("allow_wrong_kind"):
            held = held.filter(kind=self.place.kind)
        found = list(held.select_related("equipment")[:2])
        kind = EquipmentKind(self.place.kind).label.lower()
        if not found:
            self.add_error(
                "serial",
                f"There is no {kind} with this serial number in the register. Add the "
                "item first.",
            )
        elif len(found) > 1:
            self.add_error("serial", "Several kinds bear this number; choose above.")
        else:
            item: Equipment = found[0].equipment
            return item
        return None


class FitForm(ItemForm):
    """Fit an item at an empty position."""

    since = since_field("Fitted on")
    remark = remark_field()
    field_order = ("equipment", "serial", "since", "remark", "allow_wrong_kind")

    def apply(self, *, by: User) -> Fitting:
        """Record it."""
        return fit(
            by=by,
            equipment=self.cleaned_data["item"],
            vehicle=self.vehicle,
            position=self.place.code,
            since=self.cleaned_data["since"],
            remark=self.cleaned_data["remark"],
            allow_wrong_kind=self.cleaned_data["allow_wrong_kind"],
        )


class ExchangeForm(ItemForm):
    """Take off what is fitted, and fit another item, in one step."""

    at = moment_field("Exchanged on")
    state = state_field("State of the item that comes off")
    to = store_field("It goes to")
    remark = remark_field()
    field_order = ("equipment", "serial", "at", "state", "to", "remark")

    def __init__(self, *args: Any, **options: Any) -> None:
        """Take the old item for unserviceable unless told otherwise."""
        super().__init__(*args, **options)
        self.fields["state"].initial = EquipmentState.UNSERVICEABLE

    def apply(self, *, by: User) -> Fitting:
        """Record it."""
        return exchange(
            by=by,
            equipment=self.cleaned_data["item"],
            vehicle=self.vehicle,
            position=self.place.code,
            at=self.cleaned_data["at"],
            to=self.cleaned_data["to"],
            state=self.cleaned_data["state"],
            remark=self.cleaned_data["remark"],
            allow_wrong_kind=self.cleaned_data["allow_wrong_kind"],
        )


class TakeOffForm(SubmissionForm):
    """Take an item off into a store."""

    at = moment_field("Taken off on")
    state = state_field("State it came off in")
    to = store_field("It goes to")
    remark = remark_field()

    def apply(self, *, by: User, fitting: Fitting) -> Fitting:
        """Record it."""
        said = dict(self.cleaned_data)
        said.pop("submission")
        return take_off(by=by, fitting=fitting, **said)


class CorrectFittingForm(SubmissionForm):
    """Put right when or where an item was fitted."""

    since = since_field("Fitted on")
    until = since_field("Taken off on", allow_unknown=False)
    position = forms.ChoiceField()
    remark = remark_field()
    reason = reason_field()

    def __init__(
        self, *args: Any, fitting: Fitting, places: list[Position], **options: Any
    ) -> None:
        """Start from what is recorded; only what came off has an end to correct."""
        super().__init__(*args, **options)
        self.fitting = fitting
        self.fields["position"].choices = [(p.code, p.label) for p in places]  # type: ignore[attr-defined]  # a ChoiceField
        for name in ("since", "until", "position", "remark"):
            self.fields[name].initial = getattr(fitting, name)
        if fitting.until is None:
            del self.fields["until"]

    def clean(self) -> dict[str, Any]:
        """Refuse a form in which nothing is different."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and not self.changes():
            raise ValidationError("Nothing is different yet.", code="nothing_changed")
        return cleaned

    def changes(self) -> dict[str, Any]:
        """Return what was written differently."""
        names = {"since", "until", "position", "remark"} & set(self.fields)
        return {
            name: self.cleaned_data[name]
            for name in names
            if self.cleaned_data[name] != getattr(self.fitting, name)
        }

    def apply(self, *, by: User) -> Fitting:
        """Record it."""
        reason = self.cleaned_data["reason"]
        return correct_fitting(
            by=by, fitting=self.fitting, reason=reason, **self.changes()
        )


class RetractForm(SubmissionForm):
    """Record that an item was never fitted there."""

    reason = reason_field()

    def apply(self, *, by: User, fitting: Fitting) -> Fitting:
        """Record it."""
        reason = self.cleaned_data["reason"]
        return retract_fitting(by=by, fitting=fitting, reason=reason)


def suitable(place: Position) -> list[tuple[str, str]]:
    """Return items in stores that suit a position, serviceable ones first."""
    lying = EquipmentVersion.objects.for_list().in_stores().filter(kind=place.kind)
    if place.group:
        lying = lying.filter(group=place.group)
    rows = sorted(lying[:MOST], key=lambda row: row.state != EquipmentState.SERVICEABLE)
    return [
        (
            str(row.equipment_id),
            f"{row.serial}, {EquipmentState(row.state).label.lower()}, {row.at_store}",
        )
        for row in rows
    ]
