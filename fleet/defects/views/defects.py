"""Pages of defects: the list, a report, a defect with its log, its steps, corrections."""

from typing import Any

from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.defects import services
from fleet.defects.filters import DefectFilter
from fleet.defects.forms.defects import (
    STEP_FORMS,
    CorrectForm,
    RaiseForm,
    TakeBackForm,
)
from fleet.defects.models import Defect, DefectStep
from fleet.defects.page import STEP_PAGES, defect_page, permitted_steps, subject_names
from fleet.defects.recurrence import reported_before
from fleet.defects.steps import refuse_step, standing
from fleet.defects.tables import DefectTable
from fleet.defects.views.sending import needs_one_of, recorded
from fleet.defects.vocabulary import Step
from fleet.people.access import may, needs, person_of, signed_in
from fleet.records.clock import today
from fleet.records.deeds import AlreadyRecorded
from fleet.records.moments import present
from fleet.records.views import filled
from fleet.register.models import Equipment, Position, Vehicle
from fleet.register.positions import position_at
from fleet.ui.tables import paged


def defect_list(request: HttpRequest) -> HttpResponse:
    """Show all defects, open ones first."""
    day = today()
    steps = DefectStep.objects.newest().for_list()
    sifted = DefectFilter(request.GET, queryset=steps, today=day)
    table = paged(DefectTable(sifted.qs, today=day), request)
    return render(
        request, "defects/defect_list.html", {"filter": sifted, "table": table}
    )


@needs("record_facts")
def defect_add(request: HttpRequest) -> HttpResponse:
    """Report a defect of a vehicle, of what sits in a place of it, or of an item."""
    subject = _subject(request)
    user = signed_in(request)
    form = filled(
        RaiseForm,
        request,
        initial={"on": present(), "person": person_of(user)},
        may_assess=may(user, "assess_defects"),
        **subject,
    )
    done = recorded(form, lambda: form.apply(by=user))
    if isinstance(done, AlreadyRecorded):
        done = get_object_or_404(Defect, created_by=done.entry)
    if done is not None:
        return redirect(done)
    told = {"form": form, **subject, **subject_names(**subject)}
    place = subject["place"]
    told["recurrence"] = reported_before(
        subject["vehicle"], subject["equipment"], place.code if place else "", today()
    )
    return render(request, "defects/defect_add.html", told)


def _subject(request: HttpRequest) -> dict[str, Any]:
    """Return the vehicle, item and place the address names."""
    asked = request.GET
    vehicle = _named(Vehicle, asked.get("vehicle"))
    equipment = _named(Equipment, asked.get("equipment"))
    if vehicle is None and equipment is None:
        raise Http404("no vehicle and no item named")
    place: Position | None = None
    if vehicle is not None and asked.get("position"):
        try:
            place = position_at(vehicle, asked["position"], present())
        except ValidationError:
            raise Http404("no such position") from None
    return {"vehicle": vehicle, "equipment": equipment, "place": place}


def _named(model: type[Any], key: str | None) -> Any:
    if not key:
        return None
    if not key.isdecimal():
        raise Http404("not a key")
    return get_object_or_404(model, pk=key)


def defect(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what stands of a defect, and all that happened to it."""
    found = get_object_or_404(
        Defect.objects.select_related("vehicle", "equipment"), pk=pk
    )
    page = defect_page(found, today())
    page["steps"] = permitted_steps(page["standing"], request.user)
    return render(request, "defects/defect.html", page)


def defect_step(request: HttpRequest, pk: int, step: str) -> HttpResponse:
    """Take a defect one step further."""
    found = get_object_or_404(Defect, pk=pk)
    page = STEP_PAGES.get(step)
    if page is None:
        raise Http404("no such step")
    needs_one_of(request, *page.permissions)
    user = signed_in(request)
    try:
        stands = standing(found)
        if request.method != "POST":
            refuse_step(stands, Step(step))
    except ValidationError as refusal:
        told = {"defect": found, "page": page, "refusal": refusal}
        return render(request, "defects/step_refused.html", told, status=409)
    person = person_of(user)
    form = filled(
        STEP_FORMS[Step(step)],
        request,
        defect=found,
        standing=stands,
        signer=person,
        initial={"on": present(), "person": person},
    )
    if recorded(form, lambda: form.apply(by=user)) is not None:
        return redirect(found)
    told = {"form": form, "defect": found, "page": page, "standing": stands}
    return render(request, "defects/step.html", {**told, "signer": person})


@needs("assess_defects")
def step_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a step right that was written down wrongly."""
    step = get_object_or_404(DefectStep.objects.current(), pk=pk)
    form = filled(CorrectForm, request, step=step)
    if recorded(form, lambda: form.apply(by=signed_in(request))) is not None:
        return redirect(step.defect)
    told = {"form": form, "defect": step.defect, "step": step}
    return render(request, "defects/step_correct.html", told)


@needs("assess_defects")
def step_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take back the newest step of a defect."""
    step = get_object_or_404(DefectStep.objects.current(), pk=pk)
    if Step(step.step).ends:
        needs_one_of(request, "release_vehicles")
    form = filled(TakeBackForm, request)

    def take_back() -> DefectStep:
        reason = form.cleaned_data["reason"]
        return services.retract_step(by=signed_in(request), step=step, reason=reason)

    if recorded(form, take_back) is not None:
        return redirect(step.defect)
    told = {
        "question": f"Take back “{Step(step.step).label.lower()}”?",
        "detail": f"{step.defect.title}. What was written stays in the log, struck out.",
        "form": form,
        "yes": "Take it back",
        "back": step.defect.get_absolute_url(),
    }
    return render(request, "ui/confirm.html", told)
