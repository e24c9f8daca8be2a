"""Pages of runs: statements for a whole set of vehicles, begun, gone on with, cancelled."""

from typing import Any

import django_tables2 as tables
from csp.decorators import csp_exempt
from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.html import format_html
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from django_htmx.http import HttpResponseClientRefresh

from fleet.fitness.models import (
    RunPlace,
    Stale,
    Statement,
    StatementRun,
    StatementStatus,
)
from fleet.fitness.runs import cancel_run, floor_of
from fleet.fitness.status import BoardRow, board_rows
from fleet.people.access import needs, person_of, signed_in
from fleet.records.clock import today
from fleet.records.views import filled, recorded
from fleet.register.forms.parts import day_field
from fleet.register.models import Depot, Vehicle, VehicleType
from fleet.register.vocabulary import System
from fleet.reports.season import FLOORS, Choice, begin, choice, step, which_of
from fleet.reports.views.issuing import papers
from fleet.ui.forms import SubmissionForm
from fleet.ui.tables import NumberColumn, RegisterTable, WideColumn, paged

AT_A_TIME = 5  # statements issued by one press or one poll
LISTED = 500  # vehicles to be ticked on one page; a browser may send a thousand fields


class ChoiceForm(forms.Form):
    """Which vehicles are meant."""

    on = day_field("For the close of")
    depot = forms.ModelChoiceField(
        Depot.objects.all(), required=False, empty_label="All depots"
    )
    type = forms.ModelChoiceField(
        VehicleType.objects.named(), required=False, empty_label="All types"
    )
    system = forms.ChoiceField(
        label="Brake system",
        choices=[("", "Any"), *System.choices()],
        required=False,
    )
    which = forms.ChoiceField(
        label="Which vehicles",
        choices=[(key, words.capitalize()) for key, (_, words) in FLOORS.items()],
        help_text="Looked at again when each is signed: one that falls short then is "
        "refused.",
    )
    left_of = forms.ModelChoiceField(
        StatementRun.objects.all(), required=False, widget=forms.HiddenInput
    )

    def clean_on(self) -> Any:
        """Refuse a day gone by."""
        day = self.cleaned_data["on"]
        if day < today():
            raise forms.ValidationError("Choose today or a day to come.", code="past")
        return day

    def choice(self) -> Choice:
        """Return what was chosen."""
        said = self.cleaned_data
        return choice(
            said["on"],
            said["which"],
            system=said["system"],
            depot=said["depot"].name if said["depot"] else "",
            type_code=said["type"].code if said["type"] else "",
        )

    def rows(self) -> list[BoardRow]:
        """Return the vehicles that answer, or those that wait in a run of before."""
        left = self.cleaned_data["left_of"]
        if left is None:
            return self.choice().answering()
        waiting = left.places.waiting().values_list("vehicle", flat=True)
        return board_rows(self.cleaned_data["on"], vehicle_ids=waiting)


class Ticked(forms.TypedMultipleChoiceField):
    """Keys of vehicles, ticked in the page's own list."""

    def valid_value(self, value: Any) -> bool:
        """Take what may be a key; what is no vehicle's is left out later."""
        return str(value).isdecimal()


class BeginForm(ChoiceForm, SubmissionForm):
    """A choice, and the vehicles ticked out of it."""

    vehicle = Ticked(coerce=int, required=False)
    whole = forms.BooleanField(required=False)


class CancelForm(SubmissionForm):
    """Why a run is cancelled."""

    reason = forms.CharField(label="Why?", max_length=300)


class RunTable(RegisterTable):
    """Runs, newest first."""

    run = NumberColumn(linkify=True, accessor="pk", verbose_name="Run")
    on = tables.DateColumn(verbose_name="For", format="j M Y")
    asked = WideColumn(verbose_name="Which vehicles", orderable=False)
    by = tables.Column(verbose_name="Begun by")
    total = tables.Column(verbose_name="Vehicles")
    issued = tables.Column()
    refused = tables.Column()
    waiting = tables.Column()

    def render_waiting(self, value: int, record: StatementRun) -> str:
        """Say of a cancelled run that nothing waits in it."""
        return f"{value}, cancelled" if hasattr(record, "end") else str(value)


class PlaceTable(RegisterTable):
    """The vehicles of a run and what each came to."""

    number = NumberColumn(
        linkify=("web:vehicle", [tables.A("vehicle_id")]), verbose_name="Vehicle"
    )
    came_to = WideColumn(accessor="rank", verbose_name="Came to", orderable=False)
    by = tables.Column(
        accessor="outcome__by", verbose_name="Signed or refused by", orderable=False
    )

    def render_came_to(self, record: RunPlace) -> str:
        """Say under which number, or why not; how its statement stands now."""
        outcome = getattr(record, "outcome", None)
        if outcome is None:
            return "Waiting"
        if outcome.statement is None:
            return f"Refused: {outcome.refused}"
        stands = getattr(record, "stands", "")
        return format_html(
            'Issued: <a href="{}">{}</a>{}',
            outcome.statement.get_absolute_url(),
            outcome.statement.number,
            ""
            if stands == StatementStatus.VALID
            else f", {StatementStatus(stands).label.lower()} since",
        )


def run_list(request: HttpRequest) -> HttpResponse:
    """Show every run and how far it has got."""
    table = paged(RunTable(StatementRun.objects.for_list()), request)
    return render(request, "reports/run_list.html", {"table": table})


@needs("release_vehicles")
def run_add(request: HttpRequest) -> HttpResponse:
    """Choose vehicles by what they are, tick them by hand, and begin a run."""
    sent = request.method == "POST"
    begun = filled(BeginForm, request)
    made: list[StatementRun] = []
    if recorded(begun, lambda: made.append(_begin(begun, request))):
        return redirect(made[0] if made else "reports:run-list")
    asked = request.POST if sent else request.GET
    form = ChoiceForm(asked or None, initial={"on": today(), "which": "braked"})
    chosen = bool(asked) and form.is_valid()
    rows = form.rows() if chosen else []
    ticked = set(request.POST.getlist("vehicle")) if sent else None
    context = {
        "form": form,
        "begun": begun,
        "chosen": chosen,
        "rows": rows[:LISTED],
        "ticked": [
            row.vehicle for row in rows if ticked is None or str(row.vehicle) in ticked
        ],
        "total": len(rows),
        "tickable": len(rows) <= LISTED,
        "stale": Stale.objects.count(),
        "kept": [(name, asked.get(name, "")) for name in form.fields],
    }
    return render(request, "reports/run_add.html", context)


@never_cache
def run(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a run; issue the next few of it at each press or poll."""
    found = get_object_or_404(StatementRun.objects.for_list(), pk=pk)
    if request.method == "POST":
        return _go_on(request, found)
    table = paged(PlaceTable(found.places.for_list()), request)
    context = {
        **_context(found),
        "table": table,
        "today": today(),
        "which": which_of(floor_of(found)),
    }
    return render(request, "reports/run.html", context)


@needs("release_vehicles")
def run_cancel(request: HttpRequest, pk: int) -> HttpResponse:
    """Cancel a run."""
    found = get_object_or_404(StatementRun.objects.for_list(), pk=pk)
    user = signed_in(request)
    form = filled(CancelForm, request)
    facts: dict[str, Any] = {"by": user, "person": person_of(user), "run": found}
    if recorded(form, lambda: cancel_run(**facts, reason=form.cleaned_data["reason"])):
        messages.success(request, f"Run {pk} is cancelled.")
        return redirect(found)
    context = {
        "question": f"Cancel run {pk}?",
        "detail": "Vehicles that wait in it get no statement from it. The statements "
        "it issued stand.",
        "form": form,
        "yes": "Cancel the run",
        "back": found.get_absolute_url(),
        "grave": True,
    }
    return render(request, "ui/confirm.html", context)


@csp_exempt()
@require_safe
@never_cache
@needs("print_reports")
def run_papers(request: HttpRequest, pk: int) -> HttpResponse:
    """Print what a run issued, as one paper."""
    found = get_object_or_404(StatementRun, pk=pk)
    outcomes = found.places.filter(outcome__statement__isnull=False)
    issued = Statement.objects.filter(pk__in=outcomes.values("outcome__statement"))
    if not issued:
        raise Http404
    return papers(issued.order_by("year", "count"), request, f"statements run {pk}")


def _begin(form: BeginForm, request: HttpRequest) -> StatementRun:
    user = signed_in(request)
    rows = [row.vehicle for row in form.rows()]
    keys, picked = rows, ""
    if not form.cleaned_data["whole"]:
        ticked = set(form.cleaned_data["vehicle"])
        keys = [key for key in rows if key in ticked]
        # Ticked, and no longer answering: it is taken in, and refused with its reason.
        others = Vehicle.objects.filter(pk__in=ticked - set(rows)).order_by("pk")
        keys += others.values_list("pk", flat=True)
        picked = f"; {len(keys)} of {len(rows)} ticked by hand"
    left = form.cleaned_data["left_of"]
    if left is not None:
        picked = f"; what was left of {str(left).lower()}"
    return begin(form.choice(), keys, by=user, person=person_of(user), picked=picked)


@needs("release_vehicles")
def _go_on(request: HttpRequest, found: StatementRun) -> HttpResponse:
    user = signed_in(request)
    refused = ""
    try:
        step(found, by=user, person=person_of(user), at_most=AT_A_TIME)
    except ValidationError as refusal:
        refused = " ".join(refusal.messages)
    context = _context(StatementRun.objects.for_list().get(pk=found.pk), refused)
    if getattr(request, "htmx", False):
        if not refused and not context["run"].waiting:
            return HttpResponseClientRefresh()
        return render(request, "reports/run_part.html", {**context, "going": True})
    if refused:
        messages.error(request, refused)
    return redirect(found)


def _context(found: Any, refused: str = "") -> dict[str, Any]:
    """Return what the page and its part show; the run is read `for_list`."""
    ended = getattr(found, "end", None)
    return {
        "run": found,
        "end": ended,
        "gone": found.on < today(),
        "open": bool(found.waiting) and ended is None,
        "problem": refused,
    }
