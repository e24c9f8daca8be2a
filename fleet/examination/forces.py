"""The brake force a test shows: beside the type's figure and the result before it."""

from collections.abc import Iterator
from dataclasses import dataclass

from fleet.engineering.figures import Figures, compared
from fleet.engineering.force import (
    GRAVITY_M_PER_S2,
    braked_weight_percentage,
    whole_percentage,
)
from fleet.examination.force_readings import UNITS, measures_by_test, measuring_of
from fleet.examination.models import ProcedureLine, Reading, TestRecord
from fleet.examination.vocabulary import Found
from fleet.records.models import Kind
from fleet.register.models import BrakeFigures, TypeRevision, VehicleVersion
from fleet.register.vocabulary import System

CHARGED_BAR = 5.0  # a brake pipe in running order; common practice


@dataclass(frozen=True, slots=True)
class Before:
    """The result before this one: the record it is of, and the force in kN."""

    record: TestRecord
    kn: float


@dataclass(frozen=True, slots=True)
class Force:
    """The force of one brake system as a test shows it, kN; parts are -0.1 for a tenth less."""

    system: System
    taken: str  # what it follows from, in words
    kn: float
    per_block_kn: float | None
    of_weight: float | None  # block force over the tare's weight, per cent
    braked_weight_percentage: int | None  # by the type's braked weight
    type_kn: float | None
    before: Before | None
    reaches: str  # what a full application can reach at the stroke found
    source: str

    @property
    def against_type(self) -> str:
        """Return how it compares with the type's figure, in words."""
        return compared(self.kn, self.type_kn)

    @property
    def against_before(self) -> str:
        """Return how it compares with the result before, in words."""
        return compared(self.kn, self.before.kn if self.before else None)


def forces_of(record: TestRecord) -> list[Force]:
    """
    Return the forces a record of a vehicle shows, with what they are compared with.

    Empty where it measured nothing force follows from, or the type has no figures.
    """
    lines = measuring_of(record.procedure_revision.lines.all())
    if record.vehicle_id is None or not lines or record.on.latest is None:
        return []
    taken = [
        (record.test_id, r.line_id, r.position, r.value, r.unit)
        for r in record.readings.all()
        if r.line_id in lines and r.value is not None
    ]
    measures = measures_by_test(taken, lines).get(record.test_id, {})
    version, rows = _figures(record) if measures else (None, [])
    return [
        force
        for row in rows
        if (force := _force(record, measures, version, row)) is not None
    ]


def _figures(record: TestRecord) -> tuple[VehicleVersion | None, list[BrakeFigures]]:
    day = record.on.latest
    assert day is not None
    held = VehicleVersion.objects.current().filter(vehicle=record.vehicle_id)
    version: VehicleVersion | None = held.holding_on(day).last()
    if version is None:
        return None, []
    revision: TypeRevision | None = TypeRevision.objects.of_type(version.type_id, day)
    return version, list(revision.figures.all()) if revision else []


def _force(
    record: TestRecord,
    measures: dict[str, float],
    version: VehicleVersion | None,
    row: BrakeFigures,
) -> Force | None:
    figures, system = row.figures, System(row.system)
    pressure, stroke = _both(measures, system)
    kn = figures.force_from(pressure, stroke)
    if not kn:
        return None
    tare = float(version.tare_t) if version and version.tare_t else None
    share = kn / (tare * GRAVITY_M_PER_S2) * 100 if tare else None
    lam = None
    if tare and figures.braked_weight_t:
        lam = whole_percentage(braked_weight_percentage(figures.braked_weight_t, tare))
    return Force(
        system=system,
        taken=_taken(system, pressure, stroke),
        kn=kn,
        per_block_kn=kn / figures.blocks if figures.blocks else None,
        of_weight=share,
        braked_weight_percentage=lam,
        type_kn=figures.type_kn,
        before=_before(record, system, figures),
        reaches=_reaches(figures, stroke) if system is System.AIR else "",
        source=row.source,
    )


def _both(
    measures: dict[str, float], system: System
) -> tuple[float | None, float | None]:
    maximum = measures.get(f"{system}.{Found.MAXIMUM}")
    return maximum, measures.get(f"{system}.{Found.STROKE}")


def _taken(system: System, pressure: float | None, stroke: float | None) -> str:
    parts = []
    if system is System.AIR and pressure is not None:
        parts.append(f"{pressure:.2f} bar in the cylinder")
    if stroke is not None:
        parts.append(f"a piston stroke of {stroke:.0f} mm")
    return " and ".join(parts)


def _reaches(figures: Figures, stroke: float | None) -> str:
    if stroke is None or stroke <= 0:
        return ""
    bar = figures.reaches_bar(stroke, CHARGED_BAR)
    if bar is None:
        return ""
    return (
        f"At {stroke:.0f} mm a full application from {CHARGED_BAR:g} bar reaches "
        f"{bar:.2f} bar by Boyle; the type's travel is {figures.travel_mm:.0f} mm."
    )


def _before(record: TestRecord, system: System, figures: Figures) -> Before | None:
    """Return the newest earlier test of the vehicle the same force follows from."""
    rows = list(_earlier(record))
    lines = measuring_of(
        ProcedureLine.objects.filter(pk__in={r.line_id for r in rows}).select_related(
            "revision"
        )
    )
    taken = [
        (r.record.test_id, r.line_id, r.position, r.value, r.unit)
        for r in rows
        if r.line_id in lines
    ]
    measures = measures_by_test(taken, lines)
    for reading in rows:
        found = measures.get(reading.record.test_id, {})
        kn = figures.force_from(*_both(found, system))
        if kn:
            return Before(reading.record, kn)
    return None


def _earlier(record: TestRecord) -> Iterator[Reading]:
    on = record.on
    readings = (
        Reading.objects.filter(
            record__vehicle=record.vehicle_id,
            record__closed_by__isnull=True,
            record__on_latest__lte=on.latest,
            line__finds__in=list(UNITS),
            value__isnull=False,
        )
        .exclude(record__change=Kind.RETRACTED)
        .exclude(record__test=record.test_id)
        .select_related("record__procedure_revision")
        .order_by("-record__on_latest", "-record__on_at", "-record__test_id")
    )
    return (r for r in readings if _key(r.record) < _key(record))


def _key(record: TestRecord) -> tuple[object, int, int]:
    return record.on.latest, record.on.key or 0, record.test_id
