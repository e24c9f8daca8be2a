"""Pages on which a concession is agreed to, granted, corrected and ended early."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from fleet.people.access import may, needs, person_of, signed_in
from fleet.records.clock import today
from fleet.records.views import filled, recorded
from fleet.upkeep.concession_grants import (
    agree_concession,
    correct_grant,
    grant_concession,
)
from fleet.upkeep.concessions import withdraw_concession
from fleet.web.forms.concessions import (
    AgreeForm,
    CorrectForm,
    GrantForm,
    WithdrawForm,
)
from fleet.web.policy_concession_views import may_sign, sheet, version_of
from fleet.web.policy_concessions import counted_from


@needs("record_facts")
def concession_agree(request: HttpRequest, pk: int) -> HttpResponse:
    """Sign, as somebody entitled, that what was asked for is bearable."""
    version = version_of(pk)
    form = filled(AgreeForm, request)
    done = recorded(
        form,
        lambda: agree_concession(version=version, on=today(), **_signer(request)),
    )
    if done:
        messages.success(request, "You agreed to it. The manager has to accept it.")
        return redirect(version.concession)
    return sheet(request, form, version.concession, "Agree", version, signed=True)


@needs("edit_policy")
def concession_grant(request: HttpRequest, pk: int) -> HttpResponse:
    """Accept for the operator what an entitled person agreed to."""
    version = version_of(pk)
    form = filled(GrantForm, request, initial={"on": today()})
    done = recorded(
        form,
        lambda: grant_concession(
            version=version,
            on=form.cleaned_data["on"],
            counted_from=counted_from(version.concession),
            **_signer(request),
        ),
    )
    if done:
        messages.success(request, "The concession is granted.")
        return redirect(version.concession)
    return sheet(request, form, version.concession, "Grant", version, signed=True)


@needs("record_facts")
def concession_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Put right a grant that was written down wrongly."""
    version = version_of(pk)
    form = filled(CorrectForm, request, initial=CorrectForm.says(version))
    done = recorded(
        form,
        lambda: correct_grant(
            version=version,
            reason=form.cleaned_data["reason"],
            **_signer(request),
            **form.changes(version),
        ),
    )
    if done:
        messages.success(request, "The correction is recorded; both versions are kept.")
        return redirect(version.concession)
    return sheet(request, form, version.concession, "Correct", version, signed=True)


@needs("record_facts")
def concession_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """End a concession early."""
    version = version_of(pk)
    if not may(request.user, "edit_policy") and not may_sign(request, version):
        raise PermissionDenied(
            "This is for a manager, or who may agree to concessions."
        )
    form = filled(WithdrawForm, request, initial={"withdrawn_from": today()})
    done = recorded(
        form,
        lambda: withdraw_concession(
            by=signed_in(request),
            version=version,
            withdrawn_from=form.cleaned_data["withdrawn_from"],
            reason=form.cleaned_data["reason"],
        ),
    )
    if done:
        messages.success(request, "The withdrawal is recorded; it falls back then.")
        return redirect(version.concession)
    return sheet(request, form, version.concession, "Withdraw", version)


def _signer(request: HttpRequest) -> dict[str, Any]:
    user = signed_in(request)
    return {"by": user, "person": person_of(user)}
