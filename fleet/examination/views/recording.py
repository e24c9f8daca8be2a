"""Recording, correcting and retracting a test."""

from collections.abc import Callable
from functools import partial
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.examination.forms import (
    CorrectionForm,
    RetractionForm,
    TestForm,
    carried_over,
)
from fleet.examination.leak_forms import BUTTON, worked_out
from fleet.examination.models import Procedure, ProcedureRevision, Test, TestRecord
from fleet.examination.recording import (
    OTHER_LINES,
    once,
    other_revision,
    shown_revision,
)
from fleet.examination.services import (
    correct_test,
    record_test,
    retract_test,
    revision_in_force,
)
from fleet.examination.subjects import (
    Tested,
    item_tested,
    last_record,
    place_of,
    suited_procedures,
    tested_in,
    tested_named,
    vehicle_tested,
)
from fleet.examination.trace_forms import reading_asked, traces_read
from fleet.people.access import needs, person_of, signed_in
from fleet.records.clock import today
from fleet.ui.forms import add_refusal


@needs("record_facts")
def test_add(request: HttpRequest) -> HttpResponse:
    """Record a test: ask what is tested, then by which procedure, then its lines."""
    tested = _tested(request)
    if tested is None:
        return _choose_tested(request)
    procedure = _procedure(request)
    if procedure is None:
        return _choose_procedure(request, tested)
    return _record(request, tested, procedure)


@needs("record_facts")
def test_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct a test: its form again, prefilled, with the reason."""
    record = _sent_from(request, pk)
    if not record.is_current and request.method == "GET":
        return redirect(record.test)
    tested = tested_in(record)
    procedure = record.procedure_revision.procedure
    form = _filled(
        partial(
            CorrectionForm,
            correcting=record,
            previous=last_record(procedure, tested, record),
        ),
        request,
        record.procedure_revision,
    )
    if (
        _sent(request)
        and form.is_valid()
        and (saved := _save(form, lambda: _correct(request, form, record)))
    ):
        messages.success(request, "The correction. Both versions are shown below.")
        return redirect(saved.test)
    return _sheet(request, form, tested, correcting=record)


@needs("record_facts")
def test_retract(request: HttpRequest, pk: int) -> HttpResponse:
    """Retract a test that should never have been recorded."""
    record = _sent_from(request, pk)
    form = RetractionForm(request.POST or None, initial={"record": record.pk})
    if form.is_valid() and _save(form, lambda: _retract(request, form, record)):
        messages.success(request, "The retraction. The test counts no more.")
        return redirect(record.test)
    context = {
        "question": "Retract this test?",
        "detail": f"{record}. It stays to be seen, crossed out, and counts no more.",
        "form": form,
        "yes": "Retract it",
        "back": record.test.get_absolute_url(),
        "grave": True,
    }
    return render(request, "ui/confirm.html", context)


def _choose_tested(request: HttpRequest) -> HttpResponse:
    asked = request.GET.get("q", "")
    context = {"asked": asked, "found": tested_named(asked)}
    return render(request, "examination/choose_tested.html", context)


def _choose_procedure(request: HttpRequest, tested: Tested) -> HttpResponse:
    context = {
        "tested": tested,
        "suited": suited_procedures(tested, today()),
        "place": place_of(tested.equipment) if tested.equipment else "",
    }
    return render(request, "examination/choose_procedure.html", context)


def _record(request: HttpRequest, tested: Tested, procedure: Procedure) -> HttpResponse:
    previous = last_record(procedure, tested)
    initial = {"done_by": person_of(signed_in(request))}
    form = _filled(
        partial(TestForm, vehicle=tested.vehicle, previous=previous, initial=initial),
        request,
        _in_force(procedure),
    )
    if (
        _sent(request)
        and form.is_valid()
        and (saved := _save(form, lambda: _add(request, form, tested, procedure)))
    ):
        messages.success(request, f"{saved}: {saved.result.label.lower()}.")
        return redirect(saved.test)
    return _sheet(request, form, tested, previous=previous)


def _filled(
    make: Callable[..., TestForm], request: HttpRequest, otherwise: ProcedureRevision
) -> TestForm:
    """Return the form as sent, with the lines of the revision in force on its day."""
    if request.method != "POST":
        return make(of=otherwise)
    revisions = otherwise.procedure.revisions.current()
    shown = shown_revision(revisions, request.POST.get("revision"), otherwise)
    if BUTTON in request.POST:
        return _worked_out(make, request, shown)
    if reading_asked(request.POST, request.FILES):
        read: TestForm = traces_read(
            partial(make, of=shown), request.POST, request.FILES
        )
        return read
    form = make(request.POST, of=shown)
    right = form.is_valid() and other_revision(shown, form.cleaned_data["on"])
    if not right:
        return form
    carried = carried_over(request.POST, form, make(request.POST, of=right))
    form = make(carried, of=right)
    form.full_clean()
    form.add_error("on", OTHER_LINES.format(right.number))
    return form


def _sent(request: HttpRequest) -> bool:
    """Say whether a test was sent to be recorded, not to work a rate or read a trace."""
    asked = BUTTON in request.POST or reading_asked(request.POST, request.FILES)
    return request.method == "POST" and not asked


def _worked_out(
    make: Callable[..., TestForm], request: HttpRequest, shown: ProcedureRevision
) -> TestForm:
    form: TestForm = worked_out(partial(make, of=shown), request.POST)
    return form


def _add(
    request: HttpRequest, form: TestForm, tested: Tested, procedure: Procedure
) -> TestRecord:
    return record_test(
        by=signed_in(request),
        procedure=procedure,
        readings=form.readings(),
        **tested.row,
        **form.facts(),
    )


def _correct(request: HttpRequest, form: TestForm, record: TestRecord) -> TestRecord:
    return correct_test(
        by=signed_in(request),
        record=record,
        reason=form.cleaned_data["reason"],
        readings=form.readings(),
        **form.facts(),
    )


def _retract(
    request: HttpRequest, form: RetractionForm, record: TestRecord
) -> TestRecord:
    reason = form.cleaned_data["reason"]
    return retract_test(by=signed_in(request), record=record, reason=reason)


def _save(
    form: TestForm | RetractionForm, save: Callable[[], TestRecord]
) -> TestRecord | None:
    try:
        return once(form.cleaned_data["submission"], save)
    except ValidationError as refusal:
        if isinstance(form, TestForm):
            form.refuse(refusal)
        else:
            add_refusal(form, refusal)
        return None


def _sheet(
    request: HttpRequest, form: TestForm, tested: Tested, **more: Any
) -> HttpResponse:
    context = {"form": form, "revision": form.of, "tested": tested, **more}
    return render(request, "examination/test_form.html", context)


def _tested(request: HttpRequest) -> Tested | None:
    for name, find in (("vehicle", vehicle_tested), ("equipment", item_tested)):
        key = request.GET.get(name, "")
        if key:
            found = find(int(key)) if key.isdigit() else None
            if found is None:
                raise Http404
            return found
    return None


def _procedure(request: HttpRequest) -> Procedure | None:
    code = request.GET.get("procedure", "")
    return get_object_or_404(Procedure, code=code) if code else None


def _in_force(procedure: Procedure) -> ProcedureRevision:
    try:
        return revision_in_force(procedure, today())
    except ValidationError:
        raise Http404 from None


def _sent_from(request: HttpRequest, pk: int) -> TestRecord:
    """Return the record a page was sent from, which may be superseded since."""
    test = get_object_or_404(Test, pk=pk)
    versions = {record.pk: record for record in test.records.for_page().order_by("pk")}
    sent = request.POST.get("record", "")
    newest: TestRecord = versions[max(versions)]
    return versions.get(int(sent), newest) if sent.isdigit() else newest
