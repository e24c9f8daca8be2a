"""Pages of overhauls: record who did one, put it right, take it back."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.engineering.calendar import Moment
from fleet.people.access import needs, signed_in
from fleet.records.views import filled, recorded
from fleet.register.forms.overhauls import (
    SUGGESTED,
    CorrectOverhaulForm,
    OverhaulForm,
    RetractOverhaulForm,
)
from fleet.register.models import EquipmentVersion, OverhaulVersion


@needs("record_facts")
def overhaul_add(request: HttpRequest, pk: int) -> HttpResponse:
    """Record who overhauled an item."""
    item = get_object_or_404(EquipmentVersion.objects.newest(), equipment=pk)
    form = filled(OverhaulForm, request, initial=_begun(request))
    user = signed_in(request)
    if recorded(form, lambda: form.apply(by=user, equipment=item.equipment)):
        messages.success(request, "Who overhauled it is recorded.")
        return redirect(item.equipment)
    lead = (
        "A test after the overhaul is recorded as a test; this says who did the work, "
        "so that every item they touched can be found."
    )
    return _sheet(request, form, item, title="Overhauled", deed="Record it", lead=lead)


def _begun(request: HttpRequest) -> dict[str, Any]:
    """Return the day a test was done, where the page of one leads here."""
    written = request.GET.get("on", "")
    try:
        return {"on": Moment.parse(written)} if written else {}
    except ValueError:
        return {}


@needs("record_facts")
def overhaul_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Put right what was written down wrongly of an overhaul."""
    version = _version(pk)
    names = ("on", "overhauler", "certificate", "kit_batch")
    start = {name: getattr(version, name) for name in names}
    form = filled(CorrectOverhaulForm, request, initial=start)
    user = signed_in(request)
    if recorded(form, lambda: form.correct(by=user, version=version)):
        messages.success(request, "The correction is recorded; both versions stay.")
        return redirect(version.equipment)
    return _sheet(
        request,
        form,
        get_object_or_404(
            EquipmentVersion.objects.newest(), equipment=version.equipment_id
        ),
        title="Put an overhaul right",
        deed="Record the correction",
        version=version,
    )


@needs("record_facts")
def overhaul_retract(request: HttpRequest, pk: int) -> HttpResponse:
    """Take back an overhaul that never was."""
    version = _version(pk)
    form = filled(RetractOverhaulForm, request)
    user = signed_in(request)
    if recorded(form, lambda: form.apply(by=user, version=version)):
        messages.success(request, "It is retracted; what was written stays shown.")
        return redirect(version.equipment)
    told = {
        "question": "Was it never overhauled by them?",
        "detail": f"{version}. For a slip of the pen, put it right instead.",
        "form": form,
        "yes": "Retract it",
        "grave": True,
        "back": version.equipment.get_absolute_url(),
    }
    return render(request, "ui/confirm.html", told)


def _version(pk: int) -> OverhaulVersion:
    held = OverhaulVersion.objects.current().select_related("equipment", "overhaul")
    found: OverhaulVersion = get_object_or_404(held, pk=pk)
    return found


def _sheet(
    request: HttpRequest, form: OverhaulForm, item: EquipmentVersion, **told: Any
) -> HttpResponse:
    names = OverhaulVersion.objects.overhaulers()
    told |= {"form": form, "item": item, "suggested": SUGGESTED, "names": names}
    return render(request, "register/overhaul_form.html", told)
