"""After an accident: take a snapshot, open its bundle, lift its hold."""

import datetime as dt
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import content_disposition_header
from django.views.decorators.cache import never_cache

from fleet.fitness.models import Snapshot
from fleet.fitness.snapshots import (
    digest_of,
    holds_of,
    lift_hold,
    open_bundle,
    take_snapshot,
)
from fleet.fitness.status import numbers_of
from fleet.people.access import needs, person_of, signed_in
from fleet.records.clock import today
from fleet.records.views import filled, recorded
from fleet.register.forms.parts import day_field
from fleet.register.models import Vehicle, VehicleVersion
from fleet.reports.bundle import bundle_of, reader
from fleet.reports.issuing import in_groups
from fleet.ui.forms import SubmissionForm


class SnapshotForm(SubmissionForm):
    """What happened, when, to which vehicles."""

    reason = forms.CharField(label="What happened", max_length=300)
    on = day_field("On")
    numbers = forms.CharField(
        label="Vehicles in the order of the train",
        help_text="Running numbers, one to a line.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )

    def vehicles(self) -> list[Vehicle]:
        """
        Return the vehicles named; refuses a number nobody bears.

        A number is that of who bore it on the day: it may have passed to another since.
        """
        known = VehicleVersion.objects.current().order_by("since_key")
        that_day = known.holding_on(self.cleaned_data["on"])
        borne = {
            " ".join(number.casefold().split()): vehicle
            for rows in (known, that_day)
            for vehicle, number in rows.values_list("vehicle", "number")
        }
        named = [n.strip() for n in self.cleaned_data["numbers"].splitlines()]
        keys = [" ".join(n.casefold().split()) for n in named if n]
        missing = [key for key in keys if key not in borne]
        if missing:
            raise ValidationError(
                {"numbers": f"No vehicle bears {', '.join(missing).upper()}."}
            )
        named_once = dict.fromkeys(borne[key] for key in keys)
        found = Vehicle.objects.in_bulk(list(named_once))
        return [found[key] for key in named_once]


class LiftForm(SubmissionForm):
    """Why a hold is lifted."""

    reason = forms.CharField(label="Why?", max_length=300)


def snapshot_list(request: HttpRequest) -> HttpResponse:
    """Show every snapshot."""
    rows = Snapshot.objects.select_related("by", "created_by").defer("content")
    return render(request, "reports/snapshot_list.html", {"rows": rows})


def snapshot(request: HttpRequest, number: str) -> HttpResponse:
    """Show one snapshot: what it holds, who opened it."""
    found = _named(number)
    kept = [row["vehicle"] for row in found.content]
    names = numbers_of(kept)
    context = {
        "snapshot": found,
        "then": dt.datetime.combine(found.on, dt.time(23, 59)),
        "vehicles": [(pk, names.get(pk, f"vehicle {pk}")) for pk in kept],
        "held": holds_of(found).exists(),
        "holds": found.holds.select_related("by", "opened_by__user", "vehicle"),
        "openings": found.openings.select_related("created_by__user"),
        "digest": in_groups(found.digest),
        "facts": in_groups(found.facts),
        "whole": digest_of(found) == found.digest,
    }
    return render(request, "reports/snapshot.html", context)


@needs("release_vehicles")
def snapshot_add(request: HttpRequest) -> HttpResponse:
    """Take a snapshot and hold its vehicles."""
    user = signed_in(request)
    initial = {"on": today(), "numbers": request.GET.get("number", "")}
    form = filled(SnapshotForm, request, initial=initial)
    made: list[Snapshot] = []

    def write() -> None:
        said = form.cleaned_data
        made.append(
            take_snapshot(
                by=user,
                person=person_of(user),
                vehicles=form.vehicles(),
                on=said["on"],
                reason=said["reason"],
                read=reader(said["on"]),
            )
        )

    if recorded(form, write):
        return redirect(made[0] if made else "reports:snapshot-list")
    context: dict[str, Any] = {
        "question": "Keep the records as they are, after an accident?",
        "detail": "Of each vehicle it keeps what the register shows for that day, as "
        "known then and as known now, with digests, and holds its records. Preserve the "
        "vehicle and its paper too; touch nothing until the person in charge allows it.",
        "form": form,
        "yes": "Take the snapshot",
        "back": "/",
    }
    return render(request, "ui/confirm.html", context)


@never_cache
@needs("release_vehicles")
def snapshot_bundle(request: HttpRequest, number: str) -> HttpResponse:
    """Hand out the bundle, and log who opened it."""
    found = _named(number)
    if request.method != "POST":
        context = {
            "question": f"Open the bundle of snapshot {number}?",
            "detail": "Papers, data and digests in one file. That you opened it, and "
            "when, is logged for good.",
            "form": SubmissionForm(),
            "yes": "Open it",
            "back": found.get_absolute_url(),
        }
        return render(request, "ui/confirm.html", context)
    data = bundle_of(found)
    open_bundle(by=signed_in(request), snapshot=found)
    name = content_disposition_header(
        as_attachment=True, filename=f"{found.number}.zip"
    )
    headers = {"Content-Disposition": name or "attachment"}
    return HttpResponse(data, content_type="application/zip", headers=headers)


@needs("release_vehicles")
def snapshot_lift(request: HttpRequest, number: str) -> HttpResponse:
    """Lift the hold of a snapshot."""
    found = _named(number)
    user = signed_in(request)
    form = filled(LiftForm, request)
    facts: dict[str, Any] = {"by": user, "person": person_of(user), "snapshot": found}
    if recorded(form, lambda: lift_hold(**facts, reason=form.cleaned_data["reason"])):
        messages.success(request, "The hold is lifted. The snapshot stays.")
        return redirect(found)
    context = {
        "question": f"Lift the hold of snapshot {number}?",
        "detail": "The inquiry must have said so. The snapshot itself stays for good.",
        "form": form,
        "yes": "Lift the hold",
        "back": found.get_absolute_url(),
        "grave": True,
    }
    return render(request, "ui/confirm.html", context)


def _named(number: str) -> Snapshot:
    return get_object_or_404(Snapshot.objects.select_related("by"), number=number)
