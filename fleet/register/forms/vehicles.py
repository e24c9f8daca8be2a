"""Forms of vehicles: add, alter from a date on, correct, usage, storage."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.people.models import User
from fleet.register.forms.parts import day_field, reason_field, since_field
from fleet.register.models import Depot, Vehicle, VehicleType, VehicleVersion
from fleet.register.services.usage import (
    log_usage,
    read_meter,
    return_vehicle,
    store_vehicle,
)
from fleet.register.services.vehicles import (
    add_vehicle,
    alter_vehicle,
    correct_vehicle,
)
from fleet.register.vocabulary import (
    Fitment,
    MainReservoirPipe,
    Timing,
    VehicleStatus,
)
from fleet.ui.forms import SubmissionForm


class VehicleForm(SubmissionForm):
    """A vehicle's particulars."""

    number = forms.CharField(label="Running number", max_length=20)
    type = forms.ModelChoiceField(VehicleType.objects.named())
    since = since_field("Particulars hold from")
    air = forms.ChoiceField(label="Air brake", choices=Fitment.choices())
    vacuum = forms.ChoiceField(label="Vacuum brake", choices=Fitment.choices())
    main_reservoir_pipe = forms.ChoiceField(choices=MainReservoirPipe.choices())
    timing = forms.ChoiceField(
        label="Brake timing", choices=Timing.choices(), required=False
    )
    empty_load = forms.BooleanField(label="Empty/load gear", required=False)
    hand_brake = forms.BooleanField(label="Handbrake", required=False)
    tare_t = forms.DecimalField(
        label="Tare (t)", max_digits=6, decimal_places=2, min_value=1, required=False
    )
    depot = forms.ModelChoiceField(
        Depot.objects.all(), label="Home depot", required=False
    )
    status = forms.ChoiceField(
        choices=VehicleStatus.choices(),
        help_text="A new vehicle is not yet accepted until its acceptance tests are "
        "recorded.",
    )

    def particulars(self) -> dict[str, Any]:
        """Return what the services take, without the moment."""
        kept = dict(self.cleaned_data)
        for name in ("submission", "since", "reason"):
            kept.pop(name, None)
        return kept


class AddVehicleForm(VehicleForm):
    """Take a vehicle into the register."""

    def apply(self, *, by: User) -> Vehicle:
        """Record it."""
        since = self.cleaned_data["since"]
        return add_vehicle(by=by, since=since, **self.particulars())


class _HeldForm(VehicleForm):
    """A form that starts from particulars that are held."""

    def __init__(self, *args: Any, version: VehicleVersion, **options: Any) -> None:
        """Start from `version`."""
        held = {name: getattr(version, name) for name in _PARTICULARS}
        options["initial"] = held | options.get("initial", {})
        super().__init__(*args, **options)
        self.version = version

    def changes(self) -> dict[str, Any]:
        """Return what was written differently."""
        wanted = self.particulars()
        return {
            name: wanted[name]
            for name in wanted
            if wanted[name] != getattr(self.version, name)
        }

    def clean(self) -> dict[str, Any]:
        """Refuse a form in which nothing is different."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and not self.changes() and not self.moved():
            raise ValidationError("Nothing is different yet.", code="nothing_changed")
        return cleaned

    def moved(self) -> bool:
        """Say whether the moment itself is put right."""
        return False


class AlterVehicleForm(_HeldForm):
    """Change particulars from a moment on."""

    since = since_field("The change holds from", allow_unknown=False)

    def apply(self, *, by: User) -> VehicleVersion:
        """Record it."""
        since = self.cleaned_data["since"]
        vehicle = self.version.vehicle
        return alter_vehicle(by=by, vehicle=vehicle, since=since, **self.changes())


class CorrectVehicleForm(_HeldForm):
    """Put right what was written down wrongly."""

    reason = reason_field()

    def apply(self, *, by: User) -> VehicleVersion:
        """Record it."""
        changes = self.changes()
        if self.moved():
            changes["since"] = self.cleaned_data["since"]
        reason = self.cleaned_data["reason"]
        return correct_vehicle(by=by, version=self.version, reason=reason, **changes)

    def moved(self) -> bool:
        """Say whether the moment itself is put right."""
        return bool(self.cleaned_data["since"] != self.version.since)


class UsageForm(SubmissionForm):
    """Miles and days in service between two days."""

    first = day_field("From")
    last = day_field("To, this day included")
    miles = forms.DecimalField(max_digits=9, decimal_places=1, min_value=0)
    days = forms.IntegerField(label="Days in service", min_value=0, max_value=32_767)

    def apply(self, *, by: User, vehicle: Vehicle) -> None:
        """Record it."""
        said = dict(self.cleaned_data)
        said.pop("submission")
        log_usage(by=by, vehicle=vehicle, **said)


class MeterForm(SubmissionForm):
    """A meter reading."""

    on = day_field("Read on")
    meter_miles = forms.DecimalField(
        label="Meter reading (miles)", max_digits=10, decimal_places=1, min_value=0
    )
    days = forms.IntegerField(
        label="Days in service since the reading before", min_value=0, max_value=32_767
    )

    def apply(self, *, by: User, vehicle: Vehicle) -> None:
        """Record it."""
        said = dict(self.cleaned_data)
        said.pop("submission")
        read_meter(by=by, vehicle=vehicle, **said)


class StoreForm(SubmissionForm):
    """Put a vehicle out of use."""

    since = since_field("Out of use from", allow_unknown=False)
    place = forms.CharField(label="Where it stands", max_length=80, required=False)
    preserved = forms.CharField(
        label="How preserved",
        max_length=200,
        required=False,
        help_text="Drained, greased, hoses off: whatever was done.",
    )

    def apply(self, *, by: User, vehicle: Vehicle) -> None:
        """Record it."""
        said = dict(self.cleaned_data)
        said.pop("submission")
        store_vehicle(by=by, vehicle=vehicle, **said)


class ReturnForm(SubmissionForm):
    """Bring a vehicle back from storage."""

    at = since_field("Back in traffic from", allow_unknown=False)

    def apply(self, *, by: User, vehicle: Vehicle) -> None:
        """Record it."""
        return_vehicle(by=by, vehicle=vehicle, at=self.cleaned_data["at"])


_PARTICULARS = tuple(
    name for name in VehicleForm.base_fields if name not in {"submission"}
)
