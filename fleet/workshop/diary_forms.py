"""Forms of a sheet of the diary: the file, each of its rows, and the rows once looked at."""

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.register.models import VehicleType, VehicleVersion
from fleet.register.vocabulary import Fitment, System
from fleet.ui.forms import SubmissionForm, add_refusal
from fleet.workshop.diary_sheet import Row
from fleet.workshop.importing import Facts, mark_of
from fleet.workshop.models import DiaryLineVersion
from fleet.workshop.naming import type_names

DATES = ("%Y-%m-%d", "%d/%m/%Y", "%d.%m.%Y")
NO_DAY = {"invalid": "Write a day that there is, as 2027-05-01 or 01/05/2027."}
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
FIELD_OF = {  # by heading
    "what runs": "title",
    "from": "first",
    "to": "last",
    "days": "weekdays",
    "system": "system",
    "type": "vehicle_type",
    "how many": "vehicles",
    "vehicle": "vehicle",
    "weight": "weight",
}
HEADING_OF = {name: heading for heading, name in FIELD_OF.items()}


class SheetForm(forms.Form):
    """The file with the rows."""

    file = forms.FileField(
        label="Sheet",
        help_text="CSV or XLSX, up to 1 MB. Nothing is written before you have seen it.",
        widget=forms.ClearableFileInput({"accept": ".csv,.xlsx"}),
    )


class SeenForm(SubmissionForm):
    """The rows as they were looked at, sealed against change on the way."""

    rows = forms.CharField(widget=forms.HiddenInput)


@dataclass(slots=True)
class Known:
    """What rows may name, read once for the whole sheet."""

    vehicles: Mapping[str, VehicleVersion]  # by number, in capitals
    types: Mapping[str, int]  # by name and by code, in small letters

    @classmethod
    def now(cls) -> "Known":
        """Read it. Three queries."""
        names = type_names()
        types = {
            code.lower(): pk
            for pk, code in VehicleType.objects.values_list("pk", "code")
        }
        types |= {name.lower(): pk for pk, name in names.items()}
        held = VehicleVersion.objects.newest()
        return cls({row.number.upper(): row for row in held}, types)


class RowForm(forms.Form):
    """One row of the sheet."""

    title = forms.CharField(max_length=100)
    first = forms.DateField(input_formats=DATES, error_messages=NO_DAY)
    last = forms.DateField(input_formats=DATES, required=False, error_messages=NO_DAY)
    weekdays = forms.CharField(required=False)
    system = forms.CharField()
    vehicle_type = forms.CharField(required=False)
    vehicles = forms.IntegerField(min_value=1, max_value=32_000, required=False)
    vehicle = forms.CharField(required=False)
    weight = forms.IntegerField(min_value=1, max_value=20, required=False)

    def __init__(self, row: Row, *, known: Known) -> None:
        """Take a row by its headings."""
        super().__init__({FIELD_OF[h]: text for h, text in row.items() if h})
        self.known = known

    def clean_weekdays(self) -> str:
        """Return the days of the week as they are stored."""
        text: str = self.cleaned_data["weekdays"].strip().lower()
        if text in {"", "daily"}:
            return "1234567"
        return "".join(sorted({str(n + 1) for n in _days(text)}))

    def clean_system(self) -> str:
        """Return the system."""
        text: str = self.cleaned_data["system"].strip().lower()
        if text not in set(System):
            raise ValidationError("Write air or vacuum.", code="system")
        return text

    def clean_vehicle_type(self) -> int | None:
        """Return the key of the type."""
        text: str = self.cleaned_data["vehicle_type"].strip().lower()
        if not text:
            return None
        if text not in self.known.types:
            raise ValidationError("No type has this name or code.", code="no_such_type")
        return self.known.types[text]

    def clean_vehicle(self) -> int | None:
        """Return the key of the vehicle."""
        text: str = self.cleaned_data["vehicle"].strip().upper()
        if not text:
            return None
        held = self.known.vehicles.get(text)
        if held is None:
            raise ValidationError(
                "No vehicle bears this number.", code="no_such_vehicle"
            )
        if getattr(held, self.cleaned_data.get("system") or "air") != Fitment.BRAKED:
            raise ValidationError("It has no such brake.", code="not_braked")
        return held.vehicle_id

    def clean(self) -> dict[str, Any]:
        """Hold the row against what the diary itself refuses."""
        said = super().clean() or {}
        if not self.errors:
            line = DiaryLineVersion(**self.facts())
            keys = ("line", "opened_by", "vehicle", "vehicle_type")
            try:
                line.full_clean(exclude=keys, validate_unique=False)
            except ValidationError as refusal:
                add_refusal(self, refusal)
        return said

    def facts(self) -> Facts:
        """Return what the row says, as services take it."""
        said = self.cleaned_data
        return {
            "title": said["title"],
            "first": said["first"],
            "last": said["last"] or said["first"],
            "weekdays": said["weekdays"],
            "system": said["system"],
            "vehicle_type_id": said["vehicle_type"],
            "vehicles": said["vehicles"] or 1,
            "vehicle_id": said["vehicle"],
            "weight": said["weight"] or 1,
        }


@dataclass(slots=True)
class Looked:
    """A sheet looked through: what it would add, what is there, what is wrong where."""

    new: list[tuple[int, Facts]] = field(default_factory=list)
    there: list[int] = field(default_factory=list)  # rows the diary has already
    wrong: list[tuple[int, str, str]] = field(default_factory=list)  # row, column, why


def look_through(
    rows: Iterable[tuple[int, Row]], held: Mapping[Any, Any], known: Known
) -> Looked:
    """Look through every row; `held` are the marks of the lines in the diary."""
    found = Looked()
    seen: dict[Any, int] = {}
    for number, row in rows:
        form = RowForm(row, known=known)
        if not form.is_valid():
            found.wrong += [(number, *said) for said in _said(form)]
            continue
        mark = mark_of(form.facts())
        if mark in seen:
            said = f"The same as row {seen[mark]}."
            found.wrong.append((number, "the whole row", said))
        elif mark in held:
            found.there.append(number)
        else:
            found.new.append((number, form.facts()))
        seen.setdefault(mark, number)
    return found


def _said(form: RowForm) -> list[tuple[str, str]]:
    return [
        (
            HEADING_OF.get(name, "the whole row"),
            " ".join(str(error) for error in errors),
        )
        for name, errors in form.errors.items()
    ]


def _days(text: str) -> Sequence[int]:
    """Return the days, Monday 0, that a text names: "Sat Sun", "Mon-Fri, Sun"."""
    found: list[int] = []
    for part in re.split(r"[\s,;/]+", re.sub(r"\s*(?:-|\bto\b)\s*", "-", text)):
        ends = [_day(word) for word in part.split("-")]
        if len(ends) == 1:
            found += ends
        else:
            first, last = ends[0], ends[-1]
            length = (last - first) % len(DAYS)
            found += [(first + n) % len(DAYS) for n in range(length + 1)]
    return found


def _day(word: str) -> int:
    if word[:3] not in DAYS or not word.isalpha():
        raise ValidationError(
            "Write days as Sat Sun, Mon-Fri or daily.", code="days_not_understood"
        )
    return DAYS.index(word[:3])


def frozen(facts: Facts) -> dict[str, Any]:
    """Return what a row says as it can travel through a page."""
    return {
        name: value.isoformat() if isinstance(value, dt.date) else value
        for name, value in facts.items()
    }


def thawed(told: Mapping[str, Any]) -> Facts:
    """Return what came back from the page."""
    days = {name: dt.date.fromisoformat(told[name]) for name in ("first", "last")}
    return {**told, **days}
