"""Pages of published programmes: publish, look, follow, the sheet of each visit."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.people.access import needs, person_of, signed_in
from fleet.records.clock import today
from fleet.records.views import filled, recorded
from fleet.ui.forms import SubmissionForm
from fleet.workshop.models import PlannedVisit, Programme, ProgrammeRun
from fleet.workshop.programme_page import programme_page
from fleet.workshop.publishing import publish_programme
from fleet.workshop.wall import visit_sheet


class PublishForm(SubmissionForm):
    """What a programme is published under."""

    title = forms.CharField(max_length=100)
    note = forms.CharField(max_length=300, required=False)


@needs("plan_work")
def run_publish(request: HttpRequest, pk: int) -> HttpResponse:
    """Publish what a search found."""
    run = get_object_or_404(ProgrammeRun, pk=pk)
    user = signed_in(request)
    form = filled(PublishForm, request, initial={"title": run.title})
    made: list[Programme] = []
    facts: dict[str, Any] = {"by": user, "person": person_of(user), "run": run}

    def write() -> None:
        said = {name: form.cleaned_data[name] for name in ("title", "note")}
        made.append(publish_programme(**facts, **said))

    if recorded(form, write):
        return redirect(made[0] if made else "workshop:programmes")
    context = {
        "question": "Publish this programme?",
        "detail": "It gets the next number, is sealed and never changed; its visits "
        "become work sheets. The next search tries to leave its visits where they are. "
        f"You publish as {person_of(user)}. It is a plan: the brake status is what the "
        "records show.",
        "form": form,
        "yes": "Publish it",
        "back": run.get_absolute_url(),
    }
    return render(request, "ui/confirm.html", context)


def programme(request: HttpRequest, number: int) -> HttpResponse:
    """Show a published programme and how far it has got."""
    found = get_object_or_404(
        Programme.objects.select_related("published_by"), number=number
    )
    context = {"programme": found, "page": programme_page(found, today(), request.GET)}
    return render(request, "workshop/programme.html", context)


def planned_visit(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    """Show the work sheet of a visit."""
    visit = get_object_or_404(
        PlannedVisit.objects.select_related("programme"),
        pk=pk,
        programme__number=number,
    )
    context = {"visit": visit, "sheet": visit_sheet(visit, today())}
    return render(request, "workshop/planned_visit.html", context)
