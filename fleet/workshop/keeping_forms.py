"""Forms for what the planner keeps: lines of the diary, places, hours, closures, contractors."""

import datetime as dt
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.people.models import Skill
from fleet.records.clock import today
from fleet.register.forms.parts import day_field, reason_field
from fleet.register.models import Vehicle, VehicleType, VehicleVersion
from fleet.register.vocabulary import System
from fleet.ui.forms import SubmissionForm
from fleet.workshop.models import (
    ClosureVersion,
    ContractorVersion,
    DiaryLineVersion,
    ShopPlaceVersion,
    WorkTimeVersion,
)
from fleet.workshop.vocabulary import Each, Place

DAYS = (
    ("1", "Monday"),
    ("2", "Tuesday"),
    ("3", "Wednesday"),
    ("4", "Thursday"),
    ("5", "Friday"),
    ("6", "Saturday"),
    ("7", "Sunday"),
)
EVERY_DAY = [number for number, _ in DAYS]


class KeptForm(SubmissionForm):
    """What is kept of one sort of thing; a correction also asks why."""

    def __init__(
        self,
        *args: Any,
        asks_why: bool = False,
        asks_from: bool = False,
        **options: Any,
    ) -> None:
        """Ask for a reason where something is put right, from when where it changes."""
        super().__init__(*args, **options)
        if asks_why:
            self.fields["reason"] = reason_field()
        if asks_from:
            self.fields["holds_from"] = _holds_from()

    def facts(self) -> dict[str, Any]:
        """Return what was written down, as services take it."""
        apart = {"submission", "holds_from"}
        return {k: v for k, v in self.cleaned_data.items() if k not in apart}

    @property
    def holds_from(self) -> dt.date | None:
        """Return the day from which a change holds; None: for the whole time."""
        day: dt.date | None = self.cleaned_data.get("holds_from")
        return day


def _holds_from() -> forms.DateField:
    field = day_field("The change holds from")
    field.required = False
    field.help_text = (
        "What stands now ends the day before. Left empty, the change holds for the "
        "whole time, also for what is past."
    )
    return field


def _whole(label: str, help_text: str = "", **options: Any) -> forms.IntegerField:
    options = {"min_value": 1, "max_value": 32_000} | options
    return forms.IntegerField(label=label, help_text=help_text, **options)


def _last_day(help_text: str) -> forms.DateField:
    field = day_field("To, this day included")
    field.required = False
    field.help_text = help_text
    return field


def numbered(text: str) -> Vehicle:
    """Return the vehicle that bears a running number; refuse one that none bears."""
    held = VehicleVersion.objects.newest().numbered(text).select_related("vehicle")
    found = held.first()
    if found is None:
        raise ValidationError("No vehicle bears this number.", code="no_such_vehicle")
    vehicle: Vehicle = found.vehicle
    return vehicle


class LineForm(KeptForm):
    """A line of the diary."""

    title = forms.CharField(label="What runs", max_length=100)
    first = day_field("From")
    last = day_field("To, this day included")
    weekdays = forms.MultipleChoiceField(
        label="On which days of the week",
        choices=DAYS,
        initial=EVERY_DAY,
        widget=forms.CheckboxSelectMultiple,
    )
    system = forms.ChoiceField(label="Braked on", choices=System.choices())
    vehicle_type = forms.ModelChoiceField(
        VehicleType.objects.none(),
        label="Of which type",
        required=False,
        empty_label="Any type that is braked on it",
    )
    vehicles = _whole("How many vehicles", initial=1)
    vehicle = forms.CharField(
        label="Or one vehicle, by its number",
        required=False,
        max_length=20,
        help_text="Leave the type empty then, and the number of vehicles at one.",
    )
    weight = _whole(
        "How much a day short counts",
        "1 for an ordinary day, up to 20 for one that must not be short.",
        initial=1,
        max_value=20,
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        """Offer the types by name."""
        super().__init__(*args, **options)
        types = VehicleType.objects.named()
        self.fields["vehicle_type"].queryset = types  # type: ignore[attr-defined]  # a ModelChoiceField

    def clean_weekdays(self) -> str:
        """Return the days as they are stored."""
        return "".join(sorted(self.cleaned_data["weekdays"]))

    def clean_vehicle(self) -> Vehicle | None:
        """Return the vehicle that bears the number."""
        text: str = self.cleaned_data["vehicle"]
        return numbered(text) if text.strip() else None

    @staticmethod
    def said(version: DiaryLineVersion) -> dict[str, Any]:
        """Return what a version says, as the form shows it."""
        number = ""
        if version.vehicle_id is not None:
            held = VehicleVersion.objects.newest().filter(vehicle=version.vehicle_id)
            number = held.values_list("number", flat=True).first() or ""
        names = ("title", "first", "last", "system", "vehicle_type", "vehicles")
        return {name: getattr(version, name) for name in names} | {
            "weekdays": list(version.weekdays),
            "weight": version.weight,
            "vehicle": number,
        }


class PlaceForm(KeptForm):
    """A shop road or a pit."""

    name = forms.CharField(max_length=60)
    kind = forms.ChoiceField(
        label="What it is",
        choices=[(p.value, p.label) for p in (Place.ROAD, Place.PIT)],
        help_text="One vehicle stands there at a time.",
    )
    first = day_field("From")
    last = _last_day("Left empty, it goes on until further notice.")

    @staticmethod
    def said(version: ShopPlaceVersion) -> dict[str, Any]:
        """Return what a version says."""
        return {n: getattr(version, n) for n in ("name", "kind", "first", "last")}


class HoursForm(KeptForm):
    """Hours of one skill."""

    title = forms.CharField(label="Whose", max_length=80)
    skill = forms.ChoiceField(choices=Skill.choices)
    hours = _whole("Hours")
    each = forms.ChoiceField(
        label="Counted",
        choices=Each.choices(),
        help_text="A working weekend: each of its days, from Saturday to Sunday. Hours "
        "bought in: in all.",
    )
    first = day_field("From")
    last = _last_day("Left empty, hours each week go on until further notice.")

    @staticmethod
    def said(version: WorkTimeVersion) -> dict[str, Any]:
        """Return what a version says."""
        names = ("title", "skill", "hours", "each", "first", "last")
        return {name: getattr(version, name) for name in names}


class ClosureForm(KeptForm):
    """Days on which nothing can be done."""

    title = forms.CharField(label="Why it is shut", max_length=100)
    place = forms.TypedChoiceField(
        label="What is shut", required=False, coerce=int, empty_value=None
    )
    first = day_field("From")
    last = day_field("To, this day included")

    def __init__(self, *args: Any, **options: Any) -> None:
        """Offer the shop, and each of its places."""
        super().__init__(*args, **options)
        places = ShopPlaceVersion.objects.current().exclude(last__lt=today())
        named = list(places.values_list("place", "name"))
        self.fields["place"].choices = [  # type: ignore[attr-defined]  # a choice field
            ("", "The whole shop"),
            *named,
        ]

    def facts(self) -> dict[str, Any]:
        """Return what was written down, the place by its key."""
        facts = super().facts()
        return facts | {"place_id": facts.pop("place")}

    @staticmethod
    def said(version: ClosureVersion) -> dict[str, Any]:
        """Return what a version says."""
        names = ("title", "first", "last")
        said = {name: getattr(version, name) for name in names}
        return said | {"place": version.place_id}


class ContractorForm(KeptForm):
    """Somebody who overhauls for the line."""

    name = forms.CharField(max_length=80)
    lead_weeks = _whole("Weeks from sending to return", max_value=260)
    note = forms.CharField(max_length=200, required=False)
    ended_on = day_field("No longer used from")
    ended_on.required = False

    @staticmethod
    def said(version: ContractorVersion) -> dict[str, Any]:
        """Return what a version says."""
        names = ("name", "lead_weeks", "note", "ended_on")
        return {name: getattr(version, name) for name in names}


class EndForm(SubmissionForm):
    """The last day on which something is there."""

    last = day_field("Last day")


class RetractForm(SubmissionForm):
    """Why something is taken out again."""

    reason = reason_field()
