"""What the page of one item shows: its standing, its life, what was put right."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from fleet.register.models import (
    Equipment,
    EquipmentVersion,
    Fitting,
    OverhaulVersion,
    ReservoirParticulars,
)
from fleet.register.particulars import particulars_fields, particulars_table


@dataclass(frozen=True, slots=True)
class ItemPage:
    """An item as its page shows it; `life` has the newest place first."""

    equipment: Equipment
    version: EquipmentVersion
    own: tuple[tuple[str, Any], ...]
    life: tuple[Fitting, ...]
    standings: tuple[EquipmentVersion, ...]
    put_right: tuple[Fitting, ...]
    now: Fitting | None
    overhauls: tuple[OverhaulVersion, ...]  # also those put right since


def item_page(equipment: Equipment) -> ItemPage:
    """Read one item: six queries, however long its life."""
    rows = Fitting.objects.filter(equipment=equipment)
    life = tuple(rows.current().for_life().reverse())
    held = EquipmentVersion.objects.current().filter(equipment=equipment)
    standings = tuple(held.order_by("-since_key", "-pk").select_related("opened_by"))
    return ItemPage(
        equipment,
        standings[0],
        tuple(_own(equipment)),
        life,
        standings,
        tuple(rows.on_vehicles().put_right()),
        next((row for row in life if row.until is None), None),
        tuple(OverhaulVersion.objects.for_item(equipment)),
    )


def own_values(equipment: Equipment) -> dict[str, Any]:
    """Return the particulars an item's kind has of its own, by column; {} if none."""
    return _values(equipment, _held(equipment))


def _held(equipment: Equipment) -> Any:
    table = particulars_table(equipment.kind)
    if table is None:
        return None
    return table.objects.current().filter(equipment=equipment).open_ended().first()


def _values(equipment: Equipment, held: Any) -> dict[str, Any]:
    if held is None:
        return {}
    names = [field.name for field in particulars_fields(equipment.kind)]
    return {name: getattr(held, name) for name in names}


def plain(value: Any) -> Any:
    """Return a number without the noughts that only fill its column."""
    return f"{value.normalize():f}" if isinstance(value, Decimal) else value


def _own(equipment: Equipment) -> list[tuple[str, Any]]:
    held = _held(equipment)
    values = _values(equipment, held)
    fields = {f.name: f for f in particulars_fields(equipment.kind)}
    told = [
        (
            str(fields[name].verbose_name),
            dict(fields[name].flatchoices).get(value, plain(value)),
        )
        for name, value in values.items()
        if value not in {None, ""}
    ]
    if isinstance(held, ReservoirParticulars):
        told.append(("required thickness", held.required.words))
    return told
