"""Every vehicle that ever carried an item of a type, or of a batch of hoses."""

from dataclasses import dataclass

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.engineering.calendar import Moment
from fleet.fitness.status import numbers_of
from fleet.register.models import EquipmentVersion, Fitting, HoseParticulars
from fleet.register.vocabulary import EquipmentKind

LONGEST = 2_000  # fittings shown


class TraceForm(forms.Form):
    """Which items are traced."""

    kind = forms.ChoiceField(choices=EquipmentKind.choices())
    designation = forms.CharField(label="Type designation", required=False)
    batch = forms.CharField(label="Batch, of hoses", required=False)


@dataclass(frozen=True, slots=True)
class TraceRow:
    """An item on a vehicle, from when to when."""

    vehicle: int
    number: str
    equipment: int
    serial: str
    position: str
    since: Moment
    until: Moment | None


def trace(request: HttpRequest) -> HttpResponse:
    """Show where items of one sort have ever been; the newest first."""
    form = TraceForm(request.GET or None)
    rows: list[TraceRow] = []
    items = 0
    if form.is_valid():
        said = form.cleaned_data
        serials = _items(
            said["kind"], said["designation"].strip(), said["batch"].strip()
        )
        items, rows = len(serials), _rows(serials)
    context = {
        "form": form,
        "rows": rows,
        "items": items,
        "vehicles": len({row.vehicle for row in rows}),
        "now": sum(row.until is None for row in rows),
    }
    return render(request, "web/trace_items.html", context)


def _items(kind: str, designation: str, batch: str) -> dict[int, str]:
    """Return the items that ever were of the sort, with the serial they now bear."""
    ever = EquipmentVersion.objects.current().filter(kind=kind)
    if designation:
        ever = ever.filter(designation__iexact=designation)
    if batch:
        hoses = HoseParticulars.objects.current().filter(batch__iexact=batch)
        ever = ever.filter(equipment__in=hoses.values("equipment"))
    return dict(ever.order_by("since_key").values_list("equipment", "serial"))


def _rows(serials: dict[int, str]) -> list[TraceRow]:
    fittings = Fitting.objects.current().filter(
        equipment__in=list(serials), vehicle__isnull=False
    )
    newest = list(fittings.order_by("-since_key", "-pk")[:LONGEST])
    numbers = numbers_of([row.vehicle_id for row in newest])
    return [
        TraceRow(
            row.vehicle_id,
            numbers.get(row.vehicle_id, f"vehicle {row.vehicle_id}"),
            row.equipment_id,
            serials[row.equipment_id],
            row.position,
            row.since,
            row.until,
        )
        for row in newest
    ]
