"""What changed between two days or two states of knowledge, and through what."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.utils.timezone import localtime

from fleet.fitness.changes import Changes, LevelChange, Side, changes_between
from fleet.fitness.findings import Finding
from fleet.people.access import SIGNED_IN_BEFORE
from fleet.records.clock import now, today
from fleet.records.knowledge import knowledge_at
from fleet.register.models import Vehicle, VehicleVersion
from fleet.web.asked import FURTHEST
from fleet.web.history import LogLine, line_of

_DAYS_BACK = 7
_SHOWN = 10  # entries of one vehicle on the page of the fleet
_DAY = {"type": "date"}
_TIME = {"type": "datetime-local"}
_FORMATS = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"]


class ChangesForm(forms.Form):
    """Two days and two times of knowledge to hold against each other."""

    before_on = forms.DateField(
        label="Stood on", widget=forms.DateInput(_DAY, format="%Y-%m-%d")
    )
    before_known = forms.DateTimeField(
        label="as known at",
        required=False,
        input_formats=_FORMATS,
        widget=forms.DateTimeInput(_TIME, format="%Y-%m-%dT%H:%M"),
        help_text="Left empty: as known now.",
    )
    after_on = forms.DateField(
        label="Stands on", widget=forms.DateInput(_DAY, format="%Y-%m-%d")
    )
    after_known = forms.DateTimeField(
        label="as known at",
        required=False,
        input_formats=_FORMATS,
        widget=forms.DateTimeInput(_TIME, format="%Y-%m-%dT%H:%M"),
        help_text="Left empty: as known now.",
    )

    def clean(self) -> dict[str, Any]:
        """Refuse days out of reach, times to come, and knowledge that runs back."""
        cleaned = super().clean() or self.cleaned_data
        for name in ("before_on", "after_on"):
            day = cleaned.get(name)
            if day and abs((day - today()).days) > FURTHEST:
                self.add_error(name, "Choose a day within forty years of today.")
        for name in ("before_known", "after_known"):
            at = cleaned.get(name)
            if at and at > now():
                self.add_error(name, "Nobody knows yet what will be recorded.")
        first, last = cleaned.get("before_known"), cleaned.get("after_known")
        if last and (first is None or first > last):
            self.add_error(
                "after_known",
                "What was known first comes first: give an earlier time there.",
            )
        return cleaned

    def sides(self) -> tuple[Side, Side]:
        """Return what is held against what; the form must be valid."""
        said = self.cleaned_data
        first, last = (
            knowledge_at(said[name]).number if said.get(name) else None
            for name in ("before_known", "after_known")
        )
        return Side(said["before_on"], first), Side(said["after_on"], last)


@dataclass(frozen=True, slots=True)
class LevelRow:
    """A level before and after, as marks."""

    system: str
    before: tuple[str, str]
    after: tuple[str, str]
    worse: bool
    conditions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """A vehicle that stands otherwise, and why."""

    vehicle: int
    number: str
    levels: list[LevelRow]
    gone: list[Finding]
    new: list[Finding]
    log: list[LogLine]
    more: int  # entries that are on the page of the vehicle alone


def changes(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Show which levels changed and through what, of the fleet or of one vehicle."""
    vehicle = None if pk is None else get_object_or_404(Vehicle, pk=pk)
    since = _signed_in_before(request)
    query = _asked(request.GET, since)
    form = ChangesForm(query)
    found = None
    if form.is_valid():
        found = changes_between(*form.sides(), vehicle=pk)
    context = {
        "form": form,
        "vehicle": vehicle,
        "number": _number(vehicle),
        "signed_in_before": since,
        "since_then": _since_then(since) if since else "",
        "rows": _rows(found, None if vehicle else _SHOWN) if found else [],
        "same": found.same if found else 0,
        "policy": [line_of(entry) for entry in reversed(found.policy)] if found else [],
        "left_off": found.left_off if found else 0,
        "asked": form.cleaned_data if found else {},
        "query": query.urlencode(),
    }
    return render(request, "web/changes.html", context)


def _asked(query: QueryDict, since: dt.datetime | None) -> QueryDict:
    """Return what an address asks; left out: today, as known last time and now."""
    filled = query.copy()
    day = today().isoformat()
    if not query:
        back = since or now() - dt.timedelta(days=_DAYS_BACK)
        filled["before_known"] = f"{localtime(back):%Y-%m-%dT%H:%M}"
    filled.setdefault("before_on", day)
    filled.setdefault("after_on", day)
    return filled


def _signed_in_before(request: HttpRequest) -> dt.datetime | None:
    text = request.session.get(SIGNED_IN_BEFORE)
    return dt.datetime.fromisoformat(text) if text else None


def _since_then(since: dt.datetime) -> str:
    day = today().isoformat()
    at = f"{localtime(since):%Y-%m-%dT%H:%M}"
    return f"?before_on={day}&before_known={at}&after_on={day}"


def _number(vehicle: Vehicle | None) -> str:
    if vehicle is None:
        return ""
    held = VehicleVersion.objects.current().filter(vehicle=vehicle)
    newest = held.order_by("since_key").values_list("number", flat=True).last()
    return str(newest or f"Vehicle {vehicle.pk}")


def _rows(found: Changes, shown: int | None) -> list[ChangeRow]:
    """Return the rows, with the newest entries of each; `shown` None: all of them."""
    return [
        ChangeRow(
            change.vehicle,
            change.number,
            [_level(level) for level in change.levels],
            change.gone,
            change.new,
            [line_of(entry) for entry in list(reversed(change.entries))[:shown]],
            max(0, len(change.entries) - shown) if shown else 0,
        )
        for change in found.vehicles
    ]


def _level(change: LevelChange) -> LevelRow:
    marks = [
        (span.level.code if span else "none", change.words(span))
        for span in (change.before, change.after)
    ]
    conditions = change.after.conditions if change.after else ()
    return LevelRow(
        change.system.label, marks[0], marks[1], change.worse, tuple(conditions)
    )
