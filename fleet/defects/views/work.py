"""Pages of work in hand: begin it, sign it off."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.defects.forms.work import ReleaseWorkForm, StartWorkForm
from fleet.defects.managers import number_of
from fleet.defects.models import DefectStep, IsolationVersion, WorkInHand
from fleet.defects.views.sending import needs_one_of, recorded
from fleet.people.access import needs, person_of, signed_in
from fleet.records.clock import today
from fleet.records.moments import present
from fleet.records.views import filled
from fleet.register.models import Vehicle


def work_start(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a vehicle in hand."""
    needs_one_of(request, "plan_work", "record_facts")
    vehicle = get_object_or_404(Vehicle.objects.annotate(number=number_of("pk")), pk=pk)
    user = signed_in(request)
    form = filled(
        StartWorkForm,
        request,
        initial={"since": present(), "person": person_of(user)},
    )
    if recorded(form, lambda: form.apply(by=user, vehicle=vehicle)) is not None:
        return redirect("web:vehicle", pk)
    return render(
        request, "defects/work_start.html", {"form": form, "vehicle": vehicle}
    )


@needs("release_vehicles")
def work_release(request: HttpRequest, pk: int) -> HttpResponse:
    """Sign a vehicle back to traffic."""
    work = get_object_or_404(
        WorkInHand.objects.current().open_ended().for_list(), pk=pk
    )
    user = signed_in(request)
    signer = person_of(user)
    form = filled(
        ReleaseWorkForm, request, work=work, signer=signer, initial={"at": present()}
    )
    if recorded(form, lambda: form.apply(by=user)) is not None:
        return redirect("web:vehicle", work.vehicle_id)
    vehicle = work.vehicle
    told = {
        "form": form,
        "work": work,
        "signer": signer,
        "isolated": IsolationVersion.objects.current()
        .open_ended()
        .filter(vehicle=vehicle)
        .for_list(),
        "defects": DefectStep.objects.newest()
        .open()
        .of_vehicle(vehicle, today())
        .for_list(),
    }
    return render(request, "defects/work_release.html", told)
