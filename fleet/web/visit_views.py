"""Visiting vehicles: who was accepted on what evidence, how long; accept, end."""

import datetime as dt
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.examination.models import Test, TestRecord
from fleet.fitness.status import numbers_of
from fleet.people.access import needs, person_of, signed_in
from fleet.records.clock import today
from fleet.records.views import filled, recorded
from fleet.register.forms.parts import day_field
from fleet.register.models import Vehicle, VehicleVersion
from fleet.register.vocabulary import VehicleStatus
from fleet.ui.forms import SubmissionForm
from fleet.upkeep.models import VisitAcceptance, VisitAcceptanceVersion
from fleet.upkeep.visits import accept_visit, end_visit

_FEW = {"rows": 4}


class AcceptForm(SubmissionForm):
    """On whose regime, on what evidence, how long."""

    owner = forms.CharField(label="Owner", max_length=80)
    regime = forms.CharField(
        label="Owner's regime, with its document",
        max_length=200,
        help_text="Such as: brake maintenance plan BM 3, issue 4.",
    )
    evidence = forms.CharField(
        label="Evidence seen",
        help_text="One to a line: what, which document, of which day, good until when.",
        widget=forms.Textarea(attrs=_FEW),
    )
    tests = forms.ModelMultipleChoiceField(
        Test.objects.none(),
        label="Acceptance tests made here",
        widget=forms.CheckboxSelectMultiple,
        help_text="Record them first; only passed ones of this vehicle are listed.",
    )
    condition = forms.CharField(
        label="Condition, as train crew should read it", max_length=200, required=False
    )
    since = day_field("Accepted from")
    last_day = day_field("Last good day")

    def __init__(self, data: Any, *, vehicle: Vehicle, **options: Any) -> None:
        """Offer the tests of the vehicle."""
        super().__init__(data, **options)
        records = TestRecord.objects.current().filter(vehicle=vehicle, passed=True)
        newest = records.select_related("procedure_revision").order_by("-on_latest")[
            :20
        ]
        field = self.fields["tests"]
        assert isinstance(field, forms.ModelMultipleChoiceField)
        field.queryset = Test.objects.filter(
            pk__in=[r.test_id for r in newest]
        ).order_by("-pk")
        words = {r.test_id: f"{r.procedure_revision.title}, {r.on}" for r in newest}
        field.label_from_instance = lambda obj: words[obj.pk]  # type: ignore[method-assign]


class EndForm(SubmissionForm):
    """When a visit ends before its time, and why."""

    last_day = day_field("Last good day")
    reason = forms.CharField(label="Why?", max_length=300)


def visit_list(request: HttpRequest) -> HttpResponse:
    """Show every visit, those that run out next first, and who waits to be accepted."""
    day = today()
    versions = VisitAcceptanceVersion.objects.current().select_related(
        "acceptance", "accepted_by"
    )
    rows = list(versions.order_by("-last_day", "pk"))
    visiting = VehicleVersion.objects.current().holding_on(day)
    visiting = visiting.filter(status=VehicleStatus.VISITING).order_by("number")
    held = {row.vehicle_id for row in rows if row.since <= day <= row.last_day}
    numbers = numbers_of([row.vehicle_id for row in rows])
    context = {
        "rows": [
            (row, numbers.get(row.vehicle_id, ""), (row.last_day - day).days + 1)
            for row in rows
        ],
        "waiting": [v for v in visiting if v.vehicle_id not in held],
        "today": day,
    }
    return render(request, "web/visits.html", context)


def visit(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one acceptance: its evidence, its tests, all it ever was."""
    found = get_object_or_404(VisitAcceptance.objects.select_related("vehicle"), pk=pk)
    versions = found.versions.select_related(
        "accepted_by", "competence__competence", "opened_by__user"
    )
    context = {
        "acceptance": found,
        "number": numbers_of([found.vehicle_id]).get(found.vehicle_id, ""),
        "held": versions.filter(closed_by=None).get(),
        "versions": versions.order_by("pk"),
        "evidence": found.evidence.order_by("pk"),
        "records": TestRecord.objects.current()
        .filter(test__in=found.tests.values("test"))
        .select_related("procedure_revision", "done_by"),
        "today": today(),
    }
    return render(request, "web/visit.html", context)


@needs("release_vehicles")
def visit_accept(request: HttpRequest, pk: int) -> HttpResponse:
    """Accept a visiting vehicle."""
    vehicle = get_object_or_404(Vehicle, pk=pk)
    user = signed_in(request)
    initial = {"since": today(), "last_day": today() + dt.timedelta(days=30)}
    form = filled(AcceptForm, request, vehicle=vehicle, initial=initial)
    made: list[VisitAcceptance] = []

    def write() -> None:
        said = dict(form.cleaned_data)
        said.pop("submission", None)
        said["evidence"] = said["evidence"].splitlines()
        said["tests"] = list(said["tests"])
        made.append(
            accept_visit(by=user, person=person_of(user), vehicle=vehicle, **said)
        )

    if recorded(form, write):
        return redirect("web:visit", made[0].pk) if made else redirect(vehicle)
    number = numbers_of([pk]).get(pk, f"vehicle {pk}")
    context = {
        "question": f"Accept {number} as a visitor?",
        "detail": "Our own requirements stand aside while it runs on its owner's regime; "
        "what is defective or isolated counts as ever. It ends by itself after its last "
        f"good day. You sign as {person_of(user)}.",
        "form": form,
        "yes": "Accept it",
        "back": vehicle.get_absolute_url(),
    }
    return render(request, "ui/confirm.html", context)


@needs("release_vehicles")
def visit_end(request: HttpRequest, pk: int) -> HttpResponse:
    """End an acceptance early."""
    found = get_object_or_404(VisitAcceptance.objects.select_related("vehicle"), pk=pk)
    user = signed_in(request)
    form = filled(EndForm, request, initial={"last_day": today()})
    facts: dict[str, Any] = {"by": user, "person": person_of(user)}

    def write() -> None:
        said = {name: form.cleaned_data[name] for name in ("last_day", "reason")}
        end_visit(acceptance=found, **facts, **said)

    if recorded(form, write):
        messages.success(request, "The acceptance ends then.")
        return redirect("web:visit", pk)
    context = {
        "question": "End this acceptance early?",
        "detail": "From the day after, the vehicle is not to run here.",
        "form": form,
        "yes": "End it",
        "back": found.vehicle.get_absolute_url(),
        "grave": True,
    }
    return render(request, "ui/confirm.html", context)
