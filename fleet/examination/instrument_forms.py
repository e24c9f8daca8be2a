"""Forms of instruments: add, alter, calibrate, put a calibration right."""

from typing import Any

from django import forms

from fleet.engineering.units import QUANTITIES, UNITS
from fleet.examination.calibration import good_for
from fleet.examination.instruments import (
    add_instrument,
    alter_instrument,
    correct_calibration,
    record_calibration,
    retract_calibration,
)
from fleet.examination.models import Calibration, Instrument, InstrumentVersion
from fleet.examination.vocabulary import InstrumentState
from fleet.people.models import Person, User
from fleet.register.forms.parts import (
    day_field,
    moment_field,
    reason_field,
    since_field,
)
from fleet.ui.forms import SubmissionForm

_QUANTITIES = [
    ("", "Not one quantity"),
    *((q.name, q.label.capitalize()) for q in QUANTITIES.values()),
]
_UNITS = [("", "None"), *((name, name) for name in UNITS)]


class _ParticularsForm(SubmissionForm):
    """What is held of an instrument."""

    number = forms.CharField(
        label="Number", max_length=30, help_text="As painted or engraved on it."
    )
    what = forms.CharField(
        label="What it is", max_length=80, help_text="Such as: test gauge, or test rig."
    )
    quantity = forms.ChoiceField(label="Measures", choices=_QUANTITIES, required=False)
    unit = forms.ChoiceField(label="In", choices=_UNITS, required=False)
    range_low = forms.DecimalField(
        label="Range from", max_digits=10, decimal_places=3, required=False
    )
    range_high = forms.DecimalField(
        label="Range to", max_digits=10, decimal_places=3, required=False
    )
    accuracy_class = forms.DecimalField(
        label="Accuracy class",
        max_digits=4,
        decimal_places=2,
        required=False,
        help_text="In per cent of the span: class 1 over 0 to 10 bar allows 0.1 bar "
        "either way. Without it no calibration can be judged.",
    )
    calibration_months = forms.IntegerField(
        label="Calibrated every (months)", min_value=1, max_value=120, initial=12
    )
    state = forms.ChoiceField(label="State", choices=InstrumentState.choices())

    def held(self) -> dict[str, Any]:
        """Return the particulars as services take them."""
        own = {"since", "submission"}
        return {k: v for k, v in self.cleaned_data.items() if k not in own}


class AddInstrumentForm(_ParticularsForm):
    """Take an instrument into the register."""

    since = since_field("Held since", allow_unknown=False)

    def apply(self, *, by: User) -> Instrument:
        """Record it."""
        since = self.cleaned_data["since"]
        return add_instrument(by=by, since=since, **self.held())


class AlterInstrumentForm(_ParticularsForm):
    """Change what is held of it from a moment on."""

    since = moment_field("From")
    field_order = ("since",)

    def __init__(self, *args: Any, version: InstrumentVersion, **options: Any) -> None:
        """Start from what is held now."""
        names = [
            name for name in self.base_fields if name not in {"since", "submission"}
        ]
        held = {name: getattr(version, name) for name in names}
        options["initial"] = held | options.get("initial", {})
        super().__init__(*args, **options)
        self.version = version

    def apply(self, *, by: User) -> InstrumentVersion:
        """Record it."""
        return alter_instrument(
            by=by,
            instrument=self.version.instrument,
            since=self.cleaned_data["since"],
            **self.held(),
        )


class CalibrationForm(SubmissionForm):
    """A comparison with a standard."""

    on = moment_field("Calibrated on")
    as_found_error = forms.DecimalField(
        label="Greatest error as found",
        max_digits=10,
        decimal_places=4,
        help_text="Either way, before anybody adjusted it. This says whether the tests "
        "since the last calibration can be relied on.",
    )
    as_left_error = forms.DecimalField(
        label="Greatest error as left", max_digits=10, decimal_places=4
    )
    unit = forms.ChoiceField(label="In", choices=())
    good_until = day_field("Last good day")
    certificate = forms.CharField(label="Certificate", max_length=60, required=False)
    laboratory = forms.CharField(
        label="Laboratory, or master gauge", max_length=80, required=False
    )
    done_by = forms.ModelChoiceField(
        Person.objects.none(),
        label="Done by",
        required=False,
        empty_label="The laboratory",
    )

    def __init__(self, *args: Any, version: InstrumentVersion, **options: Any) -> None:
        """Offer the units of what it measures, and the day its period ends."""
        super().__init__(*args, **options)
        self.version = version
        quantity = QUANTITIES.get(version.quantity)
        units = quantity.units if quantity else ()
        self.fields["unit"].choices = [(name, name) for name in units]  # type: ignore[attr-defined]  # a ChoiceField
        self.fields["done_by"].queryset = Person.objects.active()  # type: ignore[attr-defined]  # a ModelChoiceField
        self.initial.setdefault("unit", version.unit)
        months = version.calibration_months
        self.fields["good_until"].required = False
        self.fields[
            "good_until"
        ].help_text = f"Left empty: {months} months on from the day it was calibrated."

    def facts(self) -> dict[str, Any]:
        """Return what was written down, as services take it."""
        own = {"submission", "reason"}
        return {k: v for k, v in self.cleaned_data.items() if k not in own}

    def apply(self, *, by: User) -> Calibration:
        """Record it."""
        instrument = self.version.instrument
        return record_calibration(by=by, instrument=instrument, **self.facts())


class CorrectCalibrationForm(CalibrationForm):
    """Put a calibration right."""

    reason = reason_field()

    def __init__(self, *args: Any, calibration: Calibration, **options: Any) -> None:
        """Start from what was recorded."""
        names = [n for n in self.base_fields if n not in {"reason", "submission"}]
        held = {name: getattr(calibration, name) for name in names}
        options["initial"] = held | options.get("initial", {})
        super().__init__(*args, **options)
        self.calibration = calibration

    def apply(self, *, by: User) -> Calibration:
        """Record it."""
        facts = self.facts()
        if facts["good_until"] is None:
            on = facts["on"].earliest
            facts["good_until"] = good_for(on, self.version.calibration_months)
        reason = self.cleaned_data["reason"]
        return correct_calibration(
            by=by, calibration=self.calibration, reason=reason, **facts
        )


class RetractCalibrationForm(SubmissionForm):
    """Say that a calibration was never done."""

    reason = forms.CharField(
        label="Why?",
        max_length=300,
        help_text="Such as: recorded for the wrong instrument.",
    )

    def apply(self, *, by: User, calibration: Calibration) -> Calibration:
        """Record it."""
        reason = self.cleaned_data["reason"]
        return retract_calibration(by=by, calibration=calibration, reason=reason)
