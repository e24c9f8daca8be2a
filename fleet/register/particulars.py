"""Which kinds of equipment have particulars of their own, and in which table."""

from typing import TypeAlias

from django.db import models

from fleet.register.models import (
    DistributorParticulars,
    HoseParticulars,
    ReservoirParticulars,
)
from fleet.register.models.vessels import WALL_FIGURES
from fleet.register.vocabulary import HOSES, RESERVOIRS, EquipmentKind

Particulars: TypeAlias = (
    type[DistributorParticulars] | type[ReservoirParticulars] | type[HoseParticulars]
)

_VALVES = frozenset({EquipmentKind.DISTRIBUTOR, EquipmentKind.TRIPLE_VALVE})


def particulars_table(kind: str) -> Particulars | None:
    """Return the table of a kind's own particulars; None if it has none."""
    if kind in _VALVES:
        return DistributorParticulars
    if kind in RESERVOIRS:
        return ReservoirParticulars
    return HoseParticulars if kind in HOSES else None


def particulars_fields(kind: str) -> list["models.Field[object, object]"]:
    """Return the fields of a kind's own particulars, in the order of the table."""
    table = particulars_table(kind)
    if table is None:
        return []
    names = _FIELDS[table]
    if kind == EquipmentKind.VACUUM_RESERVOIR:
        names = tuple(name for name in names if name not in WALL_FIGURES)
    return [table._meta.get_field(name) for name in names]  # type: ignore[misc]  # own columns, no relation


_FIELDS: dict[Particulars, tuple[str, ...]] = {
    DistributorParticulars: ("timing", "bracket", "max_cylinder_bar"),
    ReservoirParticulars: (
        "volume_l",
        "working_pressure_bar",
        "minimum_thickness_mm",
        *WALL_FIGURES,
    ),
    HoseParticulars: ("length_mm", "coupling", "batch"),
}
