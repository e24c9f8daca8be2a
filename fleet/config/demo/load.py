"""Loading the demo: practice, people, types, then every vehicle's life in bulk."""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator
from itertools import islice
from typing import Any

from django.contrib.auth.models import Group
from django.db import models

from fleet.config.demo.fleetbook import (
    DEMO,
    PRACTICE,
    VehiclePlan,
    positions_of,
    read,
    vehicles,
)
from fleet.config.demo.plan import Life, Yard
from fleet.config.demo.redrafting import redraft_policy
from fleet.config.demo.revising import revise_practice
from fleet.config.demo.vouching import Vouchers, vouchers
from fleet.examination.models import (
    Procedure,
    ProcedureLine,
    ProcedureRevision,
    Reading,
    Test,
    TestRecord,
)
from fleet.examination.services import revision_in_force
from fleet.people.models import Person, User
from fleet.records.deeds import deed, import_days
from fleet.records.models import Entry, Mention
from fleet.records.versions import write_many
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
from fleet.register.services.types import define_type
from fleet.upkeep.practice import IN_FORCE_FROM, load_practice
from fleet.workshop.job_plans import load_job_plans

# The order in which rows may be saved: each after what it points at.
SAVED = (
    Vehicle,
    VehicleVersion,
    Equipment,
    EquipmentVersion,
    DistributorParticulars,
    ReservoirParticulars,
    HoseParticulars,
    Fitting,
    Test,
    TestRecord,
    Reading,
    Usage,
)
CHUNK = 50
PASSWORD = "brake-demo"  # noqa: S105  # printed for everybody by the demo itself

Progress = Callable[[int], None]


def load_demo(*, count: int | None, today: dt.date, progress: Progress) -> None:
    """
    Load practice and fleet into an empty register.

    `count` vehicles (None: the line's own fleet); `progress` is told how many are in.
    """
    with deed("demo.load", by=None):
        load_practice(PRACTICE, by=None)
        book = read(DEMO, "fleet")
        depots = _depots(book)
        people = {p.user.username: p for p in _people(book) if p.user}
        persons = [p for name, p in people.items() if name[:6] == "fitter"]
        revise_practice(
            today=today, planner=people["planner"], manager=people["manager"]
        )
        redraft_policy(
            today=today, planner=people["planner"], manager=people["manager"]
        )
        load_job_plans(PRACTICE, by=None)
        _types()
        vouched = vouchers(book, people, today=today)
    yard = _yard(today, depots, persons, vouched)
    done = 0
    for plans in _chunks(vehicles(count), CHUNK):
        _save([Life(plan, yard) for plan in plans])
        done += len(plans)
        progress(done)


def _chunks(plans: Iterable[VehiclePlan], size: int) -> Iterator[list[VehiclePlan]]:
    stream = iter(plans)
    while chunk := list(islice(stream, size)):
        yield chunk


def _depots(book: dict[str, Any]) -> dict[str, Depot]:
    rows = [Depot(code=code, name=name) for code, name in book["depots"]]
    return {depot.code: depot for depot in Depot.objects.bulk_create(rows)}


def _people(book: dict[str, Any]) -> list[Person]:
    return [_person(*row) for row in book["people"]]


def _person(username: str, name: str, role: str) -> Person:
    first, _, last = name.partition(" ")
    user = User(username=username, first_name=first, last_name=last)
    user.set_password(PASSWORD)
    user.is_staff = user.is_superuser = role == "administrator"
    user.save()
    user.groups.add(Group.objects.get(name=role))
    return Person.objects.create(name=name, user=user)


def _types() -> None:
    book = read(DEMO, "types")
    for raw in book["type"]:
        define_type(
            by=None,
            code=raw["code"],
            name=raw["name"],
            effective_from=IN_FORCE_FROM,
            positions=positions_of(book, raw),
            source="Demo type drawing",
            figures=raw.get("figures", ()),
        )


def _yard(
    today: dt.date, depots: dict[str, Depot], persons: list[Person], vouched: Vouchers
) -> Yard:
    particulars = {raw["code"]: raw["vehicle"] for raw in read(DEMO, "types")["type"]}
    types = {
        type_.code: (
            type_,
            list(Position.objects.filter(revision__type=type_)),
            particulars[type_.code],
        )
        for type_ in VehicleType.objects.all()
    }
    procedures = {
        procedure.code: _in_force(procedure, today)
        for procedure in Procedure.objects.all()
    }
    first = today - dt.timedelta(days=7 * 366)
    days = [first + dt.timedelta(n) for n in range((today - first).days + 1)]
    user = persons[0].user
    entries = import_days("demo.day_sheets", days, by=user)
    return Yard(today, entries, depots, persons, types, procedures, vouched)


def _in_force(
    procedure: Procedure, today: dt.date
) -> tuple[ProcedureRevision, list[ProcedureLine]]:
    revision = revision_in_force(procedure, today)
    return revision, list(revision.lines.all())


def _save(lives: list[Life]) -> None:
    with deed("demo.vehicles", by=None):
        for model in SAVED:
            rows: list[models.Model] = [r for v in lives for r in v.rows.get(model, [])]
            _write(rows)
            _write([r for v in lives for r in v.later if type(r) is model])
        _write([mention for life in lives for mention in _mentions(life)])


def _mentions(life: Life) -> Iterator[Mention]:
    label = Vehicle._meta.label_lower
    for day in sorted(life.touched):
        entry: Entry = life.yard.entry(day)
        yield Mention(entry=entry, kind=label, key=life.vehicle.pk)


def _write(rows: list[Any]) -> None:
    for _count in write_many(rows):
        pass
