"""Counter-signing a test, and taking a signature back."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.examination.flags import flags_of
from fleet.examination.models import CounterSignature, Test, TestRecord
from fleet.examination.signing import counter_sign, retract_signature
from fleet.people.access import needs, person_of, signed_in
from fleet.records.moments import present
from fleet.records.views import filled, recorded
from fleet.register.forms.parts import moment_field
from fleet.ui.forms import SubmissionForm


class SignatureForm(SubmissionForm):
    """When it was looked over, and what there is to say."""

    on = moment_field("Counter-signed on")
    remark = forms.CharField(
        label="Remark",
        max_length=200,
        required=False,
        help_text="Such as: repeated the leakage reading myself.",
    )


class TakeBackForm(SubmissionForm):
    """Why a signature is taken back."""

    reason = forms.CharField(label="Why?", max_length=300)


@needs("record_facts")
def counter_signing(request: HttpRequest, pk: int) -> HttpResponse:
    """Sign for a test done by somebody who was not competent that day."""
    record = _record(pk)
    user = signed_in(request)
    person = person_of(user)
    form = filled(SignatureForm, request, initial={"on": present()})
    facts: dict[str, Any] = {"person": person, "record": record, "by": user}
    if recorded(form, lambda: counter_sign(**facts, **_said(form))):
        messages.success(request, "The counter-signature is recorded.")
        return redirect(record.test)
    lacking = flags_of([record])[record.pk].lacking
    context = {
        "question": "Counter-sign this test?",
        "detail": f"{record}, done by {record.done_by}, who held no competence"
        f"{f' for {lacking}' if lacking else ''} that day. You sign as {person}, for "
        "every reading as it stands. A correction after this wants another signature.",
        "form": form,
        "yes": "Counter-sign it",
        "back": record.test.get_absolute_url(),
    }
    return render(request, "ui/confirm.html", context)


@needs("record_facts")
def signature_retract(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a counter-signature back."""
    record = _record(pk)
    signature = get_object_or_404(CounterSignature.objects.current(), test=pk)
    form = filled(TakeBackForm, request)
    facts: dict[str, Any] = {"signature": signature, "record": record}
    facts["by"] = signed_in(request)
    if recorded(
        form, lambda: retract_signature(**facts, reason=form.cleaned_data["reason"])
    ):
        messages.success(request, "The signature is taken back.")
        return redirect(record.test)
    context = {
        "question": "Take this counter-signature back?",
        "detail": f"{signature} by {signature.by}. It stays to be seen.",
        "form": form,
        "yes": "Take it back",
        "back": record.test.get_absolute_url(),
        "grave": True,
    }
    return render(request, "ui/confirm.html", context)


def _said(form: SignatureForm) -> dict[str, Any]:
    return {name: form.cleaned_data[name] for name in ("on", "remark")}


def _record(pk: int) -> TestRecord:
    """Return the newest record of a test that still holds."""
    test = get_object_or_404(Test, pk=pk)
    found: TestRecord = get_object_or_404(
        test.records.current().select_related(
            "procedure_revision", "done_by", "test", "vehicle", "equipment"
        )
    )
    return found
