"""Addresses of this slice."""

from django.urls import path

from fleet.register.views import equipment, fittings, overhauls, types, vehicles

app_name = "register"

_PLACE = "vehicles/<int:pk>/positions/<slug:slug>/"

urlpatterns = [
    path("vehicles/", vehicles.vehicle_list, name="vehicle-list"),
    path("vehicles/add/", vehicles.vehicle_add, name="vehicle-add"),
    path("vehicles/<int:pk>/alter/", vehicles.vehicle_alter, name="vehicle-alter"),
    path(
        "vehicles/<int:pk>/correct/", vehicles.vehicle_correct, name="vehicle-correct"
    ),
    path("vehicles/<int:pk>/usage/", vehicles.usage_add, name="usage-add"),
    path("vehicles/<int:pk>/store/", vehicles.vehicle_store, name="vehicle-store"),
    path("vehicles/<int:pk>/return/", vehicles.vehicle_return, name="vehicle-return"),
    path(_PLACE, fittings.position, name="position"),
    path(f"{_PLACE}fit/", fittings.fit, name="fit"),
    path(f"{_PLACE}exchange/", fittings.exchange, name="exchange"),
    path(f"{_PLACE}take-off/", fittings.take_off, name="take-off"),
    path(
        "fittings/<int:pk>/correct/", fittings.fitting_correct, name="fitting-correct"
    ),
    path(
        "fittings/<int:pk>/retract/", fittings.fitting_retract, name="fitting-retract"
    ),
    path("equipment/", equipment.equipment_list, name="equipment-list"),
    path("equipment/add/", equipment.equipment_add, name="equipment-add"),
    path("equipment/<int:pk>/", equipment.equipment, name="equipment"),
    path(
        "equipment/<int:pk>/alter/", equipment.equipment_alter, name="equipment-alter"
    ),
    path(
        "equipment/<int:pk>/correct/",
        equipment.equipment_correct,
        name="equipment-correct",
    ),
    path("equipment/<int:pk>/overhauled/", overhauls.overhaul_add, name="overhaul-add"),
    path(
        "overhauls/<int:pk>/correct/",
        overhauls.overhaul_correct,
        name="overhaul-correct",
    ),
    path(
        "overhauls/<int:pk>/retract/",
        overhauls.overhaul_retract,
        name="overhaul-retract",
    ),
    path("types/", types.type_list, name="type-list"),
    path("types/add/", types.type_add, name="type-add"),
    path("types/<slug:code>/", types.type_page, name="type"),
    path("types/<slug:code>/revise/", types.type_revise, name="type-revise"),
]
