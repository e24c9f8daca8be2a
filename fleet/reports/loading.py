"""What the papers are decided from, read in a fixed number of queries."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence

from django.db.models import Max, OuterRef, Subquery

from fleet.defects.models import MoveAuthority
from fleet.engineering.calendar import LATEST_DAY, Moment
from fleet.examination.models import TestRecord
from fleet.fitness.case import Case
from fleet.fitness.facts import VehicleFile
from fleet.fitness.findings import Span, Verdict
from fleet.fitness.gather import policy, vehicle_files
from fleet.fitness.models import DueDate
from fleet.fitness.rules import BOOK
from fleet.fitness.standing import fit_until, stated
from fleet.fitness.statements import Content
from fleet.fitness.status import BoardRow, board_rows, due_between
from fleet.fitness.verdict import verdict
from fleet.records.models import Entry
from fleet.register.models import (
    Depot,
    EquipmentVersion,
    Position,
    TypeRevision,
    VehicleVersion,
)
from fleet.register.vocabulary import Effect, EquipmentKind, System, VehicleStatus
from fleet.reports.citing import cited
from fleet.reports.fleet_report import (
    DUE_DAYS,
    FleetDue,
    FleetSheet,
    FleetVehicle,
    fleet_sheet,
)
from fleet.reports.freezing import frozen
from fleet.reports.sheet import Printed, strip_window
from fleet.reports.statement import Plate, StatementSheet, statement_sheet
from fleet.upkeep.due import later


def printed_at(at: dt.datetime) -> Printed:
    """Return when a paper is made and the newest entry; `at` is local time."""
    return Printed(at, Entry.objects.aggregate(newest=Max("number"))["newest"])


def statement_of(
    vehicle: int, *, on: dt.date, printed: Printed
) -> StatementSheet | None:
    """
    Return the statement of a vehicle; None where nothing is recorded of it.

    Read as known at the entry the paper names, so that what is written meanwhile cannot
    show in one half of it only.
    """
    read = _read(vehicle, on, printed)
    return read[0] if read else None


def content_of(vehicle: int, *, on: dt.date, printed: Printed) -> Content | None:
    """Return what is frozen of a statement to be issued; None where nothing is known."""
    read = _read(vehicle, on, printed)
    if read is None:
        return None
    sheet, found, case = read
    return Content(
        paper=frozen(sheet, found, on),
        stated=stated(found, on),
        fit_until=fit_until(found, on),
        cited=cited(case, found, on, printed.entry),
        held=tuple(s for system in System if (s := found.span_on(system, on))),
    )


def _read(
    vehicle: int, on: dt.date, printed: Printed
) -> tuple[StatementSheet, Verdict, Case] | None:
    file = next(vehicle_files([vehicle], known_at=printed.entry), None)
    if file is None:
        return None
    practice = policy(printed.entry)
    found = verdict(file, practice, BOOK)
    plate = _plate(file, on, printed.entry)
    sheet = statement_sheet(file, found, practice, on=on, printed=printed, plate=plate)
    return sheet, found, Case(file, practice)


def _plate(file: VehicleFile, on: dt.date, entry: int | None) -> Plate:
    known = VehicleVersion.objects.known_at(entry).filter(vehicle=file.id)
    version = known.holding_on(on).select_related("depot").first()
    signed = _signed(file, entry)
    moves = tuple(_moves(file.id, on, entry))
    if version is None:
        return Plate(signed=signed, moves=moves)
    revision = TypeRevision.objects.of_type(version.type_id, on)
    return Plate(
        type_name=revision.name if revision else "",
        tare=f"{version.tare_t.normalize():f} t" if version.tare_t else "",
        depot=version.depot.name if version.depot else "",
        signed=signed,
        moves=moves,
    )


def _moves(vehicle: int, on: dt.date, entry: int | None) -> Iterator[str]:
    """Yield each authority to move in force, with its limits, as a sentence."""
    held = MoveAuthority.objects.in_force(on, entry)
    for move in held.filter(isolation__vehicle=vehicle):
        brake = move.isolation.brake.out.lower()
        yield (
            f"Authority to move, {brake}: to {move.destination}, "
            f"{move.since} to {Moment.on(move.last_day)}, given by {move.given_by}. "
            f"Limits: {move.limits}"
        )


def _signed(file: VehicleFile, entry: int | None) -> Mapping[int, str]:
    ids = [test.id for test in file.tests]
    records = TestRecord.objects.known_at(entry).filter(test__in=ids)
    return dict(records.values_list("test", "done_by__name"))


def fleet_report_of(
    depot: Depot | None, *, on: dt.date, printed: Printed
) -> FleetSheet:
    """Return the report of the vehicles there are on a day, of one depot or of all."""
    first, _last = strip_window(on)
    # Beyond the strip too: how long a level holds is told however far off its end is.
    rows = board_rows(
        on, first=first, last=LATEST_DAY, vehicle_ids=_based_at(depot, on)
    )
    return fleet_sheet(
        [_vehicle(row) for row in rows],
        list(_falling_due(rows, on)),
        on=on,
        printed=printed,
        depot=depot.name if depot else "",
    )


def _based_at(depot: Depot | None, on: dt.date) -> Sequence[int] | None:
    if depot is None:
        return None
    based = VehicleVersion.objects.current().holding_on(on).filter(depot=depot)
    return list(based.values_list("vehicle", flat=True))


def _vehicle(row: BoardRow) -> FleetVehicle:
    status = VehicleStatus(row.status)
    return FleetVehicle(
        number=row.number,
        type_name=row.type_name or row.type_code,
        depot=row.depot,
        standing="" if status is VehicleStatus.IN_TRAFFIC else status.label,
        fitted=tuple(row.systems),
        spans=tuple(
            Span(
                span.system,
                span.since,
                span.until,
                span.level,
                span.headline,
                tuple(span.conditions),
                span.whole_vehicle,
                span.change,
            )
            for system in row.systems.values()
            for span in system.strip
        ),
        stale=row.stale,
    )


def _falling_due(rows: Sequence[BoardRow], on: dt.date) -> Iterator[FleetDue]:
    """Yield what is overdue, not known, or due soon, of the vehicles in the report."""
    shown = {row.vehicle: row for row in rows}
    places = _places()
    serial = (
        EquipmentVersion.objects.current()
        .filter(equipment=OuterRef("equipment"))
        .order_by("-since_key")
        .values("serial")[:1]
    )
    due = due_between(None, later(on, DUE_DAYS)).annotate(serial=Subquery(serial))
    for one in due:
        row = shown.get(one.vehicle_id)
        if row is not None:
            place = places.get((row.type_code, one.position), one.position)
            yield _due(one, row, place)


def _places() -> Mapping[tuple[str, str], str]:
    """Return the label of each position by type and code, as last revised."""
    known = Position.objects.filter(revision__in=TypeRevision.objects.current())
    ordered = known.order_by("revision__number", "pk")
    labels = ordered.values_list("revision__type__code", "code", "label")
    return {(type_code, code): label for type_code, code, label in labels}


def _due(one: DueDate, row: BoardRow, place: str) -> FleetDue:
    subject = "Vehicle"
    if one.equipment is not None:
        serial = getattr(one, "serial", "") or ""
        kind = EquipmentKind(one.equipment.kind).label
        subject = f"{place or kind} {serial}".strip()
    return FleetDue(
        number=row.number,
        due_on=one.due_on,
        last_good_day=one.last_good_day,
        title=one.title,
        subject=subject[:1].upper() + subject[1:],
        basis=one.basis,
        effect=Effect(one.effect).label,
        forecast=one.forecast,
        stale=row.stale,
    )
