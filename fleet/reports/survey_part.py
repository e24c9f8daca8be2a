"""A thickness survey as a certificate shows it: the sketch, the points, the worst. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fleet.engineering.walls import RequiredWall
from fleet.examination.judging import plain
from fleet.examination.models import TestRecord, ThicknessReading
from fleet.reports.answers import asked_words
from fleet.reports.sheet import Said
from fleet.ui.drawing import Drawing
from fleet.ui.vessel_drawing import VesselPoint, vessel_drawing

NOT_STATED = "Not stated"


@dataclass(frozen=True, slots=True)
class SurveyPart:
    """Thicknesses of a vessel: the sketch, the points, and the worst in words."""

    title: str
    drawing: Drawing
    points: tuple[tuple[str, str, str, str], ...]  # number, point, thickness, within
    worst: Said


def survey_parts(
    record: TestRecord, required: RequiredWall | None
) -> Iterator[SurveyPart]:
    """Yield the surveys of a record; `required` is the least wall, if any is held."""
    by_line: dict[int, list[ThicknessReading]] = {}
    for thickness in record.thicknesses.all():
        by_line.setdefault(thickness.line_id, []).append(thickness)
    for readings in by_line.values():
        line = readings[0].line
        yield _survey(f"{line.order}. {asked_words(line)}", readings, required)


def _survey(
    title: str, readings: Sequence[ThicknessReading], required: RequiredWall | None
) -> SurveyPart:
    least = min(readings, key=lambda r: r.thickness_mm)
    points = [
        VesselPoint(number, r.point, plain(r.thickness_mm), r is least)
        for number, r in enumerate(readings, start=1)
    ]
    return SurveyPart(
        title=title,
        drawing=vessel_drawing(points),
        points=tuple(
            (str(p.number), p.name, f"{p.thickness} mm", _within(r))
            for p, r in zip(points, readings, strict=True)
        ),
        worst=_worst(least, required),
    )


def _worst(least: ThicknessReading, required: RequiredWall | None) -> Said:
    words = f"Thinnest: {least.point}, {plain(least.thickness_mm)} mm"
    if required is None or required.thickness_mm is None:
        why = f": {required.basis}" if required else ""
        return Said(f"{words}; no least thickness is known{why}.")
    below = float(least.thickness_mm) < required.thickness_mm
    is_ = "BELOW the least" if below else "least"
    return Said(f"{words}; {is_} allowed, {required.words}.", below)


def _within(reading: ThicknessReading) -> str:
    within = reading.uncertainty_mm
    return f"± {plain(within)} mm" if within else NOT_STATED
