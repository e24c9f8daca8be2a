"""Pages of what the planner keeps: one thing and its history; add, change, end, put right."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from fleet.people.access import needs, signed_in
from fleet.records.clock import today
from fleet.records.views import filled, recorded
from fleet.ui.forms import SubmissionForm
from fleet.workshop.keeping import (
    CLOSURES,
    CONTRACTORS,
    HOURS,
    LINES,
    PLACES,
    Sort,
    add,
    change_from,
    correct,
    retract,
    revise,
)
from fleet.workshop.keeping_forms import (
    ClosureForm,
    ContractorForm,
    EndForm,
    HoursForm,
    KeptForm,
    LineForm,
    PlaceForm,
    RetractForm,
)
from fleet.workshop.showing import facts_of


@dataclass(frozen=True, slots=True)
class Sheet:
    """How one sort of thing is called on screens, its form, and the page it belongs to."""

    sort: Sort[Any]
    form: Any
    words: str
    page: str  # the name of the address
    ends: str = ""  # the column of its last day, where it can be ended
    changes_from: bool = False  # whether a change may hold from a day on


SHEETS = {
    "line": Sheet(LINES, LineForm, "line of the diary", "diary", ends="last"),
    "place": Sheet(
        PLACES, PlaceForm, "road or pit", "capacity", ends="last", changes_from=True
    ),
    "hours": Sheet(
        HOURS, HoursForm, "source of hours", "capacity", ends="last", changes_from=True
    ),
    "closure": Sheet(CLOSURES, ClosureForm, "closure", "capacity", ends="last"),
    "contractor": Sheet(
        CONTRACTORS, ContractorForm, "contractor", "capacity", ends="ended_on"
    ),
}


def kept(request: HttpRequest, what: str, pk: int) -> HttpResponse:
    """Show one thing that is kept: as it stands, and all it ever was."""
    sheet = _sheet(what)
    found = get_object_or_404(sheet.sort.identity, pk=pk)
    rows = sheet.sort.version.objects.filter(**{sheet.sort.key: found})
    versions = list(rows.select_related("opened_by__user").order_by("-pk"))
    context = {
        "sheet": sheet,
        "what": what,
        "subject": found,
        "newest": versions[0],
        "facts": facts_of(versions[0]),
        "versions": [(row, facts_of(row)) for row in versions],
        "back": reverse(f"workshop:{sheet.page}"),
    }
    return render(request, "workshop/kept.html", context)


@needs("plan_work")
def kept_add(request: HttpRequest, what: str) -> HttpResponse:
    """Take something new into what is kept."""
    sheet = _sheet(what)
    form: KeptForm = filled(sheet.form, request, initial=_offered(request))
    user = signed_in(request)
    if recorded(form, lambda: add(sheet.sort, by=user, **form.facts())):
        messages.success(request, f"The {sheet.words} is added.")
        return redirect(f"workshop:{sheet.page}")
    return _ask(
        request,
        form,
        question=f"Add a {sheet.words}",
        yes="Add it",
        back=reverse(f"workshop:{sheet.page}"),
    )


@needs("plan_work")
def kept_revise(request: HttpRequest, what: str, pk: int) -> HttpResponse:
    """Record that something is otherwise now."""
    sheet, version = _held(what, pk)
    user = signed_in(request)
    said = sheet.form.said(version)
    options = {"initial": said, "asks_from": sheet.changes_from}
    form: KeptForm = filled(sheet.form, request, **options)

    def write() -> None:
        kept: dict[str, Any] = {"by": user, "version": version, **form.facts()}
        if form.holds_from is None:
            revise(sheet.sort, **kept)
        else:
            change_from(sheet.sort, day=form.holds_from, **kept)

    done = _done(request, form, write, what, version)
    if done and form.holds_from:
        return redirect(f"workshop:{sheet.page}")  # where both pieces stand
    return done or _ask(
        request,
        form,
        question=f"Change this {sheet.words}",
        detail="The plan is otherwise now. What stood before is kept.",
        yes="Record the change",
        back=_address(what, version),
    )


@needs("plan_work")
def kept_correct(request: HttpRequest, what: str, pk: int) -> HttpResponse:
    """Put right what was written down wrongly."""
    sheet, version = _held(what, pk)
    user = signed_in(request)
    said = sheet.form.said(version)
    form: KeptForm = filled(sheet.form, request, initial=said, asks_why=True)

    def write() -> None:
        correct(sheet.sort, by=user, version=version, **form.facts())

    return _done(request, form, write, what, version) or _ask(
        request,
        form,
        question=f"Correct this {sheet.words}",
        yes="Record the correction",
        back=_address(what, version),
    )


@needs("plan_work")
def kept_end(request: HttpRequest, what: str, pk: int) -> HttpResponse:
    """Say from when something is there no longer."""
    sheet, version = _held(what, pk)
    user = signed_in(request)
    form = filled(EndForm, request, initial={"last": today()})
    if what == "contractor":
        form.fields["last"].label = "No longer used from"

    def write() -> None:
        day = {sheet.ends: form.cleaned_data["last"]}
        revise(sheet.sort, by=user, version=version, **day)

    return _done(request, form, write, what, version) or _ask(
        request,
        form,
        question=f"End this {sheet.words}?",
        yes="End it",
        back=_address(what, version),
    )


@needs("plan_work")
def kept_retract(request: HttpRequest, what: str, pk: int) -> HttpResponse:
    """Take something out again."""
    sheet, version = _held(what, pk)
    user = signed_in(request)
    form = filled(RetractForm, request)

    def write() -> None:
        reason = form.cleaned_data["reason"]
        retract(sheet.sort, by=user, version=version, reason=reason)

    return _done(request, form, write, what, version) or _ask(
        request,
        form,
        question=f"Take this {sheet.words} out?",
        detail="It counts for nothing from now on. That it stood here is kept.",
        yes="Take it out",
        back=_address(what, version),
        grave=True,
    )


def _sheet(what: str) -> Sheet:
    if what not in SHEETS:
        raise Http404
    return SHEETS[what]


def _held(what: str, pk: int) -> tuple[Sheet, Any]:
    sheet = _sheet(what)
    held = sheet.sort.version.objects.current()
    return sheet, get_object_or_404(held, **{sheet.sort.key: pk})


def _address(what: str, version: Any) -> str:
    subject = getattr(version, f"{_sheet(what).sort.key}_id")
    return reverse("workshop:kept", args=[what, subject])


def _offered(request: HttpRequest) -> dict[str, Any]:
    return {"first": today()} | {k: v for k, v in request.GET.items() if k == "first"}


def _done(
    request: HttpRequest,
    form: SubmissionForm,
    write: Callable[[], None],
    what: str,
    version: Any,
) -> HttpResponse | None:
    if not recorded(form, write):
        return None
    messages.success(request, f"The {_sheet(what).words} is changed.")
    return redirect(_address(what, version))


def _ask(request: HttpRequest, form: SubmissionForm, **told: Any) -> HttpResponse:
    return render(request, "ui/confirm.html", told | {"form": form})
