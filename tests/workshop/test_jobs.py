"""What falls due becomes jobs of a programme that hold exactly what an overrun holds."""

import datetime as dt
from dataclasses import replace

import pytest
from django.core.exceptions import ValidationError

from fleet.fitness.examples import AIR_TEST, SOUND_DUAL, passed, policy, requirement
from fleet.fitness.rules import BOOK
from fleet.fitness.services import mark_for_rebuild
from fleet.fitness.verdict import verdict
from fleet.records.models import Entry
from fleet.records.refusing import codes_of
from fleet.register.services.usage import log_usage
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import (
    Effect,
    EquipmentKind,
    Level,
    Scope,
    System,
    VehicleStatus,
)
from fleet.upkeep.models import Requirement
from fleet.workshop.engine.problem import Job
from fleet.workshop.falling import holds_systems
from fleet.workshop.job_plans import correct_job_plan, revise_job_plan, set_job_plan
from fleet.workshop.jobs import NO_PLAN, NOT_REASSESSED, engine_jobs, load_jobs
from fleet.workshop.models import JobPlanVersion
from fleet.workshop.vocabulary import Place
from tests.upkeep.factories import make_age_limit, make_requirement
from tests.web.scenes import coach, day, fleet, on, standing_at_today
from tests.workshop.factories import make_plan

START = dt.date(2026, 5, 11)  # the Monday after the day these tests stand at


@pytest.fixture
def shed(db):
    """The clock stopped the day before the start."""
    with standing_at_today():
        yield


def only(weeks=60, **options):
    """The one job there is."""
    (job,) = engine_jobs(START, weeks, **options)
    return job


def test_a_job_is_what_the_plan_says_on_the_days_the_register_says(shed):
    (vehicle,) = fleet(1)
    annual = Requirement.objects.get(code="annual")
    make_plan(
        annual, hours={"air": 6, "gear": 0}, weeks=2, place=Place.PIT, early_days=56
    )

    assert only() == Job(
        key=f"annual/{vehicle.pk}",
        vehicle=str(vehicle.pk),
        label="Air brake test",
        due=(day("2027-03-05") - START).days,
        last_good=(day("2027-03-05") - START).days,
        life=366,  # 5 March 2027 to 5 March 2028, a leap year
        hours={"air": 6},
        weeks=2,
        place=Place.PIT,
        earliest=35,  # the first Monday 56 days before or later: 11 January 2027
        interval=366,
        early=56,
        holds=frozenset({"air"}),
    )


def test_a_job_that_is_not_sensible_within_the_weeks_is_none_of_theirs(shed):
    fleet(1)
    make_plan(Requirement.objects.get(code="annual"), early_days=56)

    assert engine_jobs(START, 35) == []
    assert len(engine_jobs(START, 36)) == 1


def test_tolerance_goes_before_the_last_good_day_and_before_every_later_one(shed):
    fleet(1)
    make_plan(make_requirement(code="tolerant", tolerance_days=14))

    job = next(j for j in engine_jobs(START, 60) if j.key.startswith("tolerant"))

    assert (job.last_good - job.due, job.tolerance) == (14, 14)


def test_what_was_never_done_counts_as_overdue_from_the_start(shed):
    coach("T 101", tested=None)
    make_plan(make_requirement(code="never"))

    job = only()

    assert (job.due, job.last_good, job.earliest) == (-1, -1, 0)


def test_a_requirement_of_an_item_takes_a_unit_of_its_group(shed):
    vehicle = coach("T 101")
    item = vehicle.fittings.get(position="bp-hose-1", closed_by=None).equipment
    make_plan(make_age_limit(code="hose"), exchange=True)

    job = only()

    assert job.key == f"hose/{vehicle.pk}/{item.pk}"
    assert job.group == "no group: bp_hose"  # of which nobody has one in store
    assert job.label.startswith("Hose age, N")


def test_pools_stand_for_the_systems_a_vehicle_fills_them_with(shed):
    (vehicle,) = fleet(1)
    make_plan(Requirement.objects.get(code="annual"))
    pools = {str(vehicle.pk): {System.AIR: frozenset({"line 3", "line 5"})}}

    assert only(pools_of=pools).holds == {"line 3", "line 5"}
    assert only(pools_of={}).holds == frozenset()


def test_miles_shorten_the_interval_at_the_rate_of_the_recent_past(shed):
    (vehicle,) = fleet(1)
    make_plan(make_requirement(code="far", months=24, miles=1000))
    log_usage(
        by=None,
        vehicle=vehicle,
        first=day("2026-01-01"),
        last=day("2026-04-10"),
        miles=1000,
        days=50,
    )

    job = next(j for j in engine_jobs(START, 60) if j.key.startswith("far"))

    assert job.interval == 100  # 1000 miles at ten a day, long before the months


def test_without_a_plan_it_is_left_out_and_said_so(shed):
    fleet(1)

    found = load_jobs(START, 60)

    assert found.jobs == []
    assert [(left.falling.code, left.why) for left in found.left_out] == [
        ("annual", NO_PLAN)
    ]


def test_a_vehicle_not_yet_reassessed_is_left_out_and_said_so(shed):
    fleet(1)
    make_plan(Requirement.objects.get(code="annual"))
    mark_for_rebuild(None)

    found = load_jobs(START, 60)

    assert found.jobs == []
    assert [left.why for left in found.left_out] == [NOT_REASSESSED]


def test_a_vehicle_withdrawn_has_no_work(shed):
    (vehicle,) = fleet(1)
    make_plan(Requirement.objects.get(code="annual"))
    alter_vehicle(
        by=None,
        vehicle=vehicle,
        since=on("2026-05-01"),
        status=VehicleStatus.WITHDRAWN,
    )

    assert load_jobs(START, 60).jobs == []


def test_a_start_on_any_day_but_a_monday_is_refused(shed):
    with pytest.raises(ValueError, match="not a Monday"):
        engine_jobs(dt.date(2026, 5, 12), 10)


@pytest.mark.parametrize("vehicles", [1, 5])
def test_loading_takes_the_same_number_of_queries_whatever_the_fleet(
    shed, vehicles, django_assert_num_queries
):
    fleet(vehicles)
    make_age_limit(code="hose")
    make_plan(Requirement.objects.get(code="annual"))

    # due dates, vehicles, plans, revisions, conditions, usage, items, places, stale,
    # concessions: none is granted here, so their re-checks are not read
    with django_assert_num_queries(10):
        assert len(engine_jobs(START, 60)) == vehicles


@pytest.mark.parametrize("effect", Effect)
@pytest.mark.parametrize("scope", Scope)
def test_a_job_holds_the_systems_that_the_rules_take_away_when_it_is_overrun(
    effect, scope
):
    tested = dt.date(2026, 1, 10)
    asked = requirement(
        "X",
        procedure=AIR_TEST,
        months=12,
        effect=effect,
        scope=scope,
        condition="Slow.",
    )
    file = replace(SOUND_DUAL, tests=(passed(1, AIR_TEST, tested),), usage=())
    found = verdict(file, policy(asked), BOOK)

    last_good, overrun = dt.date(2027, 1, 10), dt.date(2027, 1, 11)

    assert all(found.span_on(s, last_good).level >= Level.CONDITIONAL for s in System)
    lost = {s for s in System if found.span_on(s, overrun).level < Level.CONDITIONAL}
    assert holds_systems(effect, scope) == lost


def test_a_plan_is_set_once_then_revised_and_put_right_with_every_version_kept(db):
    needed = make_requirement()
    first = set_job_plan(by=None, requirement=needed, hours={"air": 4})

    second = revise_job_plan(by=None, plan=first, hours={"air": 6})
    third = correct_job_plan(by=None, plan=second, reason="Miscounted.", weeks=2)

    assert (third.hours, third.weeks) == ({"air": 6}, 2)
    assert JobPlanVersion.objects.count() == 3
    assert JobPlanVersion.objects.current().get() == third


def refused(code, call, **values):
    """It is refused with a code, and writes nothing."""
    before = Entry.objects.count()
    with pytest.raises(ValidationError) as caught:
        call(by=None, **values)
    assert code in codes_of(caught.value)
    assert Entry.objects.count() == before


def test_a_second_first_plan_is_refused(db):
    needed = make_requirement()
    make_plan(needed)

    refused("plan_is_there", set_job_plan, requirement=needed, hours={"air": 1})


@pytest.mark.parametrize(
    ("code", "values"),
    [
        ("no_hours", {"hours": {"air": 0}}),
        ("hours_not_understood", {"hours": {"welding": 3}}),
        ("no_item", {"hours": {"air": 3}, "exchange": True}),
    ],
)
def test_a_plan_that_makes_no_sense_is_refused(db, code, values):
    refused(code, set_job_plan, requirement=make_requirement(), **values)


def test_a_plan_somebody_else_revised_meanwhile_is_not_overwritten(db):
    first = make_plan(make_age_limit(EquipmentKind.BP_HOSE), exchange=True)
    revise_job_plan(by=None, plan=first, weeks=2)

    refused("already_superseded", revise_job_plan, plan=first, weeks=3)
