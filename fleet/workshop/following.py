"""How far a published programme has got: each job done, open or late, by the records."""

import datetime as dt
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Q

from fleet.examination.models import TestRecord
from fleet.fitness.storing import among
from fleet.register.models import EquipmentVersion, Fitting
from fleet.register.vocabulary import EquipmentKind
from fleet.upkeep.models import RequirementRevision
from fleet.workshop.models import PlannedJob, Programme

Subject = tuple[str, int]  # "vehicle" or "equipment", and its key
Place = tuple[int, str]  # a vehicle and a position on it


@dataclass(frozen=True, slots=True)
class Followed:
    """A planned job and what the records say of it."""

    job: PlannedJob
    title: str
    item: str  # "Distributor WVR-201", "" where it is the vehicle itself
    done_on: dt.date | None

    def standing(self, on: dt.date) -> str:
        """Return how it stands on a day: done, late or open."""
        if self.done_on is not None:
            return "done"
        return "late" if self.job.done_by < on else "open"


def key_of(job: PlannedJob) -> str:
    """Return the key under which the engine knows a job's work."""
    parts = [job.requirement.code, str(job.visit.vehicle_id)]
    if job.equipment_id is not None:
        parts.append(str(job.equipment_id))
    return "/".join(parts)


def followed(
    programme: Programme, vehicles: Collection[int] | None = None
) -> list[Followed]:
    """
    Return the jobs of a programme in the order of its visits, with the day each was done.

    `vehicles` keeps those of some. Done is what a record since the day of publication shows: a test passed by the
    requirement's procedure, or another item fitted in the position. Five queries.
    """
    planned = PlannedJob.objects.filter(visit__programme=programme)
    if vehicles is not None:
        planned = planned.filter(visit__vehicle__in=among(vehicles))
    planned = planned.select_related("visit", "requirement")
    jobs = list(planned.order_by("occurrence", "visit__monday", "pk"))
    met_by = _requirements(jobs)
    tested = _tests(programme, jobs, {p for _, p in met_by.values() if p})
    fitted = _fittings(programme, jobs)
    items = _items(jobs)
    last: dict[str, dt.date] = {}
    found = []
    for job in jobs:
        title, procedure = met_by.get(job.requirement_id, (job.requirement.code, None))
        subject = _subject(job)
        days = {*tested.get((subject, procedure or 0), ())}
        if job.equipment_id is not None:
            days |= {*fitted.get((job.visit.vehicle_id, job.position), ())}
        key = key_of(job)
        done = min(
            (day for day in days if _counts(day, job, last.get(key))), default=None
        )
        if done is not None:
            last[key] = done
        found.append(Followed(job, title, items.get(job.equipment_id or 0, ""), done))
    return sorted(found, key=lambda f: (f.job.visit.monday, f.job.visit_id, f.job.pk))


def _items(jobs: Iterable[PlannedJob]) -> dict[int, str]:
    wanted = {job.equipment_id for job in jobs if job.equipment_id is not None}
    rows = EquipmentVersion.objects.current().filter(equipment__in=among(wanted))
    return {
        key: f"{EquipmentKind(kind).label} {serial}"
        for key, kind, serial in rows.values_list("equipment", "kind", "serial")
    }


def _counts(day: dt.date, job: PlannedJob, before: dt.date | None) -> bool:
    """Say whether a record is of this time, and not the first time made twice."""
    if job.occurrence == 0:
        return True
    return before is not None and day > before + (job.done_by - before) / 2


def _subject(job: PlannedJob) -> Subject:
    if job.equipment_id is not None:
        return "equipment", job.equipment_id
    return "vehicle", job.visit.vehicle_id


def _requirements(jobs: Iterable[PlannedJob]) -> dict[int, tuple[str, int | None]]:
    """Return title and procedure of each requirement, as the newest revision has them."""
    wanted = {job.requirement_id for job in jobs}
    rows = RequirementRevision.objects.current().filter(requirement__in=wanted)
    return {
        key: (title, procedure)
        for key, title, procedure in rows.order_by("number").values_list(
            "requirement", "title", "procedure"
        )
    }


def _tests(
    programme: Programme, jobs: Iterable[PlannedJob], procedures: set[int]
) -> Mapping[tuple[Subject, int], list[dt.date]]:
    vehicles = {job.visit.vehicle_id for job in jobs}
    items = {job.equipment_id for job in jobs if job.equipment_id is not None}
    of_them = Q(vehicle__in=among(vehicles)) | Q(equipment__in=among(items))
    rows = TestRecord.objects.current().filter(
        of_them,
        passed=True,
        procedure_revision__procedure__in=procedures,
        on_earliest__gte=programme.published_on,
    )
    found: dict[tuple[Subject, int], list[dt.date]] = {}
    for vehicle, item, procedure, day in rows.values_list(
        "vehicle", "equipment", "procedure_revision__procedure", "on_latest"
    ):
        subject = ("equipment", item) if item is not None else ("vehicle", vehicle)
        found.setdefault((subject, procedure), []).append(day)
    return found


def _fittings(
    programme: Programme, jobs: Iterable[PlannedJob]
) -> Mapping[Place, list[dt.date]]:
    vehicles = {job.visit.vehicle_id for job in jobs if job.equipment_id is not None}
    rows = Fitting.objects.current().filter(
        vehicle__in=among(vehicles), since_earliest__gte=programme.published_on
    )
    found: dict[Place, list[dt.date]] = {}
    for vehicle, position, day in rows.values_list(
        "vehicle", "position", "since_latest"
    ):
        found.setdefault((vehicle, position), []).append(day)
    return found
