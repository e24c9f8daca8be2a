"""A programme made public: numbered, sealed with the problem it answers, never changed."""

from collections.abc import Iterator
from dataclasses import replace

from fleet.fitness.locks import lock_numbers
from fleet.fitness.models import DueDate
from fleet.fitness.storing import among
from fleet.people.models import Person, User
from fleet.records.clock import today
from fleet.records.deeds import deed
from fleet.records.refusing import refusing
from fleet.records.versions import identify, write_many
from fleet.upkeep.models import Requirement
from fleet.workshop.engine.checker import broken_rules
from fleet.workshop.engine.problem import Problem
from fleet.workshop.engine.problem import Programme as Found
from fleet.workshop.engine.written import FORMAT, digest, read_problem, read_programme
from fleet.workshop.engine.written import written as plain
from fleet.workshop.if_done import parts_of
from fleet.workshop.models import PlannedJob, PlannedVisit, Programme, ProgrammeRun
from fleet.workshop.pinning import engine_pins
from fleet.workshop.running import found_by, problem_of
from fleet.workshop.telling import SKILLS, VisitLine, visit_lines
from fleet.workshop.vocabulary import RunState

FINISHED = (RunState.DONE, RunState.STOPPED)


def publish_programme(
    *, by: User | None, person: Person, run: ProgrammeRun, title: str, note: str = ""
) -> Programme:
    """
    Publish what a search found, under the next number.

    Raises ValidationError: `not_finished`, `supposes`, and `breaks_rules` with a sentence
    for each hard rule or pin, as they stand now, that it does not keep.
    """
    problem, found = problem_of(run), found_by(run)
    if run.state not in FINISHED or problem is None or found is None:
        raise refusing(
            "Only what a finished search found can be published.", code="not_finished"
        )
    if run.supposed:
        raise refusing(
            "It supposes what is not recorded. Record it, and search again.",
            code="supposes",
        )
    with deed("workshop.publish_programme", by=by) as entry:
        lock_numbers()
        _refuse_broken(problem, found)
        last = Programme.objects.first()
        programme = identify(
            Programme,
            entry=entry,
            number=last.number + 1 if last else 1,
            title=title.strip() or run.title,
            start=problem.start,
            weeks=problem.weeks,
            published_on=today(),
            published_by=person,
            note=note.strip(),
            problem=plain(problem),
            result=plain(found),
            format=FORMAT,
            digest=digest(problem, found),
        )
        _write_visits(programme, problem, found)
        return programme


def is_whole(programme: Programme) -> bool:
    """Say whether problem and result are those its digest was made of."""
    problem, found = read_problem(programme.problem), read_programme(programme.result)
    return digest(problem, found) == programme.digest


def _refuse_broken(problem: Problem, found: Found) -> None:
    """Refuse what breaks a hard rule, or a pin set since the search."""
    pinned = replace(problem, pins=engine_pins(problem))
    broken = broken_rules(pinned, found.starts, SKILLS)
    if broken:
        raise refusing(
            f"It cannot be done as it stands. {' '.join(broken)} Search again, "
            "and first take out any pin that cannot be kept.",
            code="breaks_rules",
        )


def _write_visits(programme: Programme, problem: Problem, found: Found) -> None:
    lines = visit_lines(problem, found)
    visits = [
        PlannedVisit(
            programme=programme,
            vehicle_id=int(line.visit.vehicle),
            monday=line.monday,
            weeks=line.visit.weeks,
        )
        for line in lines
    ]
    list(write_many(visits))
    list(write_many(_jobs(lines, visits)))


def _jobs(lines: list[VisitLine], visits: list[PlannedVisit]) -> Iterator[PlannedJob]:
    requirements = dict(Requirement.objects.values_list("code", "pk"))
    positions: dict[tuple[str, int, int | None], str] = {
        (code, vehicle, item): position
        for code, vehicle, item, position in DueDate.objects.filter(
            vehicle__in=among({visit.vehicle_id for visit in visits})
        ).values_list("requirement", "vehicle", "equipment", "position")
    }
    for line, visit in zip(lines, visits, strict=True):
        for turn in line.turns:
            code, item = parts_of(turn.key)
            yield PlannedJob(
                visit=visit,
                requirement_id=requirements[code],
                equipment_id=item,
                position=positions.get((code, visit.vehicle_id, item), ""),
                occurrence=turn.occurrence,
                due_on=turn.due,
                done_by=turn.done,
            )
