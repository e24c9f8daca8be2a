"""The forecast on the screen: list, load of the weeks, strips, and sheets to take away."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render

from fleet.people.models import Skill
from fleet.records.clock import today
from fleet.register.models import Depot
from fleet.ui.drawing import to_svg
from fleet.ui.tables import paged
from fleet.ui.week_bars import Week, week_bars
from fleet.upkeep.models import RequirementRevision
from fleet.workshop.beginnings import steps_before_a_forecast
from fleet.workshop.capacity import capacity
from fleet.workshop.engine.problem import Capacity
from fleet.workshop.forecast import (
    MOST_MONTHS,
    Ask,
    ForecastRow,
    done_together,
    forecast,
    load_by_week,
)
from fleet.workshop.forecast_tables import ForecastTable
from fleet.workshop.job_plans import WORK_SKILLS
from fleet.workshop.load import load_words, skills_of, weeks_of
from fleet.workshop.sheets import as_csv, as_xlsx
from fleet.workshop.strips import vehicle_strips, vehicles_of
from fleet.workshop.vocabulary import GoesOn, Place

MONTHS = 12
STRIPS_A_PAGE = 12
WEEKS_ON_A_PHONE = 26
SHEETS = {
    "csv": (as_csv, "text/csv; charset=utf-8"),
    "xlsx": (
        as_xlsx,
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ),
}


class ForecastForm(forms.Form):
    """How far ahead the forecast looks, and what of."""

    months = forms.IntegerField(
        label="Months ahead", min_value=1, max_value=MOST_MONTHS, required=False
    )
    depot = forms.ModelChoiceField(
        Depot.objects.all(), required=False, empty_label="All depots"
    )
    vehicle = forms.CharField(
        required=False, widget=forms.TextInput(attrs={"placeholder": "number"})
    )
    requirement = forms.ChoiceField(required=False)
    skill = forms.ChoiceField(
        required=False,
        choices=[("", "All skills"), *((s.value, s.label) for s in WORK_SKILLS)],
    )
    place = forms.ChoiceField(
        required=False, choices=[("", "All places"), *Place.choices()]
    )
    group = forms.CharField(
        label="Exchange group",
        required=False,
        widget=forms.TextInput(attrs={"placeholder": "group"}),
    )
    overdue = forms.ChoiceField(
        label="Standing", required=False, choices=[("", "All"), ("1", "Only overdue")]
    )
    usage = forms.ChoiceField(
        label="Usage goes on",
        required=False,
        choices=GoesOn.choices(),
        error_messages={
            "invalid_choice": "Usage goes on as of late, or as the running diary asks: "
            "choose one of the two. Until then it is as of late."
        },
    )

    def __init__(self, query: QueryDict, day: dt.date) -> None:
        """Take what an address asks; one that asks nothing asks for a year."""
        filled = query.copy()
        filled.setdefault("months", str(MONTHS))
        filled.setdefault("usage", GoesOn.LATE.value)
        super().__init__(filled)
        rows = RequirementRevision.objects.in_force(day).select_related("requirement")
        choices = [
            (r.requirement.code, f"{r.requirement.code} {r.title}") for r in rows
        ]
        field = self.fields["requirement"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", "All requirements"), *sorted(choices)]

    def ask(self) -> Ask:
        """Return what is asked for; what is wrongly asked is left out."""
        self.is_valid()
        said = {k: v for k, v in self.cleaned_data.items() if v not in (None, "")}
        if "depot" in said:
            said["depot"] = said["depot"].pk
        overdue = bool(said.pop("overdue", ""))
        return Ask(**{"months": MONTHS} | said, overdue=overdue)


def forecast_page(request: HttpRequest) -> HttpResponse:
    """Show all that falls due in the months to come."""
    day = today()
    form = ForecastForm(request.GET, day)
    ask = form.ask()
    rows = forecast(ask, day)
    load = load_by_week(rows, day, ask.until(day))
    table = ForecastTable(rows, companions=done_together(rows))
    context = {
        "form": form,
        "last": ask.until(day),
        "by_diary": ask.by_diary,
        "table": paged(table, request),
        "empty": None if rows else _what_to_do(ask),
        "overdue": sum(row.overdue for row in rows if row.time == 0),
        "planless": sorted({r.falling.code for r in rows if r.plan is None}),
        "load": _drawn(weeks_of(load, _there(load), skill=ask.skill)),
        "skill": Skill(ask.skill).label if ask.skill else "",
        "weeks": _by_skill(load),
        "skills": [label for _, label in skills_of(load)],
        "query": request.GET.urlencode(),
    }
    return render(request, "workshop/forecast.html", context)


def _what_to_do(ask: Ask) -> dict[str, Any]:
    """Return what an empty forecast leads to: what to record first, or all there is."""
    return {
        "steps": steps_before_a_forecast(),
        "widest": ask == Ask(months=MOST_MONTHS),
        "most": MOST_MONTHS,
    }


def _there(load: dict[dt.date, dict[str, int]]) -> Capacity | None:
    """Return what the shop has in the weeks of a load; None where none is recorded."""
    if not load:
        return None
    there = capacity(next(iter(load)), len(load))
    return there if there.hours else None


def _drawn(weeks: Sequence[Week]) -> dict[str, Any]:
    """Return the load drawn for a wide screen and for a phone, and in words."""
    title = "Hours of work by the week in which it falls due"
    near = weeks[:WEEKS_ON_A_PHONE]
    return {
        "wide": to_svg(
            week_bars(weeks), title=title, desc=load_words(weeks), css="strip"
        ),
        "narrow": to_svg(
            week_bars(near, width=360), title=title, desc=load_words(near), css="strip"
        ),
        "words": load_words(weeks),
        "cut": len(near) < len(weeks),
        "near": len(near),
    }


def _by_skill(
    load: dict[dt.date, dict[str, int]],
) -> list[tuple[dt.date, list[tuple[str, int]]]]:
    """Return the weeks that ask for hours, with those of each skill."""
    skills = skills_of(load)
    return [
        (monday, [(label, hours.get(skill, 0)) for skill, label in skills])
        for monday, hours in load.items()
        if hours
    ]


def forecast_strips(request: HttpRequest) -> HttpResponse:
    """Show the windows of each vehicle along the months, over its brake status."""
    day = today()
    form = ForecastForm(request.GET, day)
    ask = form.ask()
    by_vehicle = list(vehicles_of(forecast(ask, day)).items())
    page = Paginator(by_vehicle, STRIPS_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "form": form,
        "last": ask.until(day),
        "by_diary": ask.by_diary,
        "page": page,
        "empty": None if by_vehicle else _what_to_do(ask),
        "strips": vehicle_strips(list(page.object_list), day, ask.until(day)),
        "query": request.GET.urlencode(),
    }
    return render(request, "workshop/forecast_strips.html", context)


def forecast_sheet(request: HttpRequest, kind: str) -> HttpResponse:
    """Hand out what the filter shows as a file for a spreadsheet."""
    if kind not in SHEETS:
        raise Http404
    day = today()
    write, sort = SHEETS[kind]
    ask = ForecastForm(request.GET, day).ask()
    rows: list[ForecastRow] = forecast(ask, day)
    answer = HttpResponse(write(rows), content_type=sort)
    by = "-by-diary" if ask.by_diary else ""  # a sheet is read far from its address
    name = f"forecast{by}-{day.isoformat()}.{kind}"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
