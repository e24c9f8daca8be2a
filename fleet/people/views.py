"""Signing in and out, and the pages of competences."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.engineering.calendar import Moment
from fleet.people.access import SIGNED_IN_BEFORE, needs, signed_in
from fleet.people.competence import Held, matrix
from fleet.people.forms import CorrectForm, GrantForm, RetractForm, WithdrawForm
from fleet.people.models import Competence, CompetenceVersion, Skill
from fleet.records.clock import today
from fleet.records.views import filled, recorded
from fleet.ui.forms import SubmissionForm


class SignInView(LoginView):
    """Sign in, and keep for the session when the account had come in before."""

    template_name = "ui/login.html"
    redirect_authenticated_user = True

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """Note the time before this sign-in replaces it."""
        before = form.get_user().last_login
        answer = super().form_valid(form)
        if before is not None:
            self.request.session[SIGNED_IN_BEFORE] = before.isoformat()
        return answer


sign_in = SignInView.as_view()
sign_out = LogoutView.as_view()


def locked_out(
    request: HttpRequest, _response: Any = None, _credentials: Any = None
) -> HttpResponse:
    """Answer one who guessed too often, saying when to come back."""
    return render(request, "people/locked.html", status=429)


def competence_list(request: HttpRequest) -> HttpResponse:
    """Show every person beside every skill."""
    told = {"rows": matrix(today()), "skills": list(Skill), "today": today()}
    return render(request, "people/competence_list.html", told)


def competence(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one competence of a person: all it ever was."""
    found = get_object_or_404(Competence.objects.select_related("person"), pk=pk)
    versions = found.versions.select_related("opened_by__user").order_by("-pk")
    current = found.versions.current().order_by("-since_key")
    told = {
        "competence": found,
        "skill": Skill(found.skill),
        "held": [Held(version, today()) for version in current],
        "superseded": [Held(v, today()) for v in versions if not v.is_current],
    }
    return render(request, "people/competence.html", told)


@needs("edit_policy")
def competence_grant(request: HttpRequest) -> HttpResponse:
    """Record that a person was assessed to be able to do something."""
    initial: dict[str, Any] = {"since": Moment.on(today())}
    initial |= {
        key: request.GET[key] for key in ("person", "skill") if key in request.GET
    }
    form = filled(GrantForm, request, initial=initial)
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        messages.success(request, "The competence is recorded.")
        return redirect("people:competence-list")
    told = {"title": "Record a competence", "deed": "Record it"}
    return _sheet(request, form, None, **told)


@needs("edit_policy")
def competence_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Put right what was written down wrongly of a competence."""
    version = _version(pk)
    form = filled(CorrectForm, request, version=version)
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        messages.success(request, "The correction is recorded; both versions stay.")
        return redirect("people:competence", version.competence_id)
    return _sheet(
        request,
        form,
        version,
        title="Correct",
        deed="Record the correction",
        lead="Tests on days it did not hold then want a counter-signature.",
    )


@needs("edit_policy")
def competence_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """End a competence on a day."""
    version = _version(pk)
    initial = {"at": Moment.on(today())}
    form = filled(WithdrawForm, request, version=version, initial=initial)
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        messages.success(request, "The withdrawal is recorded; what was done stays.")
        return redirect("people:competence", version.competence_id)
    return _sheet(request, form, version, title="Withdraw", deed="Withdraw it")


@needs("edit_policy")
def competence_retract(request: HttpRequest, pk: int) -> HttpResponse:
    """Say that a competence was never rightly granted."""
    version = _version(pk)
    form = filled(RetractForm, request, version=version)
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        messages.success(request, "The retraction. It never held.")
        return redirect("people:competence", version.competence_id)
    return _sheet(
        request,
        form,
        version,
        title="Retract",
        deed="Retract it",
        lead="Every test done under it then wants a counter-signature.",
    )


def _version(pk: int) -> CompetenceVersion:
    found: CompetenceVersion = get_object_or_404(
        CompetenceVersion.objects.current().select_related("competence__person"), pk=pk
    )
    return found


def _sheet(
    request: HttpRequest,
    form: SubmissionForm,
    version: CompetenceVersion | None,
    **told: Any,
) -> HttpResponse:
    told |= {"form": form, "version": version}
    return render(request, "people/competence_form.html", told)
