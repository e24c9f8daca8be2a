"""Drafts of procedures: the list, writing one, approving it."""

from collections.abc import Callable

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from fleet.examination.draft_forms import (
    DraftForm,
    LineForm,
    NewProcedureForm,
    head_initial,
    line_initial,
)
from fleet.examination.drafting import (
    approve_draft,
    begin_procedure,
    begin_revision,
    move_line,
    remove_line,
    throw_away,
    write_head,
    write_line,
    writers_of,
)
from fleet.examination.drafts import lines_in, read_draft
from fleet.examination.models import Procedure, ProcedureDraft
from fleet.people.access import may, needs, person_of, signed_in
from fleet.people.models import Person
from fleet.ui.forms import add_refusal

MEANWHILE = "Somebody else changed the draft meanwhile; this is how it stands now."


def draft_list(request: HttpRequest) -> HttpResponse:
    """Show the drafts somebody has begun."""
    drafts = ProcedureDraft.objects.select_related("procedure", "drafted_by")
    context = {"drafts": drafts, "may_draft": may(request.user, "plan_work")}
    return render(request, "examination/draft_list.html", context)


def draft_page(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a draft, what it changes, and write what stands about its lines."""
    draft = _draft(pk)
    writing = may(request.user, "plan_work")
    form = DraftForm(
        _sent(request, draft) if writing else None, initial=head_initial(draft)
    )
    if form.is_valid() and _kept(
        form,
        lambda: write_head(person=_person(request), draft=draft, **form.cleaned_data),
    ):
        messages.success(request, "The draft.")
        return redirect("examination:draft", pk=pk)
    return render(
        request,
        "examination/draft.html",
        _about(request, draft) | {"form": form, "may_draft": writing},
    )


@needs("plan_work")
def draft_add(request: HttpRequest, code: str) -> HttpResponse:
    """Begin the next revision of a procedure, or go on with the one begun."""
    procedure = get_object_or_404(Procedure, code=code)
    if request.method == "POST":
        draft = begin_revision(person=_person(request), procedure=procedure)
        return redirect("examination:draft", pk=draft.pk)
    context = {
        "question": "Begin the next revision?",
        "detail": f"A draft of {code} with the lines of the newest revision. Nothing "
        "changes until somebody else has approved it.",
        "yes": "Begin a draft",
        "back": reverse("examination:procedure", args=[code]),
    }
    return render(request, "ui/confirm.html", context)


@needs("plan_work")
def procedure_new(request: HttpRequest) -> HttpResponse:
    """Begin a procedure that is new."""
    form = NewProcedureForm(request.POST or None)
    if form.is_valid():
        try:
            draft = begin_procedure(person=_person(request), **form.cleaned_data)
        except ValidationError as refusal:
            add_refusal(form, refusal)
        else:
            return redirect("examination:draft", pk=draft.pk)
    return render(request, "examination/procedure_new.html", {"form": form})


@needs("plan_work")
def draft_line(
    request: HttpRequest, pk: int, number: int | None = None
) -> HttpResponse:
    """Write a line of a draft, or add one."""
    draft = _draft(pk)
    lines = lines_in(draft)
    if number is not None and not 1 <= number <= len(lines):
        raise Http404
    initial = line_initial(lines[number - 1]) if number else {}
    form = LineForm(_sent(request, draft), initial=initial)
    if form.is_valid() and _kept(
        form,
        lambda: write_line(
            person=_person(request), draft=draft, values=form.values(), number=number
        ),
    ):
        return redirect("examination:draft", pk=pk)
    context = {"form": form, "draft": draft, "number": number}
    return render(request, "examination/draft_line.html", context)


@needs("plan_work")
@require_POST
def draft_arrange(request: HttpRequest, pk: int, number: int, way: str) -> HttpResponse:
    """Move a line of a draft up or down, or take it out."""
    draft = _draft(pk)
    if _sent(request, draft) is None:
        return redirect("examination:draft", pk=pk)
    person = _person(request)
    try:
        if way == "remove":
            remove_line(person=person, draft=draft, number=number)
        else:
            move_line(person=person, draft=draft, number=number, by=_STEPS[way])
    except (ValidationError, KeyError):
        raise Http404 from None
    return redirect(reverse("examination:draft", args=[pk]) + "#lines")


@needs("plan_work")
def draft_discard(request: HttpRequest, pk: int) -> HttpResponse:
    """Throw a draft away."""
    draft = _draft(pk)
    if request.method == "POST":
        throw_away(draft=draft)
        messages.info(request, "The draft is thrown away; what is in force stays.")
        return redirect("examination:draft-list")
    context = {
        "question": "Throw this draft away?",
        "detail": f"{draft}. What is in force stays as it is.",
        "yes": "Throw it away",
        "back": reverse("examination:draft", args=[pk]),
        "grave": True,
    }
    return render(request, "ui/confirm.html", context)


@needs("edit_policy")
def draft_approve(request: HttpRequest, pk: int) -> HttpResponse:
    """Approve a draft, after seeing once more what it takes out and weakens."""
    draft = _draft(pk)
    form = forms.Form(_sent(request, draft))
    if form.is_valid():
        try:
            revision = approve_draft(
                by=signed_in(request), person=_person(request), draft=draft
            )
        except ValidationError as refusal:
            add_refusal(form, refusal)
        else:
            messages.success(request, f"{revision}, from {revision.effective_from}.")
            page = reverse("examination:procedure", args=[revision.procedure.code])
            return redirect(f"{page}?revision={revision.number}")
    return render(
        request,
        "examination/draft_approve.html",
        _about(request, draft) | {"form": form},
    )


_STEPS = {"up": -1, "down": 1}


def _draft(pk: int) -> ProcedureDraft:
    drafts = ProcedureDraft.objects.select_related("procedure", "drafted_by")
    found: ProcedureDraft = get_object_or_404(drafts, pk=pk)
    return found


def _person(request: HttpRequest) -> Person:
    return person_of(signed_in(request))


def _sent(request: HttpRequest, draft: ProcedureDraft) -> "dict[str, str] | None":
    """Return what was sent, unless the draft has changed since the page was read."""
    if request.method != "POST":
        return None
    if request.POST.get("seen") != draft.changed_at.isoformat():
        messages.warning(request, MEANWHILE)
        return None
    return request.POST


def _kept(form: forms.Form, write: Callable[[], ProcedureDraft]) -> bool:
    try:
        write()
    except ValidationError as refusal:
        add_refusal(form, refusal)
        return False
    return True


def _about(request: HttpRequest, draft: ProcedureDraft) -> dict[str, object]:
    writers = writers_of(draft)
    sheet = read_draft(draft)
    return {
        "draft": draft,
        "sheet": sheet,
        "last": sheet.last,
        "number": sheet.last.number + 1 if sheet.last else 1,
        "writers": writers,
        "mine": _person(request) in writers,
        "may_approve": may(request.user, "edit_policy"),
    }
