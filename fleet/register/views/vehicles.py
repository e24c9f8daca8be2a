"""Pages of vehicles: list, add, alter, correct, usage, storage."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.people.access import needs, signed_in
from fleet.records.clock import today
from fleet.records.moments import present
from fleet.records.views import filled, recorded
from fleet.register.filters import VehicleFilter
from fleet.register.forms.vehicles import (
    AddVehicleForm,
    AlterVehicleForm,
    CorrectVehicleForm,
    MeterForm,
    ReturnForm,
    StoreForm,
    UsageForm,
)
from fleet.register.models import StoragePeriod, Usage, VehicleVersion
from fleet.register.tables import VehicleTable
from fleet.register.vocabulary import VehicleStatus
from fleet.ui.forms import SubmissionForm
from fleet.ui.tables import paged

SHOWN = 12


def vehicle_list(request: HttpRequest) -> HttpResponse:
    """List the fleet."""
    found = VehicleFilter(request.GET, VehicleVersion.objects.for_list())
    told = {"filter": found, "table": paged(VehicleTable(found.qs), request)}
    return render(request, "register/vehicle_list.html", told)


@needs("edit_register")
def vehicle_add(request: HttpRequest) -> HttpResponse:
    """Take a vehicle into the register."""
    start = {"hand_brake": True, "status": VehicleStatus.NOT_ACCEPTED}
    form = filled(AddVehicleForm, request, initial=start)
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        number = form.cleaned_data["number"]
        messages.success(request, f"{number} is in the register.")
        return redirect("register:vehicle-list")
    return _sheet(request, form, None, title="Add a vehicle", deed="Add the vehicle")


@needs("edit_register")
def vehicle_alter(request: HttpRequest, pk: int) -> HttpResponse:
    """Change particulars from a moment on."""
    version = _newest(pk)
    form = filled(
        AlterVehicleForm, request, version=version, initial={"since": present()}
    )
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        messages.success(request, "The change is recorded; what held before stays.")
        return redirect("web:vehicle", pk)
    return _sheet(
        request,
        form,
        version,
        title="Alter particulars",
        deed="Record the change",
        lead="What held before stays as it was. To put right what was written down "
        "wrongly, correct it instead.",
        correct=True,
    )


@needs("edit_register")
def vehicle_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Put right particulars that were written down wrongly."""
    version = _newest(pk)
    form = filled(CorrectVehicleForm, request, version=version)
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        messages.success(request, "The correction is recorded; both versions stay.")
        return redirect("web:vehicle", pk)
    return _sheet(
        request,
        form,
        version,
        title="Correct particulars",
        deed="Record the correction",
        lead="For a slip of the pen only. A change to the vehicle itself is an "
        "alteration from its date on.",
    )


@needs("record_facts")
def usage_add(request: HttpRequest, pk: int) -> HttpResponse:
    """Record miles and days in service, by daily log or by meter."""
    version = _newest(pk)
    by_meter = "meter" in request.GET
    kind: type[UsageForm | MeterForm] = MeterForm if by_meter else UsageForm
    form = filled(kind, request, initial={"on": today(), "last": today()})
    who, vehicle = signed_in(request), version.vehicle
    if recorded(form, lambda: form.apply(by=who, vehicle=vehicle)):
        return redirect(f"{request.path}?{'meter' if by_meter else ''}")
    held = Usage.objects.current().filter(vehicle=pk).order_by("-last")
    told = {
        "form": form,
        "version": version,
        "by_meter": by_meter,
        "rows": held.select_related("opened_by__user")[:SHOWN],
    }
    return render(request, "register/usage.html", told)


@needs("plan_work")
def vehicle_store(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a vehicle out of use."""
    version = _newest(pk)
    form = filled(StoreForm, request, initial={"since": present()})
    who, vehicle = signed_in(request), version.vehicle
    if recorded(form, lambda: form.apply(by=who, vehicle=vehicle)):
        return redirect("web:vehicle", pk)
    return _sheet(
        request,
        form,
        version,
        title="Put into storage",
        deed="Record the storage",
        lead="From then it is not counted on for traffic. What its return asks for, the "
        "operator's requirements say.",
        caution="stabling",
    )


@needs("plan_work")
def vehicle_return(request: HttpRequest, pk: int) -> HttpResponse:
    """Bring a vehicle back from storage."""
    version = _newest(pk)
    form = filled(ReturnForm, request, initial={"at": present()})
    who, vehicle = signed_in(request), version.vehicle
    if recorded(form, lambda: form.apply(by=who, vehicle=vehicle)):
        return redirect("web:vehicle", pk)
    held = StoragePeriod.objects.current().open_ended().filter(vehicle=pk).first()
    return _sheet(
        request,
        form,
        version,
        title="Return from storage",
        deed="Record the return",
        lead=f"Stored since {held.since}." if held else "It is not recorded as stored.",
        caution="cold_or_stored",
    )


def _newest(pk: int) -> VehicleVersion:
    found: VehicleVersion = get_object_or_404(
        VehicleVersion.objects.for_list().select_related("vehicle", "type", "depot"),
        vehicle=pk,
    )
    return found


def _sheet(
    request: HttpRequest,
    form: SubmissionForm,
    version: VehicleVersion | None,
    **told: Any,
) -> HttpResponse:
    told |= {"form": form, "version": version}
    return render(request, "register/vehicle_form.html", told)
