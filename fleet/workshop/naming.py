"""What vehicles, types, places and contractors that are pointed at are called now."""

from fleet.register.models import EquipmentVersion, TypeRevision, VehicleVersion
from fleet.upkeep.models import RequirementRevision
from fleet.workshop.models import ContractorVersion, ShopPlaceVersion


def type_names() -> dict[int, str]:
    """Return what the newest revision calls each type. One query."""
    rows = TypeRevision.objects.current().order_by("number")
    return dict(rows.values_list("type", "name"))


def vehicle_numbers(keys: set[int]) -> dict[int, str]:
    """Return the number that each of some vehicles bears now. One query."""
    rows = VehicleVersion.objects.newest().filter(vehicle__in=keys)
    return dict(rows.values_list("vehicle", "number"))


def requirement_titles(keys: set[int | None]) -> dict[int | None, str]:
    """Return the title of each of some requirements, as the newest revision has it."""
    rows = RequirementRevision.objects.current().filter(requirement__in=keys - {None})
    return dict(rows.order_by("number").values_list("requirement", "title"))


def item_serials(keys: set[int | None]) -> dict[int | None, str]:
    """Return the serial number that each of some items bears now. One query."""
    rows = EquipmentVersion.objects.newest().filter(equipment__in=keys - {None})
    return dict(rows.values_list("equipment", "serial"))


def place_names() -> dict[int, str]:
    """Return the name of each place, also of one that is gone. One query."""
    rows = ShopPlaceVersion.objects.filter(closed_by__isnull=True)
    return dict(rows.values_list("place", "name"))


def contractor_names() -> dict[int, str]:
    """Return the name of each contractor, also of one no longer used. One query."""
    rows = ContractorVersion.objects.filter(closed_by__isnull=True)
    return dict(rows.values_list("contractor", "name"))


def type_name(key: int) -> str:
    """Return what a type is called."""
    return type_names().get(key, f"type {key}")


def vehicle_number(key: int) -> str:
    """Return the number a vehicle bears."""
    return vehicle_numbers({key}).get(key, f"vehicle {key}")


def place_name(key: int) -> str:
    """Return what a place is called."""
    return place_names().get(key, f"place {key}")
