"""Every vehicle that ever carried an item of a type, a batch, an overhauler, a kit."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from django.db.models import Count, Q, QuerySet

from fleet.engineering.calendar import Moment, Order, order_of
from fleet.fitness.status import numbers_of
from fleet.fitness.storing import among
from fleet.register.managers import FittingQuerySet
from fleet.register.models import (
    Equipment,
    EquipmentVersion,
    Fitting,
    HoseParticulars,
    OverhaulVersion,
)

LONGEST = 2_000  # fittings shown


@dataclass(frozen=True, slots=True)
class Asked:
    """Which items are traced; what is empty does not narrow them."""

    kind: str = ""
    designation: str = ""
    batch: str = ""
    overhauler: str = ""
    kit: str = ""

    @property
    def anything(self) -> bool:
        """Say whether anything narrows the items."""
        return any((self.kind, self.designation, self.batch, self.overhauler, self.kit))

    @property
    def by_overhaul(self) -> bool:
        """Say whether items are traced by who overhauled them, or with what."""
        return bool(self.overhauler or self.kit)


@dataclass(frozen=True, slots=True)
class TraceRow:
    """An item on a vehicle, from when to when, and where it is now."""

    vehicle: int
    number: str
    equipment: int
    serial: str
    position: str
    since: Moment
    until: Moment | None
    now_on: int | None  # another vehicle, or the same one again
    now: str
    overhauls: tuple[OverhaulVersion, ...]
    before: bool  # it was off again before every overhaul that is traced


@dataclass(frozen=True, slots=True)
class Traced:
    """What a trace found; `rows` the newest first, `more` of them left out."""

    rows: list[TraceRow] = field(default_factory=list)
    items: int = 0
    vehicles: int = 0
    now: int = 0
    more: int = 0


def traced(asked: Asked) -> Traced:
    """Find where items of one sort have ever been; seven queries, however many."""
    items = _items(asked)
    carried = Fitting.objects.current().on_vehicles().filter(equipment__in=items)
    told = carried.aggregate(
        rows=Count("pk"),
        vehicles=Count("vehicle", distinct=True),
        now=Count("pk", filter=Q(until_key__isnull=True)),
    )
    return Traced(
        _rows(carried, asked),
        items.count(),
        told["vehicles"],
        told["now"],
        max(0, told["rows"] - LONGEST),
    )


def _items(asked: Asked) -> QuerySet[Equipment]:
    """Return the items that ever were of the sort."""
    items = Equipment.objects.all()
    ever = EquipmentVersion.objects.current()
    if asked.kind:
        items = items.filter(kind=asked.kind)
    if asked.designation:
        like = ever.filter(designation__iexact=asked.designation)
        items = items.filter(pk__in=like.values("equipment"))
    if asked.batch:
        hoses = HoseParticulars.objects.current().filter(batch__iexact=asked.batch)
        items = items.filter(pk__in=hoses.values("equipment"))
    if asked.by_overhaul:
        done = OverhaulVersion.objects.done(asked.overhauler, asked.kit)
        items = items.filter(pk__in=done.values("equipment"))
    return items


def _rows(carried: FittingQuerySet, asked: Asked) -> list[TraceRow]:
    newest = list(carried.order_by("-since_key", "-pk")[:LONGEST])
    keys = {row.equipment_id for row in newest}
    held = EquipmentVersion.objects.current().filter(equipment__in=among(keys))
    serials = dict(held.order_by("since_key").values_list("equipment", "serial"))
    places = _places(keys)
    on_now = {p.vehicle_id for p in places.values() if p.vehicle_id is not None}
    numbers = numbers_of({row.vehicle_id for row in newest} | on_now)
    overhauls = _overhauls(keys, asked)
    return [
        TraceRow(
            row.vehicle_id,
            numbers.get(row.vehicle_id, f"vehicle {row.vehicle_id}"),
            row.equipment_id,
            serials[row.equipment_id],
            row.position,
            row.since,
            row.until,
            places[row.equipment_id].vehicle_id if row.equipment_id in places else None,
            _now(places.get(row.equipment_id), numbers),
            overhauls.get(row.equipment_id, ()),
            _before(row.until, overhauls.get(row.equipment_id, ())),
        )
        for row in newest
    ]


def _places(keys: Iterable[int]) -> dict[int, Fitting]:
    """Return where each item is now; an item without a place is not in it."""
    held = Fitting.objects.current().open_ended().filter(equipment__in=among(keys))
    return {row.equipment_id: row for row in held.select_related("store")}


def _now(place: Fitting | None, numbers: Mapping[int, str]) -> str:
    if place is None:
        return "not recorded"
    if place.vehicle_id is None:
        return f"in store at {place.store}"
    return numbers.get(place.vehicle_id, f"vehicle {place.vehicle_id}")


def _overhauls(
    keys: Iterable[int], asked: Asked
) -> dict[int, tuple[OverhaulVersion, ...]]:
    """Return the overhauls of each item that are traced; all where none is named."""
    done = OverhaulVersion.objects.done(asked.overhauler, asked.kit)
    found: dict[int, tuple[OverhaulVersion, ...]] = {}
    for row in done.filter(equipment__in=among(keys)).order_by("-on_earliest", "-pk"):
        found[row.equipment_id] = (*found.get(row.equipment_id, ()), row)
    return found


def _before(until: Moment | None, overhauls: Iterable[OverhaulVersion]) -> bool:
    """Say whether an item was certainly off a vehicle before each of its overhauls."""
    if until is None:
        return False
    orders = {order_of(until, row.on) for row in overhauls}
    return orders == {Order.BEFORE}
