"""Filling a sum's form from the figures of a vehicle's type, where they are recorded."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from fleet.engineering.units import convert
from fleet.register.models import BrakeFigures, TypeRevision, Vehicle, VehicleVersion
from fleet.register.vocabulary import System
from fleet.web.sums.amounts import Amount

# Field of a form: column of the figures, and its unit ("" a plain number).
_FIELDS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "cylinders": ("cylinders", ""),
        "bore": ("bore_mm", "mm"),
        "travel": ("travel_mm", "mm"),
        "clearance": ("clearance_l", "l"),
        "reservoir": ("reservoir_volume_l", "l"),
        "above_piston": ("above_piston_l", "l"),
        "full": ("full_cylinder_bar", "bar"),
        "pressure": ("full_cylinder_bar", "bar"),
        "drop": ("full_drop_bar", "bar"),
        "pipe": ("pipe_volume_l", "l"),
        "ratio": ("ratio", ""),
        "efficiency": ("efficiency", ""),
        "blocks": ("blocks", ""),
        "spring": ("return_force_n", "N"),
        "braked_weight": ("braked_weight_t", "t"),
        "hand_brake": ("hand_brake_kn", "kN"),
    }
)


@dataclass(frozen=True, slots=True)
class Filled:
    """What fills a form, and where it is from."""

    vehicle: Vehicle
    number: str
    type_name: str
    source: str  # "" where the type has no figures for the system
    initial: dict[str, Any]


def filled_from(vehicle: Vehicle, system: System | None, day: dt.date) -> Filled | None:
    """
    Return what fills a form from a vehicle on a day; None where nothing is recorded then.

    `system` None takes the figures of whichever system comes first.
    """
    held = VehicleVersion.objects.current().filter(vehicle=vehicle).holding_on(day)
    version: VehicleVersion | None = held.last()
    if version is None:
        return None
    revision: TypeRevision | None = TypeRevision.objects.of_type(version.type_id, day)
    rows = (
        revision.figures.order_by("system") if revision else BrakeFigures.objects.none()
    )
    found = rows.filter(system=system).first() if system else rows.first()
    initial = _given(found) if found else {}
    if version.tare_t is not None:
        initial["mass"] = Amount(version.tare_t, "t")
    return Filled(
        vehicle,
        version.number,
        revision.name if revision else str(version.type_id),
        found.source if found else "",
        initial,
    )


def _given(row: BrakeFigures) -> dict[str, Any]:
    initial: dict[str, Any] = {}
    for name, (column, unit) in _FIELDS.items():
        value = getattr(row, column)
        if value is not None:
            initial[name] = Amount(value, unit) if unit else value
    if row.working_vacuum_mbar is not None:
        in_hg = convert(row.working_vacuum_mbar, "mbar", "inHg")
        initial["working"] = Amount(round(in_hg, 1), "inHg")
    if row.system == System.AIR:
        initial["charged"] = Amount(Decimal(5), "bar")  # common practice
    return initial
