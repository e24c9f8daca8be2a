"""The page of a published programme: its wall chart, its visits and how each stands."""

import datetime as dt
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from django.core.paginator import Page, Paginator
from django.utils.safestring import SafeString

from fleet.fitness.status import numbers_of
from fleet.workshop.engine.written import read_problem, read_programme
from fleet.workshop.following import Followed, followed
from fleet.workshop.models import PlannedVisit, Programme
from fleet.workshop.publishing import is_whole
from fleet.workshop.run_page import (
    VEHICLES_A_PAGE,
    VISITS_A_PAGE,
    LevelRow,
    level_rows,
    wall_svg,
)
from fleet.workshop.wall import WallSheetRow, wall_sheet


@dataclass(frozen=True, slots=True)
class FollowedVisit:
    """A published visit and how its jobs stand."""

    visit: PlannedVisit
    number: str
    jobs: tuple[tuple[Followed, str], ...]  # each with its standing

    @property
    def standing(self) -> str:
        """Return done where all is, late where anything is, else open."""
        said = {standing for _, standing in self.jobs}
        if said == {"done"}:
            return "done"
        return "late" if "late" in said else "open"


@dataclass(frozen=True, slots=True)
class ProgrammePage:
    """A published programme."""

    visits: Page[FollowedVisit]
    rows: Page[WallSheetRow]
    counts: dict[str, int]  # jobs by standing
    levels: list[LevelRow]
    wall: SafeString
    whole: bool


def programme_page(
    programme: Programme, on: dt.date, asked: Mapping[str, str]
) -> ProgrammePage:
    """
    Return the page of a programme as it stands on a day; so many queries always.

    `asked` may name a `page` of the visits and a page of the `vehicles` on the wall.
    """
    problem, found = read_problem(programme.problem), read_programme(programme.result)
    visits = followed_visits(programme, on)
    counts = Counter(standing for visit in visits for _, standing in visit.jobs)
    sheet = wall_sheet(problem, found)
    rows = Paginator(sheet.rows, VEHICLES_A_PAGE).get_page(asked.get("vehicles"))
    return ProgrammePage(
        Paginator(visits, VISITS_A_PAGE).get_page(asked.get("page")),
        rows,
        {name: counts[name] for name in ("done", "open", "late")},
        level_rows(found.levels),
        wall_svg(sheet, rows),
        is_whole(programme),
    )


def followed_visits(programme: Programme, on: dt.date) -> list[FollowedVisit]:
    """Return the visits of a programme in order, with how each job stands on a day."""
    by_visit: dict[int, list[tuple[Followed, str]]] = {}
    visits: dict[int, PlannedVisit] = {}
    for one in followed(programme):
        visits[one.job.visit_id] = one.job.visit
        by_visit.setdefault(one.job.visit_id, []).append((one, one.standing(on)))
    numbers = numbers_of({visit.vehicle_id for visit in visits.values()})
    return [
        FollowedVisit(visit, numbers.get(visit.vehicle_id, ""), tuple(by_visit[key]))
        for key, visit in visits.items()
    ]
