"""The problem of a programme is what the register holds: work, shop, diary, pins."""

import datetime as dt

import pytest
import time_machine
from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment
from fleet.records.clock import today
from fleet.records.refusing import codes_of
from fleet.register.vocabulary import Effect, Scope
from fleet.workshop.engine.absence import line_of
from fleet.workshop.engine.score import fit_vehicles
from fleet.workshop.exchange_services import describe_group, send_away
from fleet.workshop.models import PinVersion
from fleet.workshop.pinning import set_pin, take_out_pin
from fleet.workshop.publishing import publish_programme
from fleet.workshop.running import found_by
from fleet.workshop.vocabulary import Wish
from tests.defects.factories import make_defect
from tests.register.factories import make_equipment
from tests.upkeep.factories import make_requirement
from tests.workshop.factories import make_plan
from tests.workshop.kept import day, make_hours
from tests.workshop.shop import asked, found_run, open_shop, planner, start

pytestmark = pytest.mark.django_db


def test_each_vehicle_has_its_work_due_a_year_after_it_was_done():
    vehicles = open_shop()

    found = asked()

    due = (today() - dt.timedelta(days=300)).replace(
        year=(today() - dt.timedelta(days=300)).year + 1
    )
    assert {job.key: found.date_of(job.due) for job in found.jobs} == {
        f"AIR/{vehicle.pk}": due for vehicle in vehicles
    }
    assert found.capacity.hours["air"][1] == 10
    assert found.capacity.roads[1] == 1


def test_a_vehicle_stopped_by_a_defect_is_counted_for_no_line_of_the_diary():
    sound, faulty = open_shop()
    make_defect(
        vehicle=faulty,
        position="distributor",
        on=Moment.on(today() - dt.timedelta(days=2)),
        effect=Effect.ISOLATE,
        scope=Scope.AIR_BRAKE,
    )

    found = asked()

    fit = fit_vehicles(found, {})
    assert {key for keys in fit.values() for key in keys} == {str(sound.pk)}
    assert {line_of(need.pool) for need in fit} == {n.pool for n in found.needs}


def test_an_overdue_vehicle_is_counted_again_once_its_work_is_planned():
    (vehicle,) = open_shop(vehicles=1)
    found = asked()
    key = f"AIR/{vehicle.pk}"
    due = found.job[key].due // 7

    left, done = fit_vehicles(found, {}), fit_vehicles(found, {(key, 0): due - 1})

    after = next(need for need in found.needs if need.week == due + 3)
    assert left[after] == frozenset()
    assert done[after] == {str(vehicle.pk)}


def test_a_pin_of_work_and_one_of_a_vehicle_hold_in_their_weeks():
    vehicle, other = open_shop()
    requirement = PinVersion._meta.get_field("requirement").related_model.objects.get()
    monday = start() + dt.timedelta(weeks=4)
    set_pin(
        by=None,
        wish=Wish.AT,
        vehicle=vehicle,
        work=[(requirement, None)],
        first=monday,
        last=monday + dt.timedelta(weeks=1),
        why="The pit is free then",
    )
    set_pin(
        by=None, wish=Wish.NOT_IN, vehicle=other, first=monday, last=monday, why="Lent"
    )

    pins = {(p.wish, p.job or p.vehicle, p.weeks) for p in asked().pins}

    assert pins == {
        (Wish.AT, f"AIR/{vehicle.pk}", frozenset({4, 5})),
        (Wish.NOT_IN, str(other.pk), frozenset({4})),
    }


def test_a_pin_taken_out_holds_no_longer_and_is_kept_with_its_reason():
    (vehicle,) = open_shop(vehicles=1)
    (pin,) = set_pin(
        by=None,
        wish=Wish.NOT_IN,
        vehicle=vehicle,
        first=start(),
        last=start(),
        why="Lent",
    )

    take_out_pin(by=None, pin=pin, reason="Came back early")

    assert asked().pins == ()
    assert [v.reason for v in pin.versions.order_by("pk")] == ["", "Came back early"]


def test_a_pin_without_a_reason_is_refused():
    (vehicle,) = open_shop(vehicles=1)

    with pytest.raises(ValidationError) as refused:
        set_pin(
            by=None,
            wish=Wish.NOT_IN,
            vehicle=vehicle,
            first=start(),
            last=start(),
            why=" ",
        )

    assert codes_of(refused.value) == {"no_reason"}


@pytest.mark.parametrize(
    ("expected", "returns"),
    [
        pytest.param("2026-06-12", ((0, 1),), id="before the Monday it begins"),
        pytest.param("2026-06-11", ((0, 1),), id="on the day it is asked"),
        pytest.param("2026-06-10", (), id="overdue: counted on by nobody"),
    ],
)
@time_machine.travel("2026-06-11T12:00Z", tick=False)  # a Thursday
def test_a_unit_that_comes_back_before_the_programme_begins_is_there(expected, returns):
    open_shop(vehicles=1)
    unit = make_equipment(group="DV", since=Moment.parse("2026-01-05"))
    group = describe_group(by=None, code="DV", label="distributors").group
    days = {"sent_on": day("2026-05-04"), "expected_on": day(expected)}
    send_away(by=None, group=group, items=[unit], **days)

    (found,) = asked().floats

    assert start() == day("2026-06-15")
    assert found.returns == returns


def test_the_next_search_knows_where_the_published_programme_has_each_job():
    open_shop()
    user, person = planner()
    run = found_run()
    publish_programme(by=user, person=person, run=run, title="One")

    assert asked().published == found_by(run).starts


@pytest.mark.parametrize(
    ("prepare", "code"),
    [
        pytest.param(lambda: None, "no_job_plans", id="an empty register"),
        pytest.param(
            lambda: make_plan(make_requirement(code="AIR")),
            "no_capacity",
            id="no hours",
        ),
        pytest.param(
            lambda: (
                make_plan(make_requirement(code="AIR")),
                make_hours(first=today()),
            ),
            "nothing_due",
            id="no vehicle",
        ),
    ],
)
def test_what_is_lacking_is_said(prepare, code):
    prepare()

    with pytest.raises(ValidationError) as refused:
        asked()

    assert codes_of(refused.value) == {code}


@pytest.mark.parametrize("vehicles", [1, 6])
def test_loading_takes_the_same_queries_for_any_fleet(
    vehicles, django_assert_num_queries
):
    open_shop(vehicles=vehicles)
    user, person = planner()
    publish_programme(by=user, person=person, run=found_run(), title="One")

    with django_assert_num_queries(QUERIES):
        asked()


QUERIES = 41
