"""The wall sheet and the visit sheet as data: what screens and papers are drawn from."""

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from fleet.examination.models import ProcedureRevision
from fleet.people.models import Skill
from fleet.register.models import Position, TypeRevision, VehicleVersion
from fleet.upkeep.models import RequirementRevision
from fleet.workshop.engine.problem import WEEK, Problem, Programme
from fleet.workshop.falling import plans_by_code
from fleet.workshop.following import Followed, followed
from fleet.workshop.models import PlannedVisit
from fleet.workshop.naming import type_name
from fleet.workshop.telling import VisitLine, visit_lines
from fleet.workshop.vocabulary import Place


@dataclass(frozen=True, slots=True)
class WallSheetRow:
    """A vehicle and its visits in order."""

    vehicle: str  # its key
    number: str
    kind: str
    depot: str
    visits: tuple[VisitLine, ...]


@dataclass(frozen=True, slots=True)
class WallSheet:
    """Weeks across, vehicles down; only vehicles that come in."""

    start: dt.date
    weeks: int
    shut: frozenset[int]  # weeks in which nothing stands in the shop
    pinned: frozenset[tuple[str, int]]  # vehicle and week of visits with pinned work
    rows: tuple[WallSheetRow, ...]

    @property
    def last(self) -> dt.date:
        """Return the last day of the last week."""
        return self.start + dt.timedelta(days=WEEK * self.weeks - 1)


def wall_sheet(problem: Problem, programme: Programme) -> WallSheet:
    """Return a programme as a wall sheet."""
    by_vehicle: dict[str, list[VisitLine]] = defaultdict(list)
    for line in visit_lines(problem, programme):
        by_vehicle[line.visit.vehicle].append(line)
    fixed = {(pin.job, pin.occurrence) for pin in problem.pins if pin.job}
    return WallSheet(
        start=problem.start,
        weeks=problem.weeks,
        shut=problem.capacity.closed,
        pinned=frozenset(
            (visit.vehicle, visit.week)
            for visit in programme.visits
            if fixed & set(visit.turns)
        ),
        rows=tuple(
            WallSheetRow(v.key, v.label, v.kind, v.depot, tuple(by_vehicle[v.key]))
            for v in problem.vehicles
            if v.key in by_vehicle
        ),
    )


@dataclass(frozen=True, slots=True)
class SheetJob:
    """A job of a visit as its sheet shows it."""

    code: str
    title: str
    item: str  # "Distributor WVR-201", "" where the vehicle itself is worked on
    equipment: int | None
    position: str  # as a fitter calls it
    procedure: str  # its code, "" where only renewal meets it
    procedure_title: str
    due_on: dt.date
    done_by: dt.date
    hours: tuple[tuple[str, int], ...]  # skill in words, hours
    place: str
    exchange: bool
    parts: str
    note: str
    done_on: dt.date | None
    standing: str  # done, open, late


@dataclass(frozen=True, slots=True)
class VisitSheet:
    """One visit of a published programme, for those who do the work."""

    programme: int
    title: str
    vehicle: int
    number: str
    kind: str
    depot: str
    monday: dt.date
    friday: dt.date
    weeks: int
    jobs: tuple[SheetJob, ...]
    hours: tuple[tuple[str, int], ...]


def visit_sheet(visit: PlannedVisit, on: dt.date) -> VisitSheet:
    """Return the sheet of a planned visit as it stands on a day; so many queries always."""
    jobs = [
        f
        for f in followed(visit.programme, [visit.vehicle_id])
        if f.job.visit_id == visit.pk
    ]
    held = (
        VehicleVersion.objects.current()
        .filter(vehicle=visit.vehicle_id)
        .select_related("depot")
        .order_by("-since_key")
        .first()
    )
    beside = _Beside(held)
    sheet_jobs = tuple(beside.job(one, on) for one in jobs)
    return VisitSheet(
        programme=visit.programme.number,
        title=visit.programme.title,
        vehicle=visit.vehicle_id,
        number=held.number if held else str(visit.vehicle_id),
        kind=type_name(held.type_id) if held else "",
        depot=held.depot.name if held and held.depot else "",
        monday=visit.monday,
        friday=visit.monday + dt.timedelta(days=WEEK * visit.weeks - 3),
        weeks=visit.weeks,
        jobs=sheet_jobs,
        hours=_together(sheet_jobs),
    )


def _together(jobs: tuple[SheetJob, ...]) -> tuple[tuple[str, int], ...]:
    hours: dict[str, int] = {}
    for job in jobs:
        for skill, number in job.hours:
            hours[skill] = hours.get(skill, 0) + number
    return tuple(sorted(hours.items()))


class _Beside:
    """What is read once and laid beside each job: plans, requirements, positions, items."""

    def __init__(self, held: VehicleVersion | None) -> None:
        self.plans = plans_by_code()
        revisions = RequirementRevision.objects.current().order_by("number")
        self.revisions = {
            r.requirement_id: r for r in revisions.select_related("procedure")
        }
        self.procedures = dict(
            ProcedureRevision.objects.current()
            .filter(procedure__in={r.procedure_id for r in self.revisions.values()})
            .order_by("number")
            .values_list("procedure", "title")
        )
        types = TypeRevision.objects.current().filter(
            type=held.type_id if held else None
        )
        self.labels = dict(
            Position.objects.filter(revision__in=types)
            .order_by("revision__number")
            .values_list("code", "label")
        )

    def job(self, one: Followed, on: dt.date) -> SheetJob:
        planned = one.job
        code = planned.requirement.code
        plan, revision = (
            self.plans.get(code),
            self.revisions.get(planned.requirement_id),
        )
        procedure = revision.procedure if revision else None
        hours = plan.hours if plan else {}
        return SheetJob(
            code=code,
            title=one.title,
            item=one.item,
            equipment=planned.equipment_id,
            position=self.labels.get(planned.position, planned.position),
            procedure=procedure.code if procedure else "",
            procedure_title=self.procedures.get(revision.procedure_id, procedure.code)
            if revision and procedure
            else "",
            due_on=planned.due_on,
            done_by=planned.done_by,
            hours=tuple((Skill(s).label, n) for s, n in sorted(hours.items()) if n),
            place=Place(plan.place).label if plan else "",
            exchange=bool(plan and plan.exchange),
            parts=plan.parts if plan else "",
            note=plan.note if plan else "",
            done_on=one.done_on,
            standing=one.standing(on),
        )
