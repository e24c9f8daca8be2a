"""Visiting vehicles: who was accepted on what evidence, how long; accept, end."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from fleet.examination.models import TestRecord
from fleet.fitness.status import numbers_of
from fleet.people.access import needs, person_of, signed_in
from fleet.records.clock import today
from fleet.records.views import filled, recorded
from fleet.register.models import Vehicle, VehicleVersion
from fleet.register.vocabulary import VehicleStatus
from fleet.upkeep.models import (
    VisitAcceptance,
    VisitAcceptanceVersion,
    VisitEvidence,
)
from fleet.upkeep.visits import (
    Seen,
    accept_visit,
    end_visit,
    evidence_of,
    renew_evidence,
)
from fleet.web.forms.visits import AcceptForm, EndForm, EvidenceLines, RenewForm


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
        "accepted_by", "competence__competence", "opened_by__user", "replaces"
    )
    held = versions.filter(closed_by=None).get()
    context = {
        "acceptance": found,
        "number": numbers_of([found.vehicle_id]).get(found.vehicle_id, ""),
        "held": held,
        "versions": versions.order_by("pk"),
        "evidence": _judged(evidence_of(held), held),
        "before": _before(found, held),
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
    lines = EvidenceLines(form.data or None, prefix="evidence")
    made: list[VisitAcceptance] = []

    def write() -> None:
        said = dict(form.cleaned_data) | {"evidence": lines.said()}
        del said["submission"]
        made.append(
            accept_visit(by=user, person=person_of(user), vehicle=vehicle, **said)
        )

    if (not form.is_bound or lines.is_valid()) and recorded(form, write):
        return redirect("web:visit", made[0].pk) if made else redirect(vehicle)
    number = numbers_of([pk]).get(pk, f"vehicle {pk}")
    context = {
        "question": f"Accept {number} as a visitor?",
        "detail": "Our own requirements stand aside while it runs on its owner's regime; "
        "what is defective or isolated counts as ever. It ends by itself after its last "
        f"good day. You sign as {person_of(user)}.",
        "form": form,
        "lines": lines,
        "yes": "Accept it",
        "back": vehicle.get_absolute_url(),
    }
    return render(request, "web/visit_evidence.html", context)


@needs("release_vehicles")
def visit_renew(request: HttpRequest, pk: int) -> HttpResponse:
    """Record the newer evidence of a visit, or put a line right."""
    found = get_object_or_404(VisitAcceptance.objects.select_related("vehicle"), pk=pk)
    user = signed_in(request)
    held = found.versions.get(closed_by=None)
    form = filled(RenewForm, request)
    seen = [asdict(Seen.of(line)) for line in evidence_of(held)]
    lines = EvidenceLines(form.data or None, prefix="evidence", initial=seen)

    def write() -> None:
        renew_evidence(
            by=user,
            person=person_of(user),
            acceptance=found,
            evidence=lines.said(),
            reason=form.cleaned_data["reason"],
        )

    if (not form.is_bound or lines.is_valid()) and recorded(form, write):
        messages.success(request, "The evidence is recorded; the list before is kept.")
        return redirect("web:visit", pk)
    context = {
        "question": "Which evidence holds now?",
        "detail": "Add what was seen since, strike out what it replaces. You sign as "
        f"{person_of(user)}.",
        "form": form,
        "lines": lines,
        "yes": "Record it",
        "renews": True,
        "back": reverse("web:visit", args=[pk]),
    }
    return render(request, "web/visit_evidence.html", context)


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


def _judged(
    lines: Iterable[VisitEvidence], held: VisitAcceptanceVersion
) -> list[tuple[VisitEvidence, bool]]:
    """Return each line, and whether it runs out before the visit ends."""
    return [
        (line, line.valid_until is not None and line.valid_until < held.last_day)
        for line in lines
    ]


def _before(
    found: VisitAcceptance, held: VisitAcceptanceVersion
) -> list[VisitEvidence]:
    """Return the lines that stood in an earlier list and stand in this one no more."""
    kept = {Seen.of(line) for line in evidence_of(held)}
    ever = {Seen.of(line): line for line in found.evidence.order_by("pk")}
    return [line for seen, line in ever.items() if seen not in kept]
