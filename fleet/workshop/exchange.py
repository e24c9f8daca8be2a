"""Exchange units: what is there of each group, what is away, what comes back when."""

import datetime as dt
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, QuerySet

from fleet.register.models import Equipment, EquipmentVersion, Fitting
from fleet.register.vocabulary import EquipmentState
from fleet.workshop.engine.problem import WEEK, Float
from fleet.workshop.lapsed import Lapse, lapsed_units
from fleet.workshop.models import (
    ConsignmentItem,
    ConsignmentVersion,
    ContractorVersion,
    ExchangeGroupVersion,
    UnitReturn,
)


@dataclass(frozen=True, slots=True)
class Coming:
    """Units of one consignment that are still away, and the day they are expected."""

    group: str
    expected_on: dt.date
    units: int
    contractor: int | None


def floats(
    start: dt.date, weeks: int, *, on: dt.date | None = None
) -> tuple[Float, ...]:
    """
    Return the exchange units of every described group over so many weeks from a Monday.

    The stock is what lies in a store, serviceable, not overdue itself and in no open
    consignment, as the register stands now. A unit that is away counts from the first
    week that begins on or after the day it is expected, so that work planned for that
    Monday can be begun with it. `on` is the day this is asked (the start, where it is not given): what was
    expected before it and is not back is overdue and counts for nothing until a new day
    is given. The turnaround is the group's own, else its contractor's; neither: a unit
    taken off does not come back. Seven queries at most.
    """
    asked = on or start
    stock = serviceable_in_store(asked)
    returns: dict[str, Counter[int]] = {}
    for one in coming():
        week = max(0, -((start - one.expected_on).days // WEEK))
        if one.expected_on >= asked and week < weeks:
            returns.setdefault(one.group, Counter())[week] += one.units
    held = ExchangeGroupVersion.objects.current().select_related("group")
    lead = lead_weeks()
    return tuple(
        Float(
            group=row.group.code,
            label=row.label,
            stock=stock[row.group.code],
            turnaround=turnaround_of(row, lead),
            returns=tuple(sorted(returns.get(row.group.code, {}).items())),
        )
        for row in held.order_by("group__code")
    )


def turnaround_of(row: ExchangeGroupVersion, lead: Mapping[int, int]) -> int | None:
    """Return the weeks until a unit taken off is serviceable again; None: never."""
    if row.turnaround_weeks is not None:
        return row.turnaround_weeks
    return None if row.contractor_id is None else lead.get(row.contractor_id)


def lead_weeks() -> dict[int, int]:
    """Return the weeks each contractor takes, by contractor. One query."""
    rows = ContractorVersion.objects.current()
    return dict(rows.values_list("contractor", "lead_weeks"))


def serviceable_in_store(today: dt.date) -> Counter[str]:
    """Return the number of units of each group that could be fitted today. Three queries at most."""
    units = list(serviceable_units())
    overdue = lapsed_units(units, today)
    return Counter(u.group for u in units if u.equipment_id not in overdue)


def overdue_in_store(today: dt.date) -> dict[int, Lapse]:
    """Return the serviceable units in store whose own work is overdue. Three queries at most."""
    return lapsed_units(list(serviceable_units()), today)


def serviceable_units() -> QuerySet[EquipmentVersion]:
    """Return the units that lie in a store, are serviceable and not recorded as away."""
    lying = EquipmentVersion.objects.newest().in_stores().exclude(group="")
    away = items_away().filter(equipment=OuterRef("equipment"))
    ready: QuerySet[EquipmentVersion] = lying.filter(
        ~Exists(away), state=EquipmentState.SERVICEABLE
    )
    return ready


def items_away() -> QuerySet[ConsignmentItem]:
    """Return the units of consignments that hold and that are not back."""
    back = UnitReturn.objects.current().filter(item=OuterRef("pk"))
    held = ConsignmentVersion.objects.current().filter(
        consignment=OuterRef("consignment")
    )
    return ConsignmentItem.objects.filter(Exists(held), ~Exists(back))


def coming() -> list[Coming]:
    """Return what is away, by consignment, the first expected first. Two queries."""
    away = Counter(items_away().values_list("consignment", flat=True))
    rows = ConsignmentVersion.objects.current().filter(consignment__in=list(away))
    rows = rows.select_related("consignment__group")
    return [
        Coming(
            row.consignment.group.code,
            row.expected_on,
            away[row.consignment_id],
            row.contractor_id,
        )
        for row in rows.order_by("expected_on", "pk")
    ]


def place_now(equipment: Equipment) -> Fitting | None:
    """Return where an item is now; None where no place is recorded."""
    rows = Fitting.objects.current().open_ended().filter(equipment=equipment)
    found: Fitting | None = rows.select_related("store").first()
    return found
