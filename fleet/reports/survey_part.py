"""A thickness survey as a certificate shows it, under the line that asks it. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass

from fleet.engineering.walls import RequiredWall
from fleet.examination.models import TestRecord, ThicknessReading
from fleet.examination.surveys import survey_of
from fleet.reports.answers import asked_words
from fleet.reports.sheet import Said
from fleet.ui.drawing import Drawing


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
        line, found = readings[0].line, survey_of(readings, required)
        title = f"{line.order}. {asked_words(line)}"
        worst = Said(found.worst, found.below)
        yield SurveyPart(title, found.drawing, found.points, worst)
