"""Pages of searches for a programme: ask for one, follow it, look at what it found."""

import datetime as dt
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from fleet.people.access import needs, signed_in
from fleet.records.clock import now, today
from fleet.workshop.beginnings import steps_before_a_search
from fleet.workshop.diary import pools
from fleet.workshop.models import PinVersion, Programme, ProgrammeRun
from fleet.workshop.run_page import found_page, level_rows
from fleet.workshop.running import (
    ask_run,
    first_monday,
    found_by,
    latest_progress,
    problem_of,
    so_far,
    standing,
    start_search,
    stop_search,
    weeks_in,
)
from fleet.workshop.suppositions import words_of
from fleet.workshop.vocabulary import RunState

NEWEST = 20  # runs listed
MOST_MONTHS, LONGEST_SECONDS = 60, 3_600


class AskForm(forms.Form):
    """How far to plan, how long to search, what a visit is worth."""

    title = forms.CharField(max_length=100, required=False)
    months = forms.IntegerField(
        label="Months ahead", min_value=1, max_value=MOST_MONTHS, initial=24
    )
    seconds = forms.IntegerField(
        label="Seconds to search",
        min_value=2,
        max_value=LONGEST_SECONDS,
        initial=60,
        help_text="It can be stopped at any time; the best found by then is left.",
    )
    rate = forms.DecimalField(
        label="One visit less is worth, in lives",
        min_value=0,
        max_value=10,
        decimal_places=3,
        initial="0.05",
        help_text="0.05: a visit is saved by throwing away a twentieth of the life of "
        "one overhaul, not more.",
    )


def programmes(request: HttpRequest) -> HttpResponse:
    """Show what was published, the newest searches, and how many pins are set."""
    runs = ProgrammeRun.objects.select_related("asked_by", "beside")
    runs = runs.defer("problem", "result", "progress")[:NEWEST]
    published = list(
        Programme.objects.defer("problem", "result").select_related("published_by")
    )
    context = {
        "runs": [standing(run, now()) for run in runs],
        "published": published,
        "pins": PinVersion.objects.current().count(),
        "steps": [] if published else steps_before_a_search(),
    }
    return render(request, "workshop/programmes.html", context)


@needs("plan_work")
def run_ask(request: HttpRequest) -> HttpResponse:
    """Ask for a search and begin it."""
    form = AskForm(request.POST or None)
    start = first_monday(today())
    if form.is_valid():
        said = form.cleaned_data
        run = ask_run(
            by=signed_in(request),
            title=said["title"],
            start=start,
            weeks=weeks_in(start, said["months"]),
            seconds=said["seconds"],
            rate=said["rate"],
        )
        start_search(run)
        return redirect(run)
    context = {
        "question": "Search for a programme?",
        "detail": f"It plans from {start:%d %B %Y}, on what is recorded now. Nothing is "
        "published by it.",
        "form": form,
        "yes": "Search",
        "back": "../",
    }
    return render(request, "ui/confirm.html", context)


def run(request: HttpRequest, pk: int) -> HttpResponse:
    """Show how far a search has got, or the programme it found."""
    found = get_object_or_404(ProgrammeRun.objects.select_related("beside"), pk=pk)
    stands = standing(found, now())
    context: dict[str, Any] = {
        "run": found,
        "stands": stands,
        "supposed": [words_of(one) for one in found.supposed],
        "progress": latest_progress(found),
        "seconds_gone": _gone(found),
    }
    context["so_far"] = level_rows(so_far(found))
    if getattr(request, "htmx", False):
        answer = render(request, "workshop/run_part.html", context)
        if not stands.going:
            answer["HX-Refresh"] = "true"
        return answer
    if stands.state is RunState.FAILED:
        context["steps"] = steps_before_a_search()
    problem, best = problem_of(found), found_by(found)
    if not stands.going and best is not None and problem is not None:
        lines = pools(problem.start, problem.weeks)
        context["page"] = found_page(problem, best, lines, request.GET)
        context["variants"] = found.variants.all()
    return render(request, "workshop/run.html", context)


def _gone(run: ProgrammeRun) -> int:
    heard: dt.datetime = run.heard_at or run.asked_at
    return min(run.seconds, max(0, int((heard - run.asked_at).total_seconds())))


@require_POST
@needs("plan_work")
def run_stop(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask a search to stop."""
    found = get_object_or_404(ProgrammeRun, pk=pk)
    stop_search(found)
    messages.info(request, "It stops within a second or two and leaves its best.")
    return redirect(found)
