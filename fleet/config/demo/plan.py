"""Six years in the life of one demo vehicle, as rows not yet saved."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import count
from random import Random
from typing import Any

from django.db import models

from fleet.config.demo.fleetbook import Lapse, VehiclePlan, years_before
from fleet.config.demo.readings import readings
from fleet.config.demo.vouching import Vouchers
from fleet.engineering.calendar import Moment, add_months
from fleet.examination.asking import places_among, spread
from fleet.examination.models import ProcedureLine, ProcedureRevision, Test, TestRecord
from fleet.people.models import Person
from fleet.records.models import Entry, Kind
from fleet.register.models import (
    Depot,
    DistributorParticulars,
    Equipment,
    EquipmentVersion,
    Fitting,
    HoseParticulars,
    Position,
    ReservoirParticulars,
    Usage,
    Vehicle,
    VehicleType,
    VehicleVersion,
)
from fleet.register.vocabulary import (
    HOSES,
    RESERVOIRS,
    EquipmentKind,
    EquipmentState,
    Fitment,
)

BETWEEN_VISITS = dt.timedelta(days=352)
# Months after which the line renews or overhauls an item, a year inside its limit.
RENEWED = {
    EquipmentKind.BP_HOSE: 84,
    EquipmentKind.MR_HOSE: 84,
    EquipmentKind.VACUUM_HOSE: 84,
    EquipmentKind.DISTRIBUTOR: 84,
    EquipmentKind.TRIPLE_VALVE: 60,
    EquipmentKind.VACUUM_CYLINDER: 72,
    EquipmentKind.BRAKE_CYLINDER: 108,
    EquipmentKind.BRAKE_BLOCKS: 30,
}
EXAMINED = {
    EquipmentKind.AUXILIARY_RESERVOIR: ("aux-reservoir-exam", 48),
    EquipmentKind.CONTROL_RESERVOIR: ("control-reservoir-exam", 84),
    EquipmentKind.MAIN_RESERVOIR: ("main-reservoir-exam", 12),
    EquipmentKind.GAUGE: ("gauge-calibration", 12),
}
BENCH = {
    EquipmentKind.DISTRIBUTOR: "distributor-bench",
    EquipmentKind.TRIPLE_VALVE: "triple-bench",
    EquipmentKind.VACUUM_CYLINDER: "vacuum-cylinder-overhaul",
    EquipmentKind.BRAKE_CYLINDER: "cylinder-overhaul",
}
PREFIX = {
    EquipmentKind.BP_HOSE: "H",
    EquipmentKind.MR_HOSE: "HM",
    EquipmentKind.VACUUM_HOSE: "HV",
    EquipmentKind.DISTRIBUTOR: "D",
    EquipmentKind.TRIPLE_VALVE: "TV",
    EquipmentKind.BRAKE_CYLINDER: "CB",
    EquipmentKind.VACUUM_CYLINDER: "CV",
}
PRESSURE_BAR = {
    **dict.fromkeys((EquipmentKind.BP_HOSE, EquipmentKind.MR_HOSE), 12),
    **dict.fromkeys(RESERVOIRS, 10),
}


@dataclass(slots=True)
class Yard:
    """What every vehicle's life shares: the line's places, people, procedures, days."""

    today: dt.date
    entries: dict[dt.date, Entry]
    depots: dict[str, Depot]
    persons: list[Person]
    types: dict[str, tuple[VehicleType, list[Position], dict[str, Any]]]
    procedures: dict[str, tuple[ProcedureRevision, list[ProcedureLine]]]
    vouched: Vouchers
    serials: Iterator[int] = field(default_factory=lambda: count(1001))

    def entry(self, day: dt.date) -> Entry:
        """Return the entry of a day's sheets."""
        return self.entries[min(day, self.today)]


@dataclass(slots=True)
class Item:
    """An item of equipment while the plan runs."""

    row: Equipment
    version: EquipmentVersion
    fitting: Fitting
    position: Position
    fresh: dt.date  # counted from: made, or last overhauled
    examined: dt.date | None = None


class Life:
    """The rows of one vehicle, in the order in which they may be saved."""

    def __init__(self, plan: VehiclePlan, yard: Yard) -> None:
        self.plan, self.yard = plan, yard
        self.dice = Random(plan.number)
        self.lapse: Lapse = plan.lapse
        self.rows: dict[type[models.Model], list[models.Model]] = {}
        self.later: list[models.Model] = []  # versions that replace one of `rows`
        self.touched: set[dt.date] = set()
        age_days = 6 * 365 + self.dice.randrange(20, 330)
        self.began = yard.today - dt.timedelta(days=age_days)
        self.visits = self._visits()
        type_, self.positions, particulars = yard.types[plan.type]
        self.vehicle = self.add(Vehicle(created_by=self.note(self.began)))
        self.particulars = self.add(
            VehicleVersion(
                vehicle=self.vehicle,
                opened_by=self.note(self.began),
                number=plan.number,
                type=type_,
                depot=yard.depots[plan.depot],
                status="in_traffic",
                **{"since": Moment.on(self.began), **particulars},
            )
        )
        self.items = [self.first_item(position) for position in self.positions]
        for visit in self.visits:
            self.visit(visit)
        self.run()

    def _visits(self) -> list[dt.date]:
        days, day = [], self.began + dt.timedelta(days=3)
        while day <= self.yard.today - dt.timedelta(days=4):
            days.append(day)
            day += BETWEEN_VISITS - dt.timedelta(days=self.dice.randrange(12))
        return days

    def add(self, row: Any) -> Any:
        """Keep a row for saving."""
        self.rows.setdefault(type(row), []).append(row)
        return row

    def note(self, day: dt.date) -> Entry:
        """Return the entry of a day, and remember that it touched this vehicle."""
        self.touched.add(min(day, self.yard.today))
        return self.yard.entry(day)

    # -- equipment ---------------------------------------------------------------

    def first_item(self, position: Position) -> Item:
        """Fit what the vehicle came with; its age is spread over its renewal period."""
        kind = EquipmentKind(position.kind)
        months = RENEWED.get(kind, 120)
        age = self.dice.uniform(0.1, 0.8) * months / 12
        made = years_before(self.began, age)
        if position.code in self.lapse.keep and kind in RENEWED:
            # Overdue by a few weeks today: its limit is a year past the line's renewal.
            limit = add_months(self.yard.today, -(months + 12))
            made = min(limit - dt.timedelta(days=23), self.began)
        item = self.new_item(position, made, Moment.on(self.began))
        if kind in EXAMINED:
            self.examine(item, self.began, dt.time(9))
        return item

    def new_item(self, position: Position, made: dt.date, fitted: Moment) -> Item:
        """Make an item and fit it."""
        assert fitted.earliest is not None
        kind = EquipmentKind(position.kind)
        entry = self.note(fitted.earliest)
        row = self.add(Equipment(created_by=entry, kind=kind))
        serial = f"{PREFIX.get(kind, kind.label[0])}-{next(self.yard.serials):04d}"
        version = self.add(
            EquipmentVersion(
                equipment=row,
                opened_by=entry,
                kind=kind,
                serial=serial,
                group=position.group,
                bore_mm=position.bore_mm,
                pressure_bar=PRESSURE_BAR.get(kind),
                **self._made(position, kind, made),
            )
        )
        self._rate(row, kind, entry)
        fitting = self.add(
            Fitting(
                equipment=row,
                vehicle=self.vehicle,
                position=position.code,
                opened_by=entry,
                **_held_from(fitted),
            )
        )
        item = Item(row, version, fitting, position, made)
        if kind in BENCH:
            self.test(BENCH[kind], made, dt.time(11), equipment=row)
        return item

    def _made(
        self, position: Position, kind: EquipmentKind, made: dt.date
    ) -> dict[str, Any]:
        """Return make date columns: hoses by quarter or month, old parts by year."""
        if position.code in self.lapse.unknown:
            text = "unknown"
        elif kind in HOSES:
            quarter = f"{made.year}-Q{(made.month + 2) // 3}"
            text = self.dice.choice([quarter, f"{made:%Y-%m}", f"{made}"])
        else:
            text = self.dice.choice([f"{made}", f"{made:%Y-%m}", f"{made.year}"])
        moment = Moment.parse(text)
        return {
            "made_earliest": moment.earliest,
            "made_latest": moment.latest,
            "since": moment,
        }

    def _rate(self, row: Equipment, kind: EquipmentKind, entry: Entry) -> None:
        common = {"equipment": row, "opened_by": entry}
        if kind in (EquipmentKind.DISTRIBUTOR, EquipmentKind.TRIPLE_VALVE):
            timing = "passenger" if kind is EquipmentKind.DISTRIBUTOR else "goods"
            self.add(
                DistributorParticulars(timing=timing, max_cylinder_bar="3.8", **common)
            )
        elif kind in RESERVOIRS:
            volume = 25 if kind is EquipmentKind.CONTROL_RESERVOIR else 100
            self.add(
                ReservoirParticulars(volume_l=volume, working_pressure_bar=10, **common)
            )
        elif kind in HOSES:
            batch = f"{chr(65 + self.dice.randrange(6))}{self.dice.randrange(10, 99)}"
            self.add(
                HoseParticulars(
                    length_mm=620, coupling="Common pattern", batch=batch, **common
                )
            )

    def exchange(self, item: Item, day: dt.date) -> Item:
        """Take an item off for stores and fit a newer one, both at ten o'clock."""
        at = Moment.on(day, dt.time(10))
        entry = self.note(day)
        self._close(item.fitting, entry, until=at)
        self.add(
            Fitting(
                equipment=item.row,
                store=self.yard.depots["stores"],
                opened_by=entry,
                **_held_from(at),
            )
        )
        self._close(item.version, entry, until=at)
        worn = self._copy(
            item.version,
            entry,
            since=at,
            until=None,
            state=EquipmentState.UNSERVICEABLE,
            change=Kind.OPENED,
        )
        self.add(worn)
        made = day - dt.timedelta(days=self.dice.randrange(30, 200))
        return self.new_item(item.position, made, at)

    def _close(self, old: Any, entry: Entry, until: Moment) -> None:
        new = self._copy(old, entry, until=until, change=Kind.CONTINUED, replaces=old)
        old.closed_by = entry
        self.later.append(new)

    def _copy(self, old: Any, entry: Entry, **changes: Any) -> Any:
        own = {"id", "opened_by", "closed_by", "change", "reason", "replaces"}
        plain = {
            f.name: getattr(old, f.name)
            for f in old._meta.concrete_fields
            if f.name not in own
        }
        new = type(old)(**plain, opened_by=entry)
        for name, value in changes.items():
            setattr(new, name, value)
        return new

    # -- work --------------------------------------------------------------------

    def visit(self, day: dt.date) -> None:
        """Exchange what is due, then test and examine in the order of the shed."""
        for index, item in enumerate(self.items):
            kind = EquipmentKind(item.position.kind)
            if item.position.code in self.lapse.keep:
                continue
            if kind in RENEWED and add_months(item.fresh, RENEWED[kind]) <= day:
                self.items[index] = self.exchange(item, day)
            if kind in EXAMINED and self._exam_due(item, kind, day):
                self.examine(item, day, dt.time(9))  # these are examined in place
        for number, procedure in enumerate(self.procedures()):
            if self._left_out(procedure, day):
                continue
            at = dt.time(13 + number // 2, 30 * (number % 2))
            self.test(procedure, day, at, vehicle=self.vehicle)

    def _exam_due(self, item: Item, kind: EquipmentKind, day: dt.date) -> bool:
        last = item.examined
        return last is None or add_months(last, EXAMINED[kind][1]) <= day

    def examine(self, item: Item, day: dt.date, at: dt.time) -> None:
        """Examine an item where it sits."""
        item.examined = day
        procedure = EXAMINED[EquipmentKind(item.position.kind)][0]
        self.test(procedure, day, at, equipment=item.row)

    def _left_out(self, procedure: str, day: dt.date) -> bool:
        newest = day == self.visits[-1]
        return procedure in self.lapse.never or (
            procedure in self.lapse.overdue and (newest or day == self.visits[-2])
        )

    def procedures(self) -> Iterable[str]:
        """Yield what a full examination of this vehicle consists of."""
        made = self.particulars
        if made.air != Fitment.NONE:
            yield "air-pipe"
        if made.vacuum != Fitment.NONE:
            yield "vac-pipe"
        if made.air == Fitment.BRAKED:
            yield "svt-air-goods" if made.timing == "goods" else "svt-air"
        if made.vacuum == Fitment.BRAKED:
            yield "svt-vac"
        yield from ("rigging", "handbrake")
        if made.air == Fitment.BRAKED:
            yield "annual-air"
        if made.vacuum == Fitment.BRAKED:
            yield "annual-vac"

    def test(
        self, procedure: str, day: dt.date, at: dt.time, **subject: models.Model
    ) -> None:
        """Record a test that passed."""
        revision, lines = self.yard.procedures[procedure]
        entry = self.note(max(day, self.began))
        test = self.add(Test(created_by=entry))
        wished = self.dice.choice(self.yard.persons)
        person, competence = self.yard.vouched.doer(revision.skill, day, wished)
        record = self.add(
            TestRecord(
                test=test,
                procedure_revision=revision,
                done_by=person,
                competence=competence,
                opened_by=entry,
                passed=True,
                instruments="Shed test gauge 4" if "vehicle" in subject else "",
                **{"on": Moment.on(day, at), **subject},
            )
        )
        carried = "vehicle" in subject
        places = places_among(revision, self.positions) if carried else None
        rows = list(readings(record, spread(lines, places), self.dice))
        self.yard.vouched.cite(record, rows)
        for row in rows:
            self.add(row)

    def run(self) -> None:
        """Log a season's running, month by month, April to October."""
        last = self.yard.today - dt.timedelta(days=max(1, self.lapse.silent_days))
        month = self.began.replace(day=1)
        while month <= last:
            end = add_months(month, 1) - dt.timedelta(days=1)
            first, until = max(month, self.began), min(end, last)
            season = 4 <= month.month <= 10
            days = self.dice.randrange(8, 18) if season else self.dice.randrange(0, 3)
            days = min(days, (until - first).days + 1)
            self.add(
                Usage(
                    vehicle=self.vehicle,
                    opened_by=self.note(until),
                    first=first,
                    last=until,
                    days=days,
                    miles=days * self.dice.randrange(24, 44),
                )
            )
            month = add_months(month, 1)


def _held_from(since: Moment) -> dict[str, Any]:
    return {"since": since}
