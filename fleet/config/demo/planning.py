"""The demo's programme: searched for, tried otherwise, published, one visit pinned."""

from collections.abc import Sequence

from django.core.exceptions import ValidationError

from fleet.config.demo.line import Line
from fleet.people.access import person_of
from fleet.people.models import User
from fleet.register.models import Vehicle
from fleet.workshop.engine.problem import Problem
from fleet.workshop.engine.rules import best_rule
from fleet.workshop.engine.written import written
from fleet.workshop.loading import problem
from fleet.workshop.models import ProgrammeRun
from fleet.workshop.pinning import set_pin
from fleet.workshop.publishing import publish_programme
from fleet.workshop.running import (
    ask_run,
    first_monday,
    found_by,
    problem_of,
    weeks_in,
)
from fleet.workshop.suppositions import Supposition
from fleet.workshop.vocabulary import RunState, Wish
from fleet.workshop.what_if import choices_of, contractor_late

MONTHS, SECONDS, RATE = 18, 60, 0.05
LARGEST = 200  # vehicles: with more of them it is asked for on the page


def programme(line: Line) -> None:
    """Plan the work of the coming year and a half, as the planner would."""
    if not line.vehicles or len(line.vehicles) > LARGEST:
        return
    by = User.objects.get(username="planner")
    try:
        run = _answered(line, by, "Winter work and next season")
    except ValidationError:
        return  # a smaller demo may have nothing that falls due
    publish_programme(by=by, person=person_of(by), run=run, title=run.title)
    answers = problem_of(run)
    assert answers is not None
    choices = choices_of(answers)
    for key, (name, _groups) in list(choices.contractors.items())[:1]:
        late = contractor_late(choices, key, 6)
        _answered(line, by, f"{name} six weeks late", [late], run)
    _pin(run, answers, by)


def _answered(
    line: Line,
    by: User,
    title: str,
    supposed: Sequence[Supposition] = (),
    beside: ProgrammeRun | None = None,
) -> ProgrammeRun:
    """Return a search that left off at what a person would write on the wall chart."""
    start = first_monday(line.today)
    weeks = weeks_in(start, MONTHS)
    answers = problem(start, weeks, RATE, supposed, on=line.today)
    run = ask_run(
        by=by,
        title=title,
        start=start,
        weeks=weeks,
        seconds=SECONDS,
        rate=RATE,
        supposed=supposed,
        beside=beside,
    )
    run.problem, run.result = written(answers), written(best_rule(answers))
    run.state, run.heard_at = RunState.STOPPED, run.asked_at
    run.save()
    return run


def _pin(run: ProgrammeRun, answers: Problem, by: User) -> None:
    found = found_by(run)
    assert found is not None
    visit = found.visits[len(found.visits) // 2]
    monday = answers.monday(visit.week)
    set_pin(
        by=by,
        wish=Wish.NOT_IN,
        vehicle=Vehicle.objects.get(pk=int(visit.vehicle)),
        first=monday,
        last=monday,
        why="Wanted for the gala",
    )
