"""Pages of the authority to move a vehicle whose brake is isolated."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.defects import services
from fleet.defects.forms.moving import MoveForm, WithdrawForm
from fleet.defects.managers import number_of
from fleet.defects.models import Isolation, MoveAuthority
from fleet.defects.views.sending import recorded
from fleet.people.access import needs, person_of, signed_in
from fleet.records.clock import today
from fleet.records.views import filled


@needs("release_vehicles")
def move_authorise(request: HttpRequest, pk: int) -> HttpResponse:
    """Give leave to move an isolated vehicle within limits."""
    found = get_object_or_404(
        Isolation.objects.annotate(number=number_of("vehicle")), pk=pk
    )
    user = signed_in(request)
    form = filled(
        MoveForm, request, initial={"since": today(), "person": person_of(user)}
    )
    if recorded(form, lambda: form.apply(by=user, isolation=found)) is not None:
        return redirect(found)
    told = {
        "question": f"Authorise {found.number} to be moved with its "
        f"{found.brake.out.lower()}",
        "detail": "To where it is put right. The operator's rules for such a movement "
        "stay as they are; this records who gave leave, and within which limits.",
        "form": form,
        "yes": "Record the authority",
        "back": found.get_absolute_url(),
    }
    return render(request, "ui/confirm.html", told)


@needs("release_vehicles")
def move_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Withdraw an authority to move."""
    held = MoveAuthority.objects.current().select_related("isolation__vehicle")
    authority = get_object_or_404(held, pk=pk)
    form = filled(WithdrawForm, request, initial={"from_day": today()})

    def withdraw() -> MoveAuthority:
        said = form.cleaned_data
        return services.withdraw_authority(
            by=signed_in(request),
            authority=authority,
            from_day=said["from_day"],
            reason=said["reason"],
        )

    if recorded(form, withdraw) is not None:
        return redirect(authority.isolation)
    told = {
        "question": "Withdraw this authority to move?",
        "detail": f"{authority}. {authority.limits}",
        "form": form,
        "yes": "Withdraw it",
        "grave": True,
        "back": authority.isolation.get_absolute_url(),
    }
    return render(request, "ui/confirm.html", told)
