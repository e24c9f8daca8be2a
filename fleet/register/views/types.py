"""Pages of vehicle types: list, positions by revision, define and revise."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.people.access import needs, signed_in
from fleet.records.clock import today
from fleet.records.views import filled, recorded
from fleet.register.forms.figures import FiguresSheet
from fleet.register.forms.types import PlacesForm, TypeForm
from fleet.register.models import TypeRevision, VehicleType
from fleet.register.services.types import figures_held
from fleet.register.tables import TypeTable
from fleet.ui.tables import paged


def type_list(request: HttpRequest) -> HttpResponse:
    """List the types of vehicle."""
    table = TypeTable(TypeRevision.objects.for_list(), order_by="code")
    return render(request, "register/type_list.html", {"table": paged(table, request)})


def type_page(request: HttpRequest, code: str) -> HttpResponse:
    """Show a type's positions, revision by revision."""
    type_ = get_object_or_404(VehicleType, code=code)
    revisions = list(TypeRevision.objects.current().for_page(type_))
    told = {"type": type_, "revisions": revisions, "today": today()}
    return render(request, "register/type.html", told)


@needs("edit_register")
def type_add(request: HttpRequest) -> HttpResponse:
    """Define a type with its positions and brake figures."""
    form = filled(TypeForm, request, initial={"effective_from": today()})
    sheet = _sheet(request)
    if _sound(sheet) and recorded(
        form, lambda: form.define(by=signed_in(request), **_said(sheet))
    ):
        messages.success(request, "The type is defined.")
        return redirect("register:type", form.cleaned_data["code"])
    return render(request, "register/type_form.html", {"form": form, **sheet})


@needs("edit_register")
def type_revise(request: HttpRequest, code: str) -> HttpResponse:
    """Give a type other positions or brake figures from a day on."""
    newest = get_object_or_404(TypeRevision.objects.for_list(), type__code=code)
    start = {"name": newest.name, "source": newest.source, "effective_from": today()}
    form = filled(TypeForm, request, initial=start, revising=newest.type)
    sheet = _sheet(request, newest)
    if _sound(sheet) and recorded(
        form, lambda: form.revise(by=signed_in(request), **_said(sheet))
    ):
        messages.success(request, "The revision is recorded.")
        return redirect("register:type", code)
    told = {"form": form, "newest": newest, **sheet}
    return render(request, "register/type_form.html", told)


def _sheet(request: HttpRequest, newest: TypeRevision | None = None) -> dict[str, Any]:
    data = request.POST if request.method == "POST" else None
    held = PlacesForm.held(newest) if newest else None
    return {
        "places": PlacesForm(data, prefix="places", initial=held),
        "figures": FiguresSheet(data, figures_held(newest) if newest else None),
    }


def _sound(sheet: dict[str, Any]) -> bool:
    """Say whether every part is valid, and have all of them say what is wrong."""
    sound = [part.is_valid() for part in sheet.values()]
    return all(sound)


def _said(sheet: dict[str, Any]) -> dict[str, Any]:
    return {name: part.said() for name, part in sheet.items()}
