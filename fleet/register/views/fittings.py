"""Pages of positions: what is fitted there, and fit, take off, exchange, correct."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.people.access import needs, signed_in
from fleet.records.clock import today
from fleet.records.moments import present
from fleet.records.views import filled, recorded
from fleet.register.forms.fittings import (
    CorrectFittingForm,
    ExchangeForm,
    FitForm,
    RetractForm,
    TakeOffForm,
)
from fleet.register.models import Fitting
from fleet.register.places import PlacePage, place_page
from fleet.register.positions import revision_at
from fleet.ui.forms import SubmissionForm


def position(request: HttpRequest, pk: int, slug: str) -> HttpResponse:
    """Show what is fitted at a position, what was, and what can be done."""
    page = _page(pk, slug)
    return render(request, "register/position.html", {"page": page})


@needs("record_facts")
def fit(request: HttpRequest, pk: int, slug: str) -> HttpResponse:
    """Fit an item at an empty position."""
    page = _place(pk, slug)
    if page.fitted and request.method == "GET":
        return redirect("register:exchange", pk, slug)
    form = filled(
        FitForm,
        request,
        vehicle=page.vehicle,
        place=page.place,
        initial={"since": present()},
    )
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        return _done(request, page, "The item is fitted.")
    return _sheet(request, form, page, title="Fit", deed="Fit the item")


@needs("record_facts")
def exchange(request: HttpRequest, pk: int, slug: str) -> HttpResponse:
    """Take off what is fitted and fit another item, in one step."""
    page = _place(pk, slug)
    if not page.fitted and request.method == "GET":
        return redirect("register:fit", pk, slug)
    form = filled(
        ExchangeForm,
        request,
        vehicle=page.vehicle,
        place=page.place,
        initial={"at": present(), "to": page.version.depot_id},
    )
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        return _done(request, page, "The exchange is recorded.")
    return _sheet(request, form, page, title="Exchange", deed="Record the exchange")


@needs("record_facts")
def take_off(request: HttpRequest, pk: int, slug: str) -> HttpResponse:
    """Take an item off into a store."""
    page = _place(pk, slug)
    if not page.fitted and request.method == "GET":
        return redirect("register:position", pk, slug)
    start = {"at": present(), "to": page.version.depot_id}
    form = filled(TakeOffForm, request, initial=start)
    fitting = page.fitted or _last(page)
    if recorded(form, lambda: form.apply(by=signed_in(request), fitting=fitting)):
        return _done(request, page, "The item is off; the position is empty.")
    return _sheet(request, form, page, title="Take off", deed="Record it taken off")


@needs("record_facts")
def fitting_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Put right when or where an item was fitted."""
    fitting = _fitting(pk)
    assert fitting.vehicle is not None
    places = list(revision_at(fitting.vehicle, fitting.since).positions.all())
    form = filled(CorrectFittingForm, request, fitting=fitting, places=places)
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        messages.success(request, "The correction is recorded; both versions stay.")
        return redirect(fitting.equipment)
    told = {"form": form, "fitting": fitting}
    return render(request, "register/fitting_correct.html", told)


@needs("record_facts")
def fitting_retract(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that an item was never fitted there."""
    fitting = _fitting(pk)
    form = filled(RetractForm, request)
    if recorded(form, lambda: form.apply(by=signed_in(request), fitting=fitting)):
        messages.success(
            request, "The fitting is retracted; its record stays to be seen."
        )
        return redirect(fitting.equipment)
    told = {
        "question": "Was it never fitted there?",
        "detail": f"{fitting.serial} on {fitting.number}, {fitting.label or fitting.position}, from "  # type: ignore[attr-defined]  # added by for_life
        f"{fitting.since}. For an item that came off, record that instead.",
        "form": form,
        "yes": "Retract the fitting",
        "grave": True,
        "back": fitting.equipment.get_absolute_url(),
    }
    return render(request, "ui/confirm.html", told)


def _page(pk: int, slug: str) -> PlacePage:
    page = place_page(pk, slug, today())
    if page is None:
        raise Http404
    return page


def _place(pk: int, slug: str) -> PlacePage:
    """Return a position that the vehicle's type has today."""
    page = _page(pk, slug)
    if page.place is None:
        raise Http404
    return page


def _last(page: PlacePage) -> Fitting:
    """Return what came off last, for the refusal of taking it off twice."""
    if not page.history:
        raise Http404
    return page.history[0]


def _fitting(pk: int) -> Fitting:
    rows = Fitting.objects.current().on_vehicles().for_life()
    found: Fitting = get_object_or_404(
        rows.select_related("equipment", "vehicle"), pk=pk
    )
    return found


def _done(request: HttpRequest, page: PlacePage, words: str) -> HttpResponse:
    messages.success(request, words)
    return redirect("register:position", page.vehicle.pk, page.code)


def _sheet(
    request: HttpRequest, form: SubmissionForm, page: PlacePage, **told: Any
) -> HttpResponse:
    told |= {"form": form, "page": page}
    return render(request, "register/fitting_form.html", told)
