"""A thickness survey as pages and papers show it, held against the required wall."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString

from fleet.engineering.walls import RequiredWall
from fleet.examination.judging import plain
from fleet.examination.models import TestRecord, ThicknessReading
from fleet.examination.vocabulary import LineKind
from fleet.register.models import ReservoirParticulars
from fleet.register.vocabulary import RESERVOIRS
from fleet.ui.drawing import Drawing, to_svg
from fleet.ui.vessel_drawing import VesselPoint, vessel_drawing

NOT_STATED = "Not stated"


@dataclass(frozen=True, slots=True)
class Survey:
    """Thicknesses of a vessel: the sketch, the points, and the worst in words."""

    drawing: Drawing
    points: tuple[tuple[str, str, str, str], ...]  # number, point, thickness, within
    worst: str
    below: bool  # the worst lies below the required wall

    @property
    def picture(self) -> SafeString:
        """Return the sketch for a page."""
        told = ", ".join(f"{point} {mm}" for _no, point, mm, _within in self.points)
        return to_svg(
            self.drawing, title="Points of the survey", desc=told, css="vessel"
        )


def survey_of(
    readings: Sequence[ThicknessReading], required: RequiredWall | None
) -> Survey:
    """Return a survey held against the required wall; None: no ratings are held."""
    least = min(readings, key=lambda r: r.thickness_mm)
    points = [
        VesselPoint(number, r.point, plain(r.thickness_mm), r is least)
        for number, r in enumerate(readings, start=1)
    ]
    words, below = _worst(least, required)
    return Survey(
        drawing=vessel_drawing(points),
        points=tuple(
            (str(p.number), p.name, f"{p.thickness} mm", _within(r))
            for p, r in zip(points, readings, strict=True)
        ),
        worst=words,
        below=below,
    )


def surveys_of(record: TestRecord) -> list[Survey]:
    """Return the surveys of a record for its page; no query where none is asked for."""
    lines = record.procedure_revision.lines.all()
    if not any(line.kind == LineKind.SURVEY for line in lines):
        return []
    by_line: dict[int, list[ThicknessReading]] = {}
    for thickness in record.thicknesses.all():
        by_line.setdefault(thickness.line_id, []).append(thickness)
    required = required_of(record) if by_line else None
    return [survey_of(readings, required) for readings in by_line.values()]


def required_of(record: TestRecord) -> RequiredWall | None:
    """Return the least wall of a vessel as held on the day; None where nothing is."""
    if record.equipment is None or record.equipment.kind not in RESERVOIRS:
        return None
    rated = ReservoirParticulars.objects.filter(equipment=record.equipment).current()
    held = rated.order_by("since_key")
    found = held.holding_at(record.on).last() or held.first()
    return found.required if found else None


def _worst(least: ThicknessReading, required: RequiredWall | None) -> tuple[str, bool]:
    words = f"Thinnest: {least.point}, {plain(least.thickness_mm)} mm"
    if required is None or required.thickness_mm is None:
        why = f": {required.basis}" if required else ""
        return f"{words}; no least thickness is known{why}.", False
    below = float(least.thickness_mm) < required.thickness_mm
    is_ = "BELOW the least" if below else "least"
    return f"{words}; {is_} allowed, {required.words}.", below


def _within(reading: ThicknessReading) -> str:
    within = reading.uncertainty_mm
    return f"± {plain(within)} mm" if within else NOT_STATED
