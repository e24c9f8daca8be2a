"""Pages of equipment: list, one item's life, add, alter, correct."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.people.access import needs, signed_in
from fleet.records.moments import present
from fleet.records.views import filled, recorded
from fleet.register.filters import EquipmentFilter
from fleet.register.forms.equipment import (
    AddEquipmentForm,
    AlterEquipmentForm,
    CorrectEquipmentForm,
    EquipmentForm,
    KindForm,
)
from fleet.register.items import item_page, own_values
from fleet.register.models import Equipment, EquipmentVersion
from fleet.register.tables import EquipmentTable
from fleet.register.vocabulary import EquipmentKind
from fleet.ui.tables import paged


def equipment_list(request: HttpRequest) -> HttpResponse:
    """List equipment, wherever it is."""
    found = EquipmentFilter(request.GET, EquipmentVersion.objects.for_list())
    told = {"filter": found, "table": paged(EquipmentTable(found.qs), request)}
    return render(request, "register/equipment_list.html", told)


def equipment(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an item's life across vehicles and stores."""
    page = item_page(get_object_or_404(Equipment, pk=pk))
    return render(request, "register/equipment.html", {"page": page})


@needs("edit_register")
def equipment_add(request: HttpRequest) -> HttpResponse:
    """Take an item into the register: its kind first, then its particulars."""
    chosen = KindForm(request.GET or None)
    if not chosen.is_valid():
        return render(request, "register/equipment_kind.html", {"form": chosen})
    kind = EquipmentKind(chosen.cleaned_data["kind"])
    form = filled(AddEquipmentForm, request, kind=kind)
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        messages.success(request, f"{kind.label} {form.cleaned_data['serial']} added.")
        return redirect("register:equipment-list")
    return _sheet(
        request, form, None, title=f"Add: {kind.label.lower()}", deed="Add the item"
    )


@needs("edit_register")
def equipment_alter(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what is held of an item from a moment on."""
    version = _newest(pk)
    form = filled(
        AlterEquipmentForm,
        request,
        version=version,
        own=own_values(version.equipment),
        initial={"since": present()},
    )
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        messages.success(request, "The change is recorded; what held before stays.")
        return redirect(version.equipment)
    lead = "What held before stays as it was."
    return _sheet(
        request, form, version, title="Alter", deed="Record the change", lead=lead
    )


@needs("edit_register")
def equipment_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Put right what was written down wrongly of an item."""
    version = _newest(pk)
    form = filled(
        CorrectEquipmentForm,
        request,
        version=version,
        own=own_values(version.equipment),
    )
    if recorded(form, lambda: form.apply(by=signed_in(request))):
        messages.success(request, "The correction is recorded; both versions stay.")
        return redirect(version.equipment)
    lead = "For a slip of the pen or a plate read wrongly."
    return _sheet(
        request, form, version, title="Correct", deed="Record the correction", lead=lead
    )


def _newest(pk: int) -> EquipmentVersion:
    found: EquipmentVersion = get_object_or_404(
        EquipmentVersion.objects.newest().select_related("equipment"), equipment=pk
    )
    return found


def _sheet(
    request: HttpRequest,
    form: EquipmentForm,
    version: EquipmentVersion | None,
    **told: Any,
) -> HttpResponse:
    told |= {"form": form, "version": version}
    return render(request, "register/equipment_form.html", told)
