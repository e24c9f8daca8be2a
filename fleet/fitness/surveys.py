"""Thickness surveys of a vessel in order, and how long each of them holds. Pure."""

import datetime as dt
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from fleet.engineering.corrosion import ThicknessReading, VesselLife, vessel_life
from fleet.fitness.facts import EquipmentFact, SurveyFact
from fleet.fitness.intervals import FOREVER, Interval
from fleet.upkeep.due import written

# Half the remaining life alone; how long at most the operator's requirement says.
NO_CEILING_MONTHS = 1200


class Known(NamedTuple):
    """
    What a survey tells, from its day up to the next one.

    `half_on` is the last day before half the remaining life is used up, None where the
    readings show none: then only the requirement bounds it.
    """

    days: Interval
    survey: SurveyFact
    life: VesselLife
    half_on: dt.date | None

    @property
    def thinnest(self) -> tuple[str, float]:
        """Return the point of this survey with the least thickness, and that in mm."""
        point, mm, _within = min(self.survey.points, key=lambda p: p[1])
        return point, mm


@lru_cache(maxsize=4_096)
def known_by_surveys(item: EquipmentFact) -> tuple[Known, ...]:
    """
    Return what each survey of an item tells; empty where no minimum is recorded.

    A survey of imprecise date counts from its first day; of two on a day the lower
    readings count.
    """
    required = item.minimum_thickness_mm
    if required is None:
        return ()
    by_day: dict[dt.date, list[SurveyFact]] = {}
    for survey in item.surveys:
        if survey.on.earliest is not None and survey.points:
            by_day.setdefault(survey.on.earliest, []).append(survey)
    days = sorted(by_day)
    readings: list[ThicknessReading] = []
    found = []
    for day, following in zip(days, [*days[1:], FOREVER], strict=True):
        readings += _lowest(day, by_day[day])
        life = vessel_life(readings, required, ceiling_months=NO_CEILING_MONTHS)
        half = None if life.life_ends_on is None else life.next_on
        found.append(Known((day, following), by_day[day][-1], life, half))
    return tuple(found)


def half_life(item: EquipmentFact) -> tuple[dt.date, str] | None:
    """Return when half the life left at the last survey is used up, and the words."""
    known = known_by_surveys(item)
    if not known or known[-1].half_on is None:
        return None
    words = known[-1].life.reason.rstrip(".")
    least = f"{item.minimum_thickness_mm:g} mm {item.minimum_basis}"
    return (
        known[-1].half_on,
        f"surveyed {written(known[-1].days[0])}. {words}. Required: {least}",
    )


def _lowest(day: dt.date, surveys: list[SurveyFact]) -> Iterator[ThicknessReading]:
    lowest: dict[str, tuple[float, float]] = {}
    for survey in surveys:
        for point, mm, within in survey.points:
            lowest[point] = min(lowest.get(point, (mm, within)), (mm, within))
    for point, (mm, within) in lowest.items():
        yield ThicknessReading(point, day, mm, within)
