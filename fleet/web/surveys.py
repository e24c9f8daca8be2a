"""The thickness surveys of a vessel: readings, rates, the worst point, the next survey."""

import datetime as dt
from dataclasses import dataclass

from fleet.engineering import corrosion
from fleet.engineering.corrosion import PointLife, VesselLife, vessel_life
from fleet.engineering.walls import RequiredWall, WallFigures, required_wall
from fleet.examination.judging import plain
from fleet.examination.models import ThicknessReading
from fleet.records.models import Kind
from fleet.register.models import Equipment, ReservoirParticulars
from fleet.ui.drawing import to_svg
from fleet.ui.vessel_drawing import VesselPoint, vessel_drawing
from fleet.upkeep.due import written
from fleet.upkeep.models import RequirementRevision

UNBOUNDED_MONTHS = 1200


@dataclass(frozen=True, slots=True)
class SurveyRow:
    """A point: its readings by survey, its rates and its life, in words."""

    point: str
    readings: tuple[tuple[str, str], ...]  # day of the survey, thickness
    long_term: str
    short_term: str
    life: str
    worst: bool


@dataclass(frozen=True, slots=True)
class Surveys:
    """The surveys of a vessel, oldest first, and what follows from them."""

    days: tuple[str, ...]
    rows: tuple[SurveyRow, ...]
    required: RequiredWall
    next_on: str
    reason: str
    drawing: str


def surveys_of(equipment: Equipment, today: dt.date) -> Surveys | None:
    """Return the surveys of a vessel, None where there are none; three queries."""
    by_point: dict[str, dict[dt.date, ThicknessReading]] = {}
    for row in _readings(equipment):
        day = row.record.on_earliest
        assert day is not None  # of unknown date: not read
        series = by_point.setdefault(row.point, {})
        held = series.get(day)
        if held is None or row.thickness_mm < held.thickness_mm:
            series[day] = row
    if not by_point:
        return None
    days = sorted({day for series in by_point.values() for day in series})
    wall = _required(equipment)
    required = wall.thickness_mm
    life = _life(by_point, required, _ceiling(equipment, today)) if required else None
    lives = {point.point: point for point in life.points} if life else {}
    worst = life.worst.point if life else ""
    rows = tuple(
        _row(point, series, days, lives.get(point), worst=point == worst)
        for point, series in by_point.items()
    )
    return Surveys(
        tuple(written(day) for day in days),
        rows,
        wall,
        written(life.next_on) if life else "",
        life.reason if life else "",
        _drawing(rows),
    )


def _readings(equipment: Equipment) -> list[ThicknessReading]:
    rows = (
        ThicknessReading.objects.filter(
            record__equipment=equipment,
            record__closed_by__isnull=True,
            record__on_earliest__isnull=False,
        )
        .exclude(record__change=Kind.RETRACTED)
        .select_related("record")
    )
    return list(rows.order_by("record__on_earliest", "pk"))


def _required(equipment: Equipment) -> RequiredWall:
    held = ReservoirParticulars.objects.current().filter(equipment=equipment)
    newest = held.order_by("-since_key").first()
    return newest.required if newest else required_wall(None, WallFigures())


def _ceiling(equipment: Equipment, today: dt.date) -> int:
    """Return the months of the shortest requirement of such items; else no bound."""
    in_force = RequirementRevision.objects.in_force(today).filter(
        kind=equipment.kind, months__isnull=False, procedure__isnull=False
    )
    return min(in_force.values_list("months", flat=True), default=UNBOUNDED_MONTHS)


def _life(
    by_point: dict[str, dict[dt.date, ThicknessReading]], required: float, months: int
) -> VesselLife:
    readings = [
        corrosion.ThicknessReading(
            point, day, float(row.thickness_mm), float(row.uncertainty_mm)
        )
        for point, series in by_point.items()
        for day, row in series.items()
    ]
    return vessel_life(readings, required, ceiling_months=months)


def _row(
    point: str,
    series: dict[dt.date, ThicknessReading],
    days: list[dt.date],
    life: PointLife | None,
    *,
    worst: bool,
) -> SurveyRow:
    read = ((day, series.get(day)) for day in days)
    return SurveyRow(
        point,
        tuple(
            (written(day), f"{plain(row.thickness_mm)} mm" if row else "Not read")
            for day, row in read
        ),
        _rate(life.long_term if life else None),
        _rate(life.short_term if life else None),
        _life_words(life),
        worst,
    )


def _rate(rate: float | None) -> str:
    if rate is None:
        return "Not known"
    return f"{rate:.3f} mm a year" if rate > 0 else "None seen"


def _life_words(life: PointLife | None) -> str:
    if life is None or life.life_years is None:
        return "Not known"
    words = f"{life.life_years:.1f} years"
    return f"{words}, by the reading error" if life.within_error else words


def _drawing(rows: tuple[SurveyRow, ...]) -> str:
    points = [
        VesselPoint(number, row.point, row.readings[-1][1], row.worst)
        for number, row in enumerate(rows, start=1)
    ]
    words = ", ".join(f"{row.point} {row.readings[-1][1]}" for row in rows)
    return to_svg(
        vessel_drawing(points),
        title="Points of the last survey",
        desc=words,
        css="vessel",
    )
