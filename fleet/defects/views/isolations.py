"""Pages of isolations: the list, a record, making, completing, restoring it."""

from typing import Any

from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.defects import services
from fleet.defects.forms.defects import TakeBackForm
from fleet.defects.forms.isolations import CompleteForm, IsolateForm, RestoreForm
from fleet.defects.isolating import shortfalls, values_of
from fleet.defects.managers import number_of
from fleet.defects.models import Defect, Isolation, IsolationVersion, MoveAuthority
from fleet.defects.tables import RestoredTable, StandingTable
from fleet.defects.views.sending import recorded
from fleet.defects.vocabulary import Brake, Extent, IsolationLineKind
from fleet.people.access import needs, person_of, signed_in
from fleet.records.clock import today
from fleet.records.deeds import AlreadyRecorded
from fleet.records.moments import present
from fleet.records.views import filled
from fleet.register.models import Vehicle
from fleet.ui.tables import paged


def isolation_list(request: HttpRequest) -> HttpResponse:
    """Show what is isolated now, and below it what was restored."""
    current = IsolationVersion.objects.current().for_register()
    now = current.open_ended().order_by("since_key")
    before = current.filter(restored_by__isnull=False).order_by("-until_key")
    told = {
        "now": paged(StandingTable(now, today=today(), prefix="now-"), request),
        "before": paged(
            RestoredTable(before, today=today(), prefix="before-"), request
        ),
    }
    return render(request, "defects/isolation_list.html", told)


def isolation(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an isolation record: complete or what it is short of, and its history."""
    found = get_object_or_404(
        Isolation.objects.annotate(number=number_of("vehicle")), pk=pk
    )
    versions = list(IsolationVersion.objects.filter(isolation=found).for_history())
    held = [version for version in versions if version.is_current]
    told = {"isolation": found, "versions": versions, "brake": found.brake}
    told["moves"] = MoveAuthority.objects.filter(isolation=found).select_related(
        "given_by", "opened_by"
    )
    told |= _standing(held[-1]) if held else {"version": None}
    return render(request, "defects/isolation.html", told)


def _standing(version: IsolationVersion) -> dict[str, Any]:
    lines = list(version.lines.all())
    asked = [ln for ln in lines if ln.kind != IsolationLineKind.PUT_BACK]
    return {
        "version": version,
        "restored": version.restored_by is not None,
        "part": version.extent == Extent.PART,
        "lines": asked,
        "put_back": [ln for ln in lines if ln.kind == IsolationLineKind.PUT_BACK],
        "short": shortfalls(version.extent, [values_of(ln) for ln in asked]),
        "wrong": [ln for ln in asked if ln.found_wrong],
    }


@needs("assess_defects")
def isolation_add(request: HttpRequest, pk: int, system: str) -> HttpResponse:
    """Record an isolation, line by line."""
    if system not in set(Brake):
        raise Http404("no such brake")
    vehicle = get_object_or_404(Vehicle.objects.annotate(number=number_of("pk")), pk=pk)
    told = {"vehicle": vehicle, "brake": Brake(system)}
    try:
        lines = services.isolation_lines(vehicle, system, today())
    except ValidationError as refusal:
        told["refusal"] = refusal
        return render(request, "defects/isolation_refused.html", told, status=409)
    user = signed_in(request)
    form = filled(
        IsolateForm,
        request,
        vehicle=vehicle,
        brake=Brake(system),
        lines=lines,
        defect=_defect(request),
        initial={"since": present(), "person": person_of(user)},
    )
    done = recorded(form, lambda: form.apply(by=user).isolation)
    if isinstance(done, AlreadyRecorded):
        done = get_object_or_404(Isolation, created_by=done.entry)
    if done is not None:
        return redirect(done)
    return render(request, "defects/isolation_add.html", {**told, "form": form})


def _defect(request: HttpRequest) -> Defect | None:
    key = request.GET.get("defect", "")
    return Defect.objects.filter(pk=key).first() if key.isdecimal() else None


@needs("assess_defects")
def isolation_complete(request: HttpRequest, pk: int) -> HttpResponse:
    """Go on with a record that is short of something."""
    version = _open(pk)
    user = signed_in(request)
    form = filled(
        CompleteForm,
        request,
        version=version,
        lines=[values_of(line) for line in version.lines.all()],
        initial={"at": present(), "person": person_of(user)},
    )
    if recorded(form, lambda: form.apply(by=user)) is not None:
        return redirect(version.isolation)
    return _shown(request, "defects/isolation_complete.html", version, form)


@needs("assess_defects")
def isolation_restore(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that the brake is back in use."""
    version = _open(pk)
    user = signed_in(request)
    form = filled(
        RestoreForm,
        request,
        version=version,
        initial={"at": present(), "person": person_of(user)},
    )
    if recorded(form, lambda: form.apply(by=user)) is not None:
        return redirect(version.isolation)
    return _shown(request, "defects/isolation_restore.html", version, form)


@needs("assess_defects")
def isolation_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take back a record that never was true."""
    found = get_object_or_404(Isolation, pk=pk)
    form = filled(TakeBackForm, request)

    def take_back() -> Isolation:
        reason = form.cleaned_data["reason"]
        services.retract_isolation(
            by=signed_in(request), isolation=found, reason=reason
        )
        return found

    if recorded(form, take_back) is not None:
        return redirect(found)
    told = {
        "question": "Take back this isolation record?",
        "detail": "Only where it never was true. What was written stays shown, struck out. "
        "A brake that is back in use is restored instead.",
        "form": form,
        "yes": "Take it back",
        "grave": True,
        "back": found.get_absolute_url(),
    }
    return render(request, "ui/confirm.html", told)


def _open(pk: int) -> IsolationVersion:
    held = IsolationVersion.objects.current().open_ended().for_list()
    version: IsolationVersion = get_object_or_404(held, isolation=pk)
    return version


def _shown(
    request: HttpRequest, page: str, version: IsolationVersion, form: Any
) -> HttpResponse:
    told = {"version": version, "form": form, "brake": version.isolation.brake}
    return render(request, page, told)
