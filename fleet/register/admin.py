"""Admin of the register: depots are edited here, facts only looked at."""

from django.contrib import admin

from fleet.records.admin import ReadOnlyAdmin
from fleet.register.models import (
    Depot,
    DistributorParticulars,
    EquipmentVersion,
    Fitting,
    HoseParticulars,
    OverhaulVersion,
    Position,
    ReservoirParticulars,
    StoragePeriod,
    TypeRevision,
    Usage,
    VehicleVersion,
)


@admin.register(Depot)
class DepotAdmin(admin.ModelAdmin[Depot]):
    """Places vehicles belong to and equipment is stored at."""

    list_display = ("code", "name")
    search_fields = ("code", "name")


@admin.register(VehicleVersion)
class VehicleVersionAdmin(ReadOnlyAdmin):
    """Particulars of vehicles, every version."""

    list_display = ("number", "type", "status", "since", "until", "change")
    list_filter = ("change", "status")
    list_select_related = ("type",)
    search_fields = ("number",)


@admin.register(EquipmentVersion)
class EquipmentVersionAdmin(ReadOnlyAdmin):
    """What was held of items, every version."""

    list_display = ("serial", "kind", "state", "since", "until", "change")
    list_filter = ("change", "kind", "state")
    search_fields = ("serial",)


@admin.register(Fitting)
class FittingAdmin(ReadOnlyAdmin):
    """Where items were, every version."""

    list_display = ("equipment", "vehicle", "position", "since", "until", "change")
    list_filter = ("change",)
    list_select_related = ("equipment", "vehicle")


@admin.register(TypeRevision)
class TypeRevisionAdmin(ReadOnlyAdmin):
    """Revisions of vehicle types."""

    list_display = ("type", "number", "name", "effective_from")
    list_select_related = ("type",)


@admin.register(Position)
class PositionAdmin(ReadOnlyAdmin):
    """Positions of vehicle types."""

    list_display = ("code", "label", "kind", "scope", "mandatory", "revision")
    list_filter = ("kind", "scope")
    list_select_related = ("revision",)


@admin.register(Usage)
class UsageAdmin(ReadOnlyAdmin):
    """Miles and days in service."""

    list_display = ("vehicle", "first", "last", "miles", "days", "change")
    list_select_related = ("vehicle",)


@admin.register(StoragePeriod)
class StoragePeriodAdmin(ReadOnlyAdmin):
    """Periods out of use."""

    list_display = ("vehicle", "since", "until", "place", "change")
    list_select_related = ("vehicle",)


@admin.register(DistributorParticulars, ReservoirParticulars, HoseParticulars)
class RatingsAdmin(ReadOnlyAdmin):
    """Particulars a kind has of its own."""

    list_display = ("equipment", "since", "until", "change")
    list_select_related = ("equipment",)


@admin.register(OverhaulVersion)
class OverhaulVersionAdmin(ReadOnlyAdmin):
    """Who overhauled items, every version."""

    list_display = ("equipment", "overhauler", "kit_batch", "on_earliest", "change")
    list_filter = ("change",)
    list_select_related = ("equipment",)
    search_fields = ("overhauler", "certificate", "kit_batch")
