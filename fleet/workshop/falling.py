"""
What falls due next on every vehicle, with all that planning needs to know of it.

A fixed number of queries, whatever the fleet. What follows from the records is read from
the stored due dates (fleet.fitness); here plans, items and usage are laid beside them.
"""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from django.db.models import Q

from fleet.fitness.deferring import Deferring, deferred_to, deferring
from fleet.fitness.models import DueDate, Stale
from fleet.register.models import (
    EquipmentVersion,
    Position,
    TypeRevision,
    Usage,
    VehicleVersion,
)
from fleet.register.vocabulary import (
    Effect,
    EquipmentKind,
    Fitment,
    Scope,
    System,
    VehicleStatus,
)
from fleet.upkeep.due import NOT_REACHED, Period, later
from fleet.upkeep.models import ConditionsRevision, RequirementRevision
from fleet.upkeep.usage import Limb, UsageRecord
from fleet.workshop.models import JobPlanVersion
from fleet.workshop.recurring import Rate

_WINDOW_DAYS = 365  # of the recent past, where no general conditions say
HOLDING = (Effect.DISCOUNT, Effect.ISOLATE, Effect.STOP)


class Item(NamedTuple):
    """An item of equipment as plans and lists name it."""

    kind: str
    serial: str
    group: str  # interchangeability; "" where none is recorded

    @property
    def words(self) -> str:
        """Return the item in words: "Distributor 1204"."""
        return f"{EquipmentKind(self.kind).label} {self.serial}"


class Place(NamedTuple):
    """A position of a type: what a fitter calls it, and what may be fitted."""

    label: str
    group: str


class _Log(NamedTuple):
    first: dt.date
    last: dt.date
    miles: float
    days: int


@dataclass(frozen=True, slots=True)
class Falling:
    """The next time that one requirement falls due on one vehicle or item of it."""

    vehicle: VehicleVersion
    code: str
    revision: int
    title: str
    equipment: int | None
    item: Item | None
    place: Place | None
    due_on: dt.date | None
    last_good: dt.date | None
    conceded: tuple[dt.date, int] | None  # last day of a standing concession, and which
    scope: Scope
    effect: Effect
    forecast: bool
    basis: str
    stale: bool

    @property
    def key(self) -> str:
        """Return the name of the job: requirement, vehicle, and the item if it has one."""
        key = f"{self.code}/{self.vehicle.vehicle_id}"
        return key if self.equipment is None else f"{key}/{self.equipment}"

    @property
    def never(self) -> bool:
        """Say whether it has no date because at the recorded usage it is not reached."""
        return self.due_on is None and NOT_REACHED in self.basis

    @property
    def undated(self) -> bool:
        """Say whether it was never done or cannot be dated: it counts as overdue."""
        return self.due_on is None and not self.never

    @property
    def good_to(self) -> dt.date | None:
        """Return the last day on which it holds nothing up, by leave where there is any."""
        return self.conceded[0] if self.conceded else self.last_good

    @property
    def group(self) -> str:
        """Return the interchangeability group of item or position; "" for none."""
        if self.item is None:
            return ""
        return self.item.group or (self.place.group if self.place else "")

    @property
    def holds(self) -> frozenset[System]:
        """Return the systems the vehicle may not count as braked for, once overrun."""
        return holds_systems(self.effect, self.scope) & braked_systems(self.vehicle)


def holds_systems(effect: Effect, scope: Scope) -> frozenset[System]:
    """
    Return the systems that an overrun of this effect and scope keeps from counting.

    As `fleet.fitness.verdict` has it: advice and conditions leave a vehicle braked,
    every heavier effect does not, on each system that the scope bears on.
    """
    return frozenset(scope.systems if effect in HOLDING else ())


def braked_systems(vehicle: VehicleVersion) -> frozenset[System]:
    """Return the systems a vehicle has a working brake of."""
    return frozenset(s for s in System if getattr(vehicle, s) == Fitment.BRAKED)


@dataclass(slots=True)
class Shop:
    """All that falls due, and what is known of the work."""

    falling: list[Falling] = field(default_factory=list)
    plans: dict[str, JobPlanVersion] = field(default_factory=dict)  # by requirement
    revisions: dict[str, list[RequirementRevision]] = field(default_factory=dict)
    rates: dict[int, Rate] = field(default_factory=dict)  # by vehicle

    def revision(self, code: str, on: dt.date) -> RequirementRevision | None:
        """Return the revision of a requirement that rules on a day; None once withdrawn."""
        begun = [r for r in self.revisions.get(code, ()) if r.effective_from <= on]
        newest = begun[-1] if begun else None
        if newest and newest.withdrawn_from and newest.withdrawn_from <= on:
            return None
        return newest

    def rate(self, vehicle: int) -> Rate:
        """Return what a vehicle does in a day; nothing where no usage is recorded."""
        return self.rates.get(vehicle, Rate())


def period_of(revision: RequirementRevision) -> Period:
    """Return the limits of a requirement as a period, without credit for storage."""
    return Period(
        revision.months,
        revision.days_in_service,
        revision.miles,
        revision.tolerance_days,
        revision.calendar_days,
    )


def shop_on(
    day: dt.date, *, wanted: Q | None = None, vehicle: int | None = None
) -> Shop:
    """
    Return all that falls due next, as recorded now and looked at on a day.

    `wanted` keeps some due dates, `vehicle` those of one vehicle. Vehicles withdrawn are
    left out. Eleven queries, whatever the fleet.
    """
    due = DueDate.objects.filter(wanted or Q())
    if vehicle is not None:
        due = due.filter(vehicle=vehicle)
    vehicles = _vehicles(vehicle)
    shop = Shop(
        plans=plans_by_code(),
        revisions=_revisions(),
        rates=_rates(day, vehicle),
    )
    items = _items(due)
    places = _places()
    stale = set(Stale.objects.values_list("vehicle", flat=True))
    conceded = deferring(day)
    for row in due.order_by("due_on", "requirement", "pk"):
        of = vehicles.get(row.vehicle_id)
        if of is None:
            continue
        shop.falling.append(
            Falling(
                vehicle=of,
                code=row.requirement,
                revision=row.revision,
                title=row.title,
                equipment=row.equipment_id,
                item=items.get(row.equipment_id) if row.equipment_id else None,
                place=places.get((of.type_id, row.position)),
                due_on=row.due_on,
                last_good=row.last_good_day,
                conceded=_conceded(row, conceded, day),
                scope=Scope(row.scope),
                effect=Effect(row.effect),
                forecast=row.forecast,
                basis=row.basis,
                stale=of.vehicle_id in stale,
            )
        )
    return shop


def _vehicles(vehicle: int | None) -> dict[int, VehicleVersion]:
    rows = VehicleVersion.objects.newest().exclude(status=VehicleStatus.WITHDRAWN)
    if vehicle is not None:
        rows = rows.filter(vehicle=vehicle)
    return {
        row.vehicle_id: row for row in rows.select_related("vehicle", "type", "depot")
    }


def plans_by_code() -> dict[str, JobPlanVersion]:
    """Return the job plans as they stand, by the code of the requirement: one query."""
    rows = JobPlanVersion.objects.current().select_related("plan__requirement")
    return {row.plan.requirement.code: row for row in rows}


def _revisions() -> dict[str, list[RequirementRevision]]:
    found: dict[str, list[RequirementRevision]] = {}
    rows = RequirementRevision.objects.current().select_related("requirement")
    for row in rows.order_by("requirement", "effective_from", "number"):
        found.setdefault(row.requirement.code, []).append(row)
    return found


def _items(due: Any) -> dict[int, Item]:
    named = due.filter(equipment__isnull=False).values("equipment")
    rows = EquipmentVersion.objects.newest().filter(equipment__in=named)
    values = rows.values_list("equipment", "kind", "serial", "group")
    return {key: Item(*rest) for key, *rest in values}


def _places() -> dict[tuple[int, str], Place]:
    """Return the positions of each type; of several revisions the newest counts."""
    rows = Position.objects.filter(revision__in=TypeRevision.objects.current())
    values = rows.order_by("revision__number").values_list(
        "revision__type", "code", "label", "group"
    )
    return {(of, code): Place(label, group) for of, code, label, group in values}


def _conceded(
    row: DueDate, conceded: Deferring, day: dt.date
) -> tuple[dt.date, int] | None:
    if row.last_good_day is None:
        return None
    subject = (None if row.equipment_id else row.vehicle_id, row.equipment_id)
    # Granted ahead, it holds from the day after the last good day.
    asked = max(day, later(row.last_good_day, 1))
    facts = conceded.get(subject, ())
    return deferred_to(
        facts, row.requirement, row.equipment_id, row.last_good_day, asked
    )


def _rates(day: dt.date, vehicle: int | None) -> dict[int, Rate]:
    """
    Return what each vehicle does in a day, by the window that forecasts use.

    A vehicle silent for longer than two windows has no rate: its usage says nothing.
    """
    held = ConditionsRevision.objects.in_force(day).values_list("usage_window_days")
    window = next((days for (days,) in held), _WINDOW_DAYS)
    rows = Usage.objects.current().filter(last__gte=later(day, -2 * window))
    if vehicle is not None:
        rows = rows.filter(vehicle=vehicle)
    records: dict[int, list[_Log]] = {}
    for key, first, last, miles, days in _logs(rows):
        records.setdefault(key, []).append(_Log(first, last, miles, days))
    return {key: _rate(UsageRecord(logs, window)) for key, logs in records.items()}


def _logs(rows: Any) -> Iterator[tuple[int, dt.date, dt.date, float, int]]:
    values = rows.order_by().values_list("vehicle", "first", "last", "miles", "days")
    for vehicle, first, last, miles, days in values.iterator(chunk_size=2_000):
        yield vehicle, first, last, float(miles), days


def _rate(record: UsageRecord) -> Rate:
    return Rate(record.a_day(Limb.DAYS), record.a_day(Limb.MILES))


def hours_of(plan: JobPlanVersion) -> Mapping[str, int]:
    """Return the hours of each skill that a plan asks for, in the order of skills."""
    return {skill: hours for skill, hours in sorted(plan.hours.items()) if hours}
