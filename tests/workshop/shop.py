"""A small workshop with vehicles whose yearly test falls due soon."""

import datetime as dt

from fleet.engineering.calendar import Moment
from fleet.people.access import person_of
from fleet.people.models import Skill
from fleet.records.clock import today
from fleet.register.vocabulary import System
from fleet.workshop.engine.rules import best_rule
from fleet.workshop.engine.written import written
from fleet.workshop.loading import problem
from fleet.workshop.models import ProgrammeRun
from fleet.workshop.running import ask_run, first_monday
from fleet.workshop.searching import search
from fleet.workshop.vocabulary import RunState
from tests.examination.factories import make_procedure, make_test
from tests.people.factories import UserFactory
from tests.register.factories import equip, make_vehicle
from tests.upkeep.factories import make_conditions, make_requirement
from tests.workshop.factories import make_plan
from tests.workshop.kept import make_hours, make_line, make_place

WEEKS = 26
TESTED_DAYS_AGO = 300  # so that the yearly test is due in about nine weeks


def start():
    return first_monday(today())


def open_shop(*, vehicles=2, hours=10, wanted=1):
    """Forty hours, one road, one line of the diary, one requirement with its plan."""
    make_conditions()
    procedure = make_procedure()
    requirement = make_requirement(code="AIR", procedure=procedure, title="Air test")
    make_plan(requirement, hours={Skill.AIR: 8})
    make_hours(first=today(), hours=hours, title="Shed staff")
    make_place(first=today())
    make_line(
        title="Goods",
        first=start(),
        last=start() + dt.timedelta(weeks=WEEKS),
        system=System.AIR,
        vehicles=wanted,
    )
    return [vehicle_tested(procedure) for _ in range(vehicles)]


def vehicle_tested(procedure, days_ago=TESTED_DAYS_AGO):
    """A sound vehicle whose air brake was last tested so many days ago."""
    vehicle = make_vehicle()
    equip(vehicle)
    on = Moment.on(today() - dt.timedelta(days=days_ago))
    make_test(vehicle=vehicle, procedure=procedure, on=on)
    return vehicle


def asked(*, weeks=WEEKS, rate=0.05, supposed=()):
    return problem(start(), weeks, rate, supposed, on=today())


def found_run(*, by=None, supposed=(), beside=None, weeks=WEEKS):
    """A finished search that found what the better rule of thumb gives."""
    run = ask_run(
        by=by,
        title="Winter",
        start=start(),
        weeks=weeks,
        seconds=60,
        rate=0.05,
        supposed=supposed,
        beside=beside,
    )
    answers = asked(weeks=weeks, supposed=supposed)
    run.problem, run.result = written(answers), written(best_rule(answers))
    run.state, run.heard_at = RunState.DONE, run.asked_at
    run.save()
    return ProgrammeRun.objects.get(pk=run.pk)


def searched(*, by=None, seconds=2, weeks=WEEKS, **more):
    """A search that is over; it writes beside the test, which needs a real commit."""
    run = ask_run(
        by=by,
        title="Winter",
        start=start(),
        weeks=weeks,
        seconds=seconds,
        rate=0.05,
        **more,
    )
    search(run)
    return ProgrammeRun.objects.get(pk=run.pk)


def planner():
    """A planner's account and the person behind it."""
    user = UserFactory(role="planner")
    return user, person_of(user)
