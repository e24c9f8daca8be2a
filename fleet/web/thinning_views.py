"""Pages of what thins: the wear of a vehicle's blocks, the walls of a reservoir."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from fleet.records.clock import today
from fleet.register.models import (
    Equipment,
    EquipmentVersion,
    Vehicle,
    VehicleVersion,
)
from fleet.ui.cautions import caution
from fleet.upkeep.wear import wear_of
from fleet.web.surveys import surveys_of


def wear(request: HttpRequest, pk: int) -> HttpResponse:
    """Show how the blocks and the piston travel of a vehicle wear."""
    vehicle = get_object_or_404(Vehicle, pk=pk)
    versions = VehicleVersion.objects.current().filter(vehicle=vehicle)
    context = {
        "vehicle": vehicle,
        "version": versions.order_by("-since_key").first(),
        "wears": wear_of(vehicle, today()),
        "cautions": [caution("local_instruction")],
    }
    return render(request, "web/wear.html", context)


def surveys(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the thickness surveys of a vessel, and when it is to be surveyed again."""
    equipment = get_object_or_404(Equipment, pk=pk)
    versions = EquipmentVersion.objects.current().filter(equipment=equipment)
    context = {
        "equipment": equipment,
        "version": versions.order_by("-since_key").first(),
        "surveys": surveys_of(equipment, today()),
        "cautions": [caution("pressure_test"), caution("statutory")],
    }
    return render(request, "web/surveys.html", context)
