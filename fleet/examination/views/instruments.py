"""Pages of test gauges and rigs: the list, one with its calibrations, and the forms."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.engineering.calendar import Moment
from fleet.examination.instrument_forms import (
    AddInstrumentForm,
    AlterInstrumentForm,
    CalibrationForm,
    CorrectCalibrationForm,
    RetractCalibrationForm,
)
from fleet.examination.instrument_page import instrument_page
from fleet.examination.models import Calibration, Instrument, InstrumentVersion
from fleet.examination.tables import InstrumentTable
from fleet.people.access import needs, signed_in
from fleet.records.clock import today
from fleet.records.moments import present
from fleet.records.views import filled, recorded
from fleet.ui.forms import SubmissionForm
from fleet.ui.tables import paged

CALIBRATED = "The calibration is recorded; the tests it bears on are judged anew."


def instrument_list(request: HttpRequest) -> HttpResponse:
    """Show the instruments, those due first."""
    rows = InstrumentVersion.objects.for_list()
    table = paged(InstrumentTable(rows, today()), request)
    return render(request, "examination/instrument_list.html", {"table": table})


def instrument(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an instrument, its calibrations, and the tests it puts in question."""
    page = instrument_page(get_object_or_404(Instrument, pk=pk), today())
    return render(request, "examination/instrument.html", {"page": page})


@needs("edit_register")
def instrument_add(request: HttpRequest) -> HttpResponse:
    """Take an instrument into the register."""
    initial = {"since": present()}
    form = filled(AddInstrumentForm, request, initial=initial)
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        messages.success(request, f"{form.cleaned_data['number']} added.")
        return redirect("examination:instrument-list")
    return _sheet(request, form, None, title="Add an instrument", deed="Add it")


@needs("edit_register")
def instrument_alter(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what is held of an instrument from a moment on, or withdraw it."""
    version = _newest(pk)
    initial = {"since": present()}
    form = filled(AlterInstrumentForm, request, version=version, initial=initial)
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        messages.success(request, "The change is recorded; what held before stays.")
        return redirect(version.instrument)
    lead = (
        "What held before stays as it was. A withdrawn instrument vouches for no test."
    )
    return _sheet(
        request, form, version, title="Alter", deed="Record the change", lead=lead
    )


@needs("record_facts")
def instrument_calibrate(request: HttpRequest, pk: int) -> HttpResponse:
    """Record a calibration: how it was found, and how it was left."""
    version = _newest(pk)
    initial = {"on": Moment.on(today())}
    form = filled(CalibrationForm, request, version=version, initial=initial)
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        messages.success(request, CALIBRATED)
        return redirect(version.instrument)
    lead = _allowed(version)
    return _sheet(
        request, form, version, title="Calibration", deed="Record it", lead=lead
    )


@needs("record_facts")
def calibration_correct(
    request: HttpRequest, pk: int, calibration: int
) -> HttpResponse:
    """Put a calibration right."""
    row, version = _calibration(pk, calibration), _newest(pk)
    form = filled(CorrectCalibrationForm, request, version=version, calibration=row)
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        messages.success(request, CALIBRATED)
        return redirect(version.instrument)
    told = {"title": "Correct a calibration", "deed": "Record the correction"}
    return _sheet(request, form, version, lead=_allowed(version), **told)


@needs("record_facts")
def calibration_retract(
    request: HttpRequest, pk: int, calibration: int
) -> HttpResponse:
    """Say that a calibration was never done."""
    row = _calibration(pk, calibration)
    form = filled(RetractCalibrationForm, request)
    user = signed_in(request)
    if recorded(form, lambda: form.apply(by=user, calibration=row)):
        messages.success(request, "The retraction. The calibration counts no more.")
        return redirect(row.instrument)
    context = {
        "question": "Retract this calibration?",
        "detail": f"{row}. It stays to be seen, crossed out, and counts no more.",
        "form": form,
        "yes": "Retract it",
        "back": row.instrument.get_absolute_url(),
        "grave": True,
    }
    return render(request, "ui/confirm.html", context)


def _allowed(version: InstrumentVersion) -> str:
    if not version.limit_words:
        return "No range and accuracy class are recorded, so it cannot be judged."
    return f"{version.range_words}: an error of {version.limit_words} is allowed."


def _newest(pk: int) -> InstrumentVersion:
    found: InstrumentVersion = get_object_or_404(
        InstrumentVersion.objects.current().open_ended().select_related("instrument"),
        instrument=pk,
    )
    return found


def _calibration(pk: int, calibration: int) -> Calibration:
    found: Calibration = get_object_or_404(
        Calibration.objects.current().select_related("instrument"),
        pk=calibration,
        instrument=pk,
    )
    return found


def _sheet(
    request: HttpRequest,
    form: SubmissionForm,
    version: InstrumentVersion | None,
    **told: Any,
) -> HttpResponse:
    told |= {"form": form, "version": version}
    return render(request, "examination/instrument_form.html", told)
