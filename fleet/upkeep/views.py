"""Pages of the operator's policy: its parts with all revisions, drafts, approval."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from fleet.people.access import may, needs, person_of, signed_in
from fleet.records.clock import today
from fleet.ui.forms import add_refusal
from fleet.upkeep.drafting import (
    approve_draft,
    begin_draft,
    begin_new,
    throw_away,
    write_draft,
)
from fleet.upkeep.drafts import changes_in, last_revision, revisions_of, writers_of
from fleet.upkeep.forms import DraftForm, NewForm
from fleet.upkeep.models import PolicyDraft
from fleet.upkeep.reading import alone, lines_of, parts
from fleet.upkeep.vocabulary import PolicyKind

GENERAL = "general"  # in addresses, the code of what there is only one of
MEANWHILE = "Somebody else changed the draft meanwhile; this is how it stands now."


def policy(request: HttpRequest) -> HttpResponse:
    """Show every requirement and line of the matrix, and the drafts that are open."""
    told = {
        "requirements": parts(PolicyKind.REQUIREMENT, today()),
        "matrix": parts(PolicyKind.MATRIX, today()),
        "alone": alone(),
        "drafts": PolicyDraft.objects.select_related("drafted_by"),
        "may_draft": may(request.user, "plan_work"),
        "today": today(),
    }
    return render(request, "upkeep/policy.html", told)


def part(request: HttpRequest, kind: str, code: str) -> HttpResponse:
    """Show one part of the policy, with all its revisions."""
    key = _key(kind, code)
    revisions = list(
        revisions_of(kind, key).select_related(
            "opened_by__user", "drafted_by", "approved_by"
        )
    )
    if not revisions:
        raise Http404
    begun = [r for r in revisions if r.effective_from <= today()]
    asked = request.GET.get("revision", "")
    named = [r for r in revisions if str(r.number) == asked]
    shown = (named or begun or revisions)[0]
    told = {
        "kind": kind,
        "code": code,
        "key": key,
        "shown": shown,
        "title": getattr(shown, "title", "") or PolicyKind(kind).label,
        "lines": lines_of(kind, shown),
        "revisions": revisions,
        "newest": revisions[0],
        "in_force": begun[0] if begun else None,
        "draft": PolicyDraft.objects.filter(kind=kind, code=key).first(),
        "may_draft": may(request.user, "plan_work"),
        "withdrawable": not PolicyKind(kind).alone
        and revisions[0].withdrawn_from is None,
    }
    return render(request, "upkeep/part.html", told)


@needs("plan_work")
def draft_add(request: HttpRequest, kind: str, code: str) -> HttpResponse:
    """Begin the next revision of a part, from its newest or from an older one."""
    key = _key(kind, code)
    number = request.GET.get("from", "")
    withdraws = request.GET.get("withdraw") == "1" and not PolicyKind(kind).alone
    if number and not number.isdigit():
        raise Http404
    if request.method == "POST":
        try:
            begun = begin_draft(
                person=person_of(signed_in(request)),
                kind=kind,
                code=key,
                number=int(number) if number else None,
                withdraws=withdraws,
            )
        except ValidationError as refusal:
            raise Http404(refusal.messages[0]) from None
        return redirect("upkeep:draft", begun.pk)
    told = {
        "question": "Draft its withdrawal?"
        if withdraws
        else "Draft the next revision?",
        "detail": f"{code}{f', as revision {number} had it' if number else ''}. Nothing "
        "changes until somebody else has approved it.",
        "yes": "Begin a draft",
        "back": reverse("upkeep:part", args=[kind, code]),
    }
    return render(request, "ui/confirm.html", told)


@needs("plan_work")
def new(request: HttpRequest, kind: str) -> HttpResponse:
    """Begin a requirement or a line of the matrix that is new."""
    if kind not in (PolicyKind.REQUIREMENT, PolicyKind.MATRIX):
        raise Http404
    form = NewForm(request.POST or None)
    if form.is_valid():
        try:
            begun = begin_new(
                person=person_of(signed_in(request)),
                kind=kind,
                code=form.cleaned_data["code"],
                content={},
            )
        except ValidationError as refusal:
            add_refusal(form, refusal)
        else:
            return redirect("upkeep:draft", begun.pk)
    told = {"form": form, "label": PolicyKind(kind).label}
    return render(request, "upkeep/new.html", told)


def draft(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a draft and what it changes, and write in it."""
    found = _draft(pk)
    writing = may(request.user, "plan_work")
    form = DraftForm.of(found, _sent(request, found) if writing else None)
    if form.is_valid() and _kept(form, lambda: _written(request, found, form)):
        messages.success(request, "The draft is kept.")
        return redirect("upkeep:draft", pk)
    told = _about(request, found) | {"form": form, "may_draft": writing}
    return render(request, "upkeep/draft.html", told)


@needs("edit_policy")
def draft_approve(request: HttpRequest, pk: int) -> HttpResponse:
    """Approve a draft, after seeing once more what it changes."""
    found = _draft(pk)
    form = forms.Form(_sent(request, found))
    if form.is_valid() and _kept(
        form,
        lambda: approve_draft(
            by=signed_in(request), person=person_of(signed_in(request)), draft=found
        ),
    ):
        messages.success(request, "Approved. It holds from its day on.")
        return redirect("upkeep:part", found.kind, found.code or GENERAL)
    return render(
        request, "upkeep/draft_approve.html", _about(request, found) | {"form": form}
    )


@needs("plan_work")
def draft_discard(request: HttpRequest, pk: int) -> HttpResponse:
    """Throw a draft away."""
    found = _draft(pk)
    if request.method == "POST":
        throw_away(draft=found)
        messages.info(request, "The draft is thrown away; what is in force stays.")
        return redirect("upkeep:policy")
    told = {
        "question": "Throw this draft away?",
        "detail": f"{found}. What is in force stays as it is.",
        "yes": "Throw it away",
        "back": reverse("upkeep:draft", args=[pk]),
        "grave": True,
    }
    return render(request, "ui/confirm.html", told)


def _key(kind: str, code: str) -> str:
    """Return the code of a part in the tables; 404 for a kind there is not."""
    if kind not in set(PolicyKind):
        raise Http404
    return "" if PolicyKind(kind).alone else code


def _draft(pk: int) -> PolicyDraft:
    drafts = PolicyDraft.objects.select_related("drafted_by")
    found: PolicyDraft = get_object_or_404(drafts, pk=pk)
    return found


def _sent(request: HttpRequest, found: PolicyDraft) -> Any:
    """Return what was sent, unless the draft has changed since the page was read."""
    if request.method != "POST":
        return None
    if request.POST.get("seen") != found.changed_at.isoformat():
        messages.warning(request, MEANWHILE)
        return None
    return request.POST


def _written(request: HttpRequest, found: PolicyDraft, form: DraftForm) -> PolicyDraft:
    return write_draft(
        person=person_of(signed_in(request)),
        draft=found,
        content=form.content(),
        reason=form.cleaned_data["because"],
        effective_from=form.cleaned_data["effective_from"],
    )


def _kept(form: Any, write: Callable[[], Any]) -> bool:
    try:
        write()
    except ValidationError as refusal:
        add_refusal(form, refusal)
        return False
    return True


def _about(request: HttpRequest, found: PolicyDraft) -> dict[str, Any]:
    writers = writers_of(found)
    last = last_revision(found)
    whole = bool(found.content) or found.withdraws
    return {
        "draft": found,
        "label": PolicyKind(found.kind).label,
        "address": found.code or GENERAL,
        "last": last,
        "whole": whole,
        "changes": changes_in(found) if whole else None,
        "writers": writers,
        "mine": person_of(signed_in(request)) in writers,
        "may_approve": may(request.user, "edit_policy"),
    }
