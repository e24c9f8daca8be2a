"""The page on which a defect that came back is assessed at a higher level."""

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.defects.forms.defects import HigherForm
from fleet.defects.models import Defect
from fleet.defects.page import HIGHER_PAGE
from fleet.defects.steps import refuse_step, standing
from fleet.defects.views.sending import recorded
from fleet.people.access import needs, person_of, signed_in
from fleet.records.moments import present
from fleet.records.views import filled


@needs("release_vehicles")
def assess_higher(request: HttpRequest, pk: int) -> HttpResponse:
    """Assess a defect at a higher level."""
    found = get_object_or_404(Defect, pk=pk)
    user = signed_in(request)
    told: dict[str, object] = {"defect": found, "page": HIGHER_PAGE}
    try:
        stands = standing(found)
        if request.method != "POST":
            refuse_step(stands, HIGHER_PAGE.step)
    except ValidationError as refusal:
        told["refusal"] = refusal
        return render(request, "defects/step_refused.html", told, status=409)
    person = person_of(user)
    form = filled(
        HigherForm,
        request,
        defect=found,
        standing=stands,
        signer=person,
        initial={"on": present()},
    )
    if recorded(form, lambda: form.apply(by=user)) is not None:
        return redirect(found)
    told |= {"form": form, "standing": stands, "signer": person}
    return render(request, "defects/step.html", told)
