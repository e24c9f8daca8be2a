"""Fleet notices: how far each has got, issue one, sign items off, close it."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.examination.models import Procedure
from fleet.people.access import needs, person_of, signed_in
from fleet.records.clock import today
from fleet.records.views import filled, recorded
from fleet.register.forms.parts import day_field
from fleet.register.models import Equipment
from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from fleet.ui.forms import SubmissionForm
from fleet.upkeep.models import FleetNotice, FleetNoticeVersion
from fleet.upkeep.notices import (
    close_notice,
    issue_notice,
    progress,
    sign_item_off,
    standing,
)


class IssueForm(SubmissionForm):
    """What a notice asks, of which items, with what effect."""

    code = forms.SlugField(max_length=20, help_text="Short, for good: fn-2026-1.")
    title = forms.CharField(max_length=100)
    source = forms.CharField(max_length=200, help_text="Who says so, which document.")
    kind = forms.ChoiceField(
        label="Items of which kind", choices=EquipmentKind.choices()
    )
    designation = forms.CharField(
        label="Of which type designation",
        max_length=30,
        required=False,
        help_text="Left empty: all of the kind. An item of none recorded is taken in.",
    )
    serials = forms.CharField(
        label="Only these serial numbers",
        required=False,
        help_text="One to a line; left empty: all of them.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    action = forms.CharField(label="What is to be done to each", max_length=200)
    procedure = forms.ModelChoiceField(
        Procedure.objects.all(),
        label="Met by passing",
        required=False,
        empty_label="No procedure: each is signed off",
    )
    scope = forms.ChoiceField(label="Bears on", choices=Scope.choices())
    effect = forms.ChoiceField(label="What is not done", choices=Effect.choices())
    effective_from = day_field("Bears on the brake status from")


class SignForm(SubmissionForm):
    """When an item was dealt with, and how."""

    on = day_field("Done on")
    note = forms.CharField(label="What was done", max_length=200)


class CloseForm(SubmissionForm):
    """Why a notice is closed."""

    reason = forms.CharField(label="Why?", max_length=300)


def notice_list(request: HttpRequest) -> HttpResponse:
    """Show every notice."""
    rows = FleetNoticeVersion.objects.current().select_related("notice")
    context = {"rows": rows.order_by("closed_on", "effective_from"), "today": today()}
    return render(request, "web/notices.html", context)


def notice(request: HttpRequest, code: str) -> HttpResponse:
    """Show one notice, and how far it has got."""
    found = get_object_or_404(FleetNotice, code=code)
    held = standing(found)
    items = progress(held)
    context = {
        "notice": found,
        "held": held,
        "items": items,
        "done": sum(item.done_on is not None for item in items),
        "versions": found.versions.select_related("opened_by__user").order_by("pk"),
    }
    return render(request, "web/notice.html", context)


@needs("edit_policy")
def notice_add(request: HttpRequest) -> HttpResponse:
    """Issue a notice."""
    user = signed_in(request)
    form = filled(IssueForm, request, initial={"effective_from": today()})

    def write() -> None:
        said = dict(form.cleaned_data)
        said.pop("submission", None)
        said["serials"] = said["serials"].splitlines()
        issue_notice(by=user, **said)

    if recorded(form, write):
        return redirect("web:notice", form.cleaned_data["code"])
    context = {
        "question": "Issue a fleet notice?",
        "detail": "Every item it means today is kept with it. From its day on, what is "
        "not done bears on the brake status of the vehicle that carries it.",
        "form": form,
        "yes": "Issue it",
        "back": "/notices/",
    }
    return render(request, "ui/confirm.html", context)


@needs("record_facts")
def notice_sign(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Sign an item off."""
    found = get_object_or_404(FleetNotice, code=code)
    item = get_object_or_404(Equipment, pk=pk)
    user = signed_in(request)
    form = filled(SignForm, request, initial={"on": today()})
    facts: dict[str, Any] = {"by": user, "person": person_of(user)}

    def write() -> None:
        said = {name: form.cleaned_data[name] for name in ("on", "note")}
        sign_item_off(notice=found, equipment=item, **facts, **said)

    if recorded(form, write):
        return redirect(found)
    context = {
        "question": f"Sign this item off for notice {code}?",
        "detail": f"{standing(found).action} You sign as {person_of(user)}.",
        "form": form,
        "yes": "Sign it off",
        "back": found.get_absolute_url(),
    }
    return render(request, "ui/confirm.html", context)


@needs("edit_policy")
def notice_close(request: HttpRequest, code: str) -> HttpResponse:
    """Close a notice."""
    found = get_object_or_404(FleetNotice, code=code)
    user = signed_in(request)
    form = filled(CloseForm, request)

    def write() -> None:
        reason = form.cleaned_data["reason"]
        close_notice(by=user, notice=found, on=today(), reason=reason)

    if recorded(form, write):
        messages.success(request, f"Notice {code} is closed.")
        return redirect(found)
    context = {
        "question": f"Close notice {code}?",
        "detail": "From today on it bears on nothing, done or not.",
        "form": form,
        "yes": "Close it",
        "back": found.get_absolute_url(),
        "grave": True,
    }
    return render(request, "ui/confirm.html", context)
