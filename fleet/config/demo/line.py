"""The people, places and spares the demo's stories happen among."""

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.examination.asking import asked_of
from fleet.examination.judging import plain
from fleet.examination.models import Procedure, ProcedureLine, TestRecord
from fleet.examination.services import record_test, revision_in_force
from fleet.examination.traces import ReadTrace, taken
from fleet.examination.vocabulary import Answer, Found, LineKind, Stage
from fleet.people.models import Person, User
from fleet.register.models import Depot, Equipment, Fitting, Vehicle, VehicleVersion
from fleet.register.services.equipment import add_equipment
from fleet.register.vocabulary import EquipmentKind, EquipmentState

SPARES = (  # kind, group, bore (mm), rated pressure (bar), how many, procedure of overhaul
    ("distributor", "DV-P", None, None, 4, "distributor-bench"),
    ("triple_valve", "TV-G", None, None, 1, "triple-bench"),
    ("bp_hose", "BP-25", 25, 12, 6, ""),
    ("bp_hose", "BP-20", 20, 7, 1, ""),
    ("mr_end_cock", "", None, None, 1, ""),
    ("mr_hose", "MR-25", 25, 12, 4, ""),
    ("vacuum_hose", "VH-50", 50, None, 4, ""),
    ("brake_cylinder", "CYL-12", None, None, 2, "cylinder-overhaul"),
    ("vacuum_cylinder", "VC-18", None, None, 2, "vacuum-cylinder-overhaul"),
)


@dataclass(frozen=True, slots=True)
class Line:
    """The people and places the stories happen among."""

    today: dt.date
    fitter: Person
    other: Person
    stores: Depot
    vehicles: Mapping[str, Vehicle]

    @property
    def by(self) -> User:
        """Return the account the stories are recorded under."""
        assert self.fitter.user is not None
        return self.fitter.user

    def ago(self, days: int, hour: int | None = 9, minute: int = 0) -> Moment:
        """Return a moment some days back; `hour` None: the time was not noted."""
        at = None if hour is None else dt.time(hour, minute)
        return Moment.on(self.today - dt.timedelta(days=days), at)

    def fitting(self, number: str, position: str) -> Fitting:
        """Return what is fitted at a position now."""
        vehicle = self.vehicles[number]
        found = Fitting.objects.current().open_ended()
        fitting: Fitting = found.get(vehicle=vehicle, position=position)
        return fitting

    def spare(self, kind: str, group: str) -> Equipment:
        """Return a serviceable item from stores."""
        in_store = Fitting.objects.current().open_ended().filter(store=self.stores)
        fitting: Fitting = in_store.filter(
            equipment__kind=kind,
            equipment__versions__group=group,
            equipment__versions__state=EquipmentState.SERVICEABLE,
            equipment__versions__until_key__isnull=True,
            equipment__versions__closed_by__isnull=True,
        ).earliest("pk")
        return fitting.equipment


def line_of(today: dt.date) -> Line:
    """Return the demo line as it stands."""
    rows = VehicleVersion.objects.current().open_ended().select_related("vehicle")
    return Line(
        today=today,
        fitter=Person.objects.get(user__username="fitter"),
        other=Person.objects.get(user__username="fitter2"),
        stores=Depot.objects.get(code="stores"),
        vehicles={row.number: row.vehicle for row in rows},
    )


def _initials(label: str) -> str:
    return "".join(word[0] for word in label.split()).upper()


def buy_spares(line: Line) -> None:
    """Put spares into stores, overhauled where that is asked of them."""
    for kind, group, bore, pressure, many, overhaul in SPARES:
        for number in range(many):
            label = EquipmentKind(kind).label
            made = line.ago(300 + 40 * number, None)
            item = add_equipment(
                by=line.by,
                kind=kind,
                serial=f"{label[0]}S-{group or _initials(label)}-{number + 1}",
                made=made,
                since=made,
                store=line.stores,
                group=group,
                bore_mm=bore,
                pressure_bar=None if pressure is None else Decimal(pressure),
            )
            if overhaul:
                make_test(line, overhaul, made, equipment=item)


def make_test(
    line: Line,
    procedure: str,
    on: Moment,
    *,
    person: Person | None = None,
    found: Mapping[int, str] | None = None,
    left: Collection[int] = (),
    trace: ReadTrace | None = None,
    thicknesses: Sequence[tuple[str, Decimal, Decimal]] = (),
    **subject: Any,
) -> TestRecord:
    """
    Record a test in which all is well but for the readings `found`, by line order.

    The lines `left` were not done. What a `trace` shows is read from it; `thicknesses`
    are those of a survey.
    """
    asked = Procedure.objects.get(code=procedure)
    assert on.latest is not None
    revision = revision_in_force(asked, on.latest)
    typed = found or {}
    readings: list[dict[str, Any]] = []
    for one in asked_of(revision, subject.get("vehicle"), on):
        row = one.line
        if row.stage == Stage.AS_LEFT and row.order not in typed:
            continue  # nothing was adjusted
        if row.finds == Found.THINNEST and thicknesses:
            continue  # follows from the survey
        given = {"answer": Answer.NOT_DONE, "note": "Test stopped"}
        if row.order not in left:
            given = _done(row, typed.get(row.order), trace, thicknesses)
        readings.append({"line": row, "position": one.position, **given})
    return record_test(
        by=line.by,
        procedure=asked,
        on=on,
        done_by=person or line.fitter,
        readings=readings,
        instruments="Shed test gauge 4",
        **subject,
    )


def _done(
    row: ProcedureLine,
    typed: str | None,
    trace: ReadTrace | None,
    thicknesses: Sequence[tuple[str, Decimal, Decimal]],
) -> dict[str, Any]:
    """Return what is written down for a line: as `typed`, from the trace, or good."""
    match row.kind:
        case LineKind.TRACE:
            return {"trace": trace}
        case LineKind.SURVEY:
            return {"thicknesses": thicknesses}
        case LineKind.CHOICE:
            return {"choice": row.good_choices[0]}
        case LineKind.QUESTION:
            return {"answer": Answer.MET}
    if trace is not None and row.finds and (read := taken(row, trace)):
        return dict(read)
    return {"value": typed or _usual(row), "unit": row.unit}


def _usual(row: ProcedureLine) -> str:
    """Return a good reading as a fitter would write it; "" where nothing is set."""
    if row.low is not None and row.high is not None:
        return plain(Decimal(row.low + row.high) / 2)
    return plain(row.high if row.low is None else row.low)
