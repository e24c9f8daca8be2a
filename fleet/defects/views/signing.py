"""Counter-signing what somebody not competent that day assessed or released."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.defects.models import DefectStep, WorkInHand
from fleet.defects.signing import Signed, counter_sign, lacks
from fleet.examination.views.signing import SignatureForm
from fleet.people.access import needs, person_of, signed_in
from fleet.records.moments import present
from fleet.records.views import filled, recorded


@needs("assess_defects")
def step_sign(request: HttpRequest, pk: int) -> HttpResponse:
    """Sign for a step of a defect."""
    steps = DefectStep.objects.current().select_related("defect", "by")
    step = get_object_or_404(steps, pk=pk)
    what = f"{step.label} by {step.by}: {step.defect.title}"
    return _sign(request, step, what, step.defect.get_absolute_url())


@needs("release_vehicles")
def work_sign(request: HttpRequest, pk: int) -> HttpResponse:
    """Sign for a release to traffic."""
    works = WorkInHand.objects.current().filter(until_key__isnull=False)
    work = get_object_or_404(works.select_related("vehicle", "released_by"), pk=pk)
    what = f"Release to traffic by {work.released_by}: {work.what}"
    return _sign(request, work, what, work.vehicle.get_absolute_url())


def _sign(request: HttpRequest, row: Signed, what: str, back: str) -> HttpResponse:
    user = signed_in(request)
    person = person_of(user)
    form = filled(SignatureForm, request, initial={"on": present()})

    def sign() -> object:
        said = {name: form.cleaned_data[name] for name in ("on", "remark")}
        return counter_sign(by=user, person=person, row=row, **said)

    if recorded(form, sign):
        return redirect(back)
    lack = lacks([row], present()).get(row)
    lacking = f" for {lack.skill}" if lack else ""
    context = {
        "question": "Counter-sign this?",
        "detail": f"{what}, who held no competence{lacking} that day. You sign as "
        f"{person}, for what stands there; look at the vehicle first. A correction after "
        "this wants another signature.",
        "form": form,
        "yes": "Counter-sign it",
        "back": back,
    }
    return render(request, "ui/confirm.html", context)
