"""Pages of a visit in a found programme: why it stands there; pins set and taken out."""

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.fitness.status import numbers_of
from fleet.people.access import needs, signed_in
from fleet.records.views import filled, recorded
from fleet.register.forms.parts import day_field
from fleet.register.models import Equipment, Vehicle
from fleet.ui.forms import SubmissionForm
from fleet.upkeep.models import Requirement
from fleet.workshop.if_done import parts_of
from fleet.workshop.models import Pin, PinVersion, ProgrammeRun
from fleet.workshop.naming import item_serials, requirement_titles
from fleet.workshop.pinning import Work, set_pin, take_out_pin
from fleet.workshop.running import found_by, problem_of
from fleet.workshop.visit_page import VisitPage, visit_page
from fleet.workshop.vocabulary import Wish


class PinForm(SubmissionForm):
    """Where the work is to begin, or when the vehicle is to stay out, and why."""

    wish = forms.ChoiceField(
        label="What is wished",
        choices=[
            (Wish.AT.value, "The work of this visit begins in these weeks"),
            (Wish.NOT_IN.value, "The vehicle is not in the shop in these weeks"),
        ],
    )
    first = day_field("From the week of")
    last = day_field("To the week of")
    why = forms.CharField(label="Why?", max_length=200)


class TakeOutForm(SubmissionForm):
    """Why a pin is no longer wanted."""

    reason = forms.CharField(label="Why?", max_length=300)


def _page(pk: int, vehicle: int, week: int) -> tuple[ProgrammeRun, VisitPage]:
    run = get_object_or_404(ProgrammeRun, pk=pk)
    problem, found = problem_of(run), found_by(run)
    page = visit_page(problem, found, str(vehicle), week) if problem and found else None
    if page is None:
        raise Http404("There is no such visit in this programme.")
    return run, page


def run_visit(request: HttpRequest, pk: int, vehicle: int, week: int) -> HttpResponse:
    """Show why a visit stands where it stands, and what moving it would cost."""
    run, page = _page(pk, vehicle, week)
    context = {"run": run, "page": page}
    return render(request, "workshop/run_visit.html", context)


@needs("plan_work")
def run_pin(request: HttpRequest, pk: int, vehicle: int, week: int) -> HttpResponse:
    """Pin a visit where it is or elsewhere, or keep its vehicle out of the shop."""
    run, page = _page(pk, vehicle, week)
    of = get_object_or_404(Vehicle, pk=vehicle)
    monday = page.line.monday
    asked = request.GET.get("to", "")
    if asked.isdecimal() and int(asked) < run.weeks:
        monday = page.monday_of(int(asked))
    wish = Wish.NOT_IN if request.GET.get("wish") == "out" else Wish.AT
    initial = {"wish": wish.value, "first": monday, "last": monday}
    form = filled(PinForm, request, initial=initial)

    def write() -> None:
        said = {k: form.cleaned_data[k] for k in ("wish", "first", "last", "why")}
        work = _work(page) if said["wish"] == Wish.AT else []
        set_pin(by=signed_in(request), vehicle=of, work=work, **said)

    if recorded(form, write):
        return redirect("workshop:pin-list")
    context = {
        "question": f"Pin the visit of {page.line.number}?",
        "detail": "Every search from now on keeps to it, however much it costs. What was "
        "found before stays as it is.",
        "form": form,
        "yes": "Set the pin",
        "back": "../",
    }
    return render(request, "ui/confirm.html", context)


def _work(page: VisitPage) -> list[Work]:
    """Return what the visit's jobs are, as the register knows them."""
    found: list[Work] = []
    for turn in page.line.turns:
        code, key = parts_of(turn.key)
        requirement = get_object_or_404(Requirement, code=code)
        item = None if key is None else get_object_or_404(Equipment, pk=key)
        found.append((requirement, item))
    return found


def pin_list(request: HttpRequest) -> HttpResponse:
    """Show every pin that is set."""
    rows = PinVersion.objects.current().select_related(
        "requirement", "opened_by__user", "equipment"
    )
    held: list[PinVersion] = list(rows.order_by("first", "pk"))
    numbers = numbers_of({row.vehicle_id for row in held})
    titles = requirement_titles({row.requirement_id for row in held})
    serials = item_serials({row.equipment_id for row in held})
    context = {
        "rows": [
            (
                row,
                numbers.get(row.vehicle_id, ""),
                titles.get(row.requirement_id, ""),
                serials.get(row.equipment_id, ""),
            )
            for row in held
        ]
    }
    return render(request, "workshop/pins.html", context)


@needs("plan_work")
def pin_take_out(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a pin out."""
    held = get_object_or_404(PinVersion.objects.current(), pin=pk)
    form = filled(TakeOutForm, request)
    facts: dict[str, Any] = {
        "by": signed_in(request),
        "pin": get_object_or_404(Pin, pk=pk),
    }
    if recorded(
        form, lambda: take_out_pin(**facts, reason=form.cleaned_data["reason"])
    ):
        return redirect("workshop:pin-list")
    number = numbers_of([held.vehicle_id]).get(held.vehicle_id, "")
    context = {
        "question": f"Take the pin of {number} out?",
        "detail": f"{held}. {held.why}",
        "form": form,
        "yes": "Take it out",
        "back": "../../",
    }
    return render(request, "ui/confirm.html", context)
