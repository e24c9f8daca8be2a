"""Brake status as it would be if the programme is done: found or published, by vehicle."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence

from fleet.fitness.findings import Span
from fleet.fitness.gather import vehicle_files
from fleet.fitness.practice import practice_known
from fleet.workshop.engine.problem import WEEK, Problem
from fleet.workshop.engine.problem import Programme as Found
from fleet.workshop.following import Followed, followed
from fleet.workshop.models import Programme
from fleet.workshop.playing import Stay, played_spans
from fleet.workshop.telling import visit_lines

Stays = Mapping[int, Sequence[Stay]]  # by vehicle
_TO_FRIDAY = 3  # days from the end of a week back to its Friday


def programme_in_force() -> Programme | None:
    """Return the newest published programme, without its problem and result. One query."""
    return Programme.objects.defer("problem", "result").first()


def stays_found(problem: Problem, programme: Found) -> Stays:
    """Return the visits of a found programme as they are supposed, by vehicle."""
    stays: dict[int, list[Stay]] = defaultdict(list)
    for line in visit_lines(problem, programme):
        done = tuple((*parts_of(turn.key), turn.done) for turn in line.turns)
        stays[int(line.visit.vehicle)].append(Stay(line.monday, line.friday, done))
    return stays


def parts_of(key: str) -> tuple[str, int | None]:
    """Return the requirement and the item that a job's key names."""
    code, _vehicle, *rest = key.split("/")
    return code, int(rest[0]) if rest else None


def stays_published(
    programme: Programme, on: dt.date, vehicles: Collection[int] | None = None
) -> Stays:
    """
    Return what is still to be done of a programme on a day, by vehicle. Five queries.

    What should have been done by then and was not is left out: no record can show it.
    """
    visits: dict[int, list[Followed]] = defaultdict(list)
    for one in followed(programme, vehicles):
        if one.standing(on) == "open":
            visits[one.job.visit_id].append(one)
    stays: dict[int, list[Stay]] = defaultdict(list)
    for jobs in visits.values():
        visit = jobs[0].job.visit
        friday = visit.monday + dt.timedelta(days=WEEK * visit.weeks - _TO_FRIDAY)
        done = tuple((*_work_of(one), one.job.done_by) for one in jobs)
        stays[visit.vehicle_id].append(Stay(visit.monday, friday, done))
    return stays


def _work_of(one: Followed) -> tuple[str, int | None]:
    return one.job.requirement.code, one.job.equipment_id


def spans_if_done(
    programme: Programme, on: dt.date, vehicles: Collection[int]
) -> dict[int, tuple[Span, ...]]:
    """
    Return the spans of vehicles as the rules would have them were the programme done.

    What is said of days gone by is what the records show. A fixed number of queries.
    """
    stays = stays_published(programme, on, vehicles)
    practice = practice_known(None)
    return {
        file.id: played_spans(file, practice.policy, stays.get(file.id, ()), on)
        for file in vehicle_files(vehicles, practice=practice)
    }
