"""The page that asks what to suppose, and the two programmes side by side."""

import datetime as dt
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.people.access import needs, signed_in
from fleet.register.forms.parts import day_field
from fleet.workshop.beside import beside
from fleet.workshop.engine.problem import Problem
from fleet.workshop.models import ProgrammeRun
from fleet.workshop.running import ask_run, found_by, problem_of, start_search
from fleet.workshop.suppositions import Supposition, title_of, words_of
from fleet.workshop.vocabulary import Place
from fleet.workshop.what_if import (
    Choices,
    choices_of,
    contractor_late,
    hours_lost,
    more_units,
    pairs,
    place_lost,
    source_lost,
    source_words,
    vehicles_away,
)

NOTHING = ("", "None")


def _choice(label: str) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, required=False)


def _number(label: str, **options: Any) -> forms.IntegerField:
    return forms.IntegerField(
        label=label, min_value=1, max_value=999, required=False, **options
    )


def _day(label: str) -> forms.DateField:
    field = day_field(label)
    field.required = False
    return field


class WhatIfForm(forms.Form):
    """Each part is left as it is, or filled in whole; at least one is."""

    contractor = _choice("A contractor is late")
    late_weeks = _number("by so many weeks")
    source = _choice("These hours are lost")
    skill = _choice("Hours of a skill are lost")
    hours = _number("so many each week", help_text="Left empty: all of them.")
    hours_first = _day("from")
    hours_last = _day("to, this day included")
    vehicles = forms.MultipleChoiceField(
        label="Vehicles are away",
        required=False,
        widget=forms.SelectMultiple({"size": 8}),
    )
    away_first = _day("from")
    away_last = _day("to, this day included")
    place = _choice("Places are lost")
    places = _number("so many", initial=1)
    place_first = _day("from")
    place_last = _day("to, this day included")
    group = _choice("There are more exchange units")
    units = _number("so many more")
    title = forms.CharField(label="Call it", max_length=100, required=False)
    seconds = forms.IntegerField(
        label="Seconds to search", min_value=2, max_value=3_600
    )

    PARTS = (  # what begins a part, and what it needs
        ("contractor", ("late_weeks",)),
        ("skill", ("hours_first", "hours_last")),
        ("vehicles", ("away_first", "away_last")),
        ("place", ("places", "place_first", "place_last")),
        ("group", ("units",)),
    )

    def __init__(self, *args: Any, choices: Choices, **options: Any) -> None:
        """Offer what there is."""
        super().__init__(*args, **options)
        offered: dict[str, list[tuple[str, str]]] = {
            "contractor": [NOTHING, *pairs(choices.contractors)],
            "source": [
                NOTHING,
                *((key, source_words(row)) for key, row in choices.sources.items()),
            ],
            "skill": [NOTHING, ("all", "All skills"), *choices.skills],
            "vehicles": [*pairs(choices.vehicles)],
            "place": [NOTHING, *((p.value, p.label) for p in (Place.ROAD, Place.PIT))],
            "group": [NOTHING, *pairs(choices.groups)],
        }
        for name, pair in offered.items():
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)
            field.choices = pair

    def clean(self) -> dict[str, Any]:
        """Ask for what a part begun lacks, and for one part at least."""
        said = super().clean() or {}
        begun = [part for part in self.PARTS if said.get(part[0])]
        for _, wanted in begun:
            for name in wanted:
                if not said.get(name) and name not in self.errors:
                    self.add_error(name, "Fill this in too.")
        if not begun and not said.get("source"):
            self.add_error(None, "Suppose one thing at least.")
        for first, last in (
            ("hours_first", "hours_last"),
            ("away_first", "away_last"),
            ("place_first", "place_last"),
        ):
            _refuse_backwards(self, said.get(first), said.get(last), last)
        return said


def _refuse_backwards(
    form: forms.Form, first: dt.date | None, last: dt.date | None, field: str
) -> None:
    if first and last and last < first:
        form.add_error(field, "The last day is before the first.")


@needs("plan_work")
def run_what_if(request: HttpRequest, pk: int) -> HttpResponse:
    """Search again, supposing something otherwise than recorded."""
    base = get_object_or_404(ProgrammeRun, pk=pk)
    problem = problem_of(base)
    if problem is None:
        raise Http404("This search has read nothing yet.")
    choices = choices_of(problem)
    form = WhatIfForm(
        request.POST or None,
        choices=choices,
        initial={"seconds": base.seconds, "places": 1},
    )
    if form.is_valid():
        more = _suppositions(form.cleaned_data, choices, problem)
        supposed = [*base.supposed, *more]
        variant = ask_run(
            by=signed_in(request),
            title=form.cleaned_data["title"] or title_of(supposed),
            start=base.start,
            weeks=base.weeks,
            seconds=form.cleaned_data["seconds"],
            rate=float(base.rate),
            supposed=supposed,
            beside=base,
        )
        start_search(variant)
        return redirect(variant)
    return render(request, "workshop/what_if.html", {"run": base, "form": form})


def _suppositions(
    said: dict[str, Any], choices: Choices, problem: Problem
) -> list[Supposition]:
    found: list[Supposition] = []
    if said["contractor"]:
        found.append(contractor_late(choices, said["contractor"], said["late_weeks"]))
    if said["source"]:
        found.append(source_lost(choices, said["source"], problem))
    if said["skill"]:
        skill = "" if said["skill"] == "all" else said["skill"]
        days = said["hours_first"], said["hours_last"]
        found.append(hours_lost(skill, *days, said["hours"]))
    if said["vehicles"]:
        days = said["away_first"], said["away_last"]
        found.append(vehicles_away(choices, said["vehicles"], *days))
    if said["place"]:
        days = said["place_first"], said["place_last"]
        found.append(place_lost(said["place"], said["places"], *days))
    if said["group"]:
        found.append(more_units(choices, said["group"], said["units"]))
    return found


def run_beside(request: HttpRequest, pk: int, other: int) -> HttpResponse:
    """Show two programmes side by side."""
    pair = [get_object_or_404(ProgrammeRun, pk=key) for key in (pk, other)]
    (first, best), (second, against) = [(problem_of(r), found_by(r)) for r in pair]
    context: dict[str, Any] = {"runs": pair, "page": None}
    if first and best and second and against:
        context["page"] = beside((first, best), (second, against))
    context["supposed"] = [[words_of(one) for one in run.supposed] for run in pair]
    return render(request, "workshop/beside.html", context)
