"""A published programme is numbered, sealed and followed; what breaks a rule is refused."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment
from fleet.examination.models import Procedure
from fleet.records.clock import today
from fleet.records.refusing import codes_of
from fleet.records.verifying import prove
from fleet.workshop.following import followed
from fleet.workshop.models import PlannedJob, Programme
from fleet.workshop.pinning import set_pin
from fleet.workshop.publishing import is_whole, publish_programme
from fleet.workshop.running import found_by
from fleet.workshop.vocabulary import RunState, Wish
from tests.examination.factories import make_test
from tests.records.test_two_writers import at_once
from tests.workshop.shop import found_run, open_shop, planner, start


def published(run=None, title="Winter"):
    user, person = planner()
    return publish_programme(
        by=user, person=person, run=run or found_run(), title=title
    )


@pytest.mark.django_db
def test_each_visit_and_job_is_laid_down_under_the_next_number():
    vehicles = open_shop()
    run = found_run()

    first, second = published(run), published(run)

    assert [first.number, second.number] == [1, 2]
    assert {visit.vehicle for visit in first.visits.all()} == set(vehicles)
    starts = found_by(run).starts
    assert {
        (f"AIR/{job.visit.vehicle_id}", job.visit.monday)
        for job in PlannedJob.objects.filter(visit__programme=first)
    } == {
        (key, start() + dt.timedelta(weeks=week)) for (key, _), week in starts.items()
    }


@pytest.mark.django_db
def test_what_was_published_is_sealed_and_agrees_with_its_digest():
    open_shop()
    programme = published()

    assert prove().faults == []
    assert is_whole(programme)
    programme.result["wasted"] += 1
    assert not is_whole(programme)


@pytest.mark.django_db
def test_a_programme_that_does_not_keep_a_pin_set_since_is_refused_with_the_sentence():
    vehicle, _ = open_shop()
    run = found_run()
    week = found_by(run).starts[f"AIR/{vehicle.pk}", 0]
    monday = start() + dt.timedelta(weeks=week)
    set_pin(
        by=None,
        wish=Wish.NOT_IN,
        vehicle=vehicle,
        first=monday,
        last=monday,
        why="Lent",
    )

    with pytest.raises(ValidationError, match="against a pin") as refused:
        published(run)

    assert codes_of(refused.value) == {"breaks_rules"}
    assert not Programme.objects.exists()


@pytest.mark.django_db
def test_a_programme_that_supposes_anything_is_not_published():
    open_shop()
    days = {"first": start().isoformat(), "last": start().isoformat()}
    lost = {"kind": "hours lost", "name": "All", "skill": "", "hours": None, **days}

    with pytest.raises(ValidationError) as refused:
        published(found_run(supposed=[lost]))

    assert codes_of(refused.value) == {"supposes"}


@pytest.mark.django_db
@pytest.mark.parametrize("state", [RunState.RUNNING, RunState.FAILED])
def test_what_an_unfinished_search_found_is_not_published(state):
    open_shop()
    run = found_run()
    run.state = state

    with pytest.raises(ValidationError) as refused:
        published(run)

    assert codes_of(refused.value) == {"not_finished"}


def follow(programme, vehicle, on):
    (one,) = [f for f in followed(programme) if f.job.visit.vehicle_id == vehicle.pk]
    return one.standing(on)


@pytest.mark.django_db
def test_a_job_is_open_until_its_week_is_over_then_late():
    (vehicle,) = open_shop(vehicles=1)
    programme = published()
    friday = PlannedJob.objects.get().done_by

    assert follow(programme, vehicle, friday) == "open"
    assert follow(programme, vehicle, friday + dt.timedelta(days=1)) == "late"


@pytest.mark.django_db
def test_a_job_is_done_by_the_test_recorded_since_publication():
    (vehicle,) = open_shop(vehicles=1)
    programme = published()

    make_test(vehicle=vehicle, procedure=Procedure.objects.get(), on=Moment.on(today()))

    assert follow(programme, vehicle, today()) == "done"


@pytest.mark.django_db
def test_a_test_of_before_publication_does_not_make_a_job_done():
    (vehicle,) = open_shop(vehicles=1)
    programme = published()

    make_test(
        vehicle=vehicle,
        procedure=Procedure.objects.get(),
        on=Moment.on(today() - dt.timedelta(days=1)),
    )

    assert follow(programme, vehicle, today()) == "open"


@pytest.mark.django_db
def test_the_second_time_of_a_job_is_not_done_by_the_test_of_the_first():
    (vehicle,) = open_shop(vehicles=1)
    programme = published(found_run(weeks=90))
    assert PlannedJob.objects.count() == 2

    make_test(vehicle=vehicle, procedure=Procedure.objects.get(), on=Moment.on(today()))

    assert [f.standing(today()) for f in followed(programme)] == ["done", "open"]


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_two_programmes_published_at_once_get_two_numbers():
    open_shop()
    runs = [found_run(), found_run()]
    by = [planner(), planner()]

    outcomes = at_once(
        *(
            lambda n=n: publish_programme(
                by=by[n][0], person=by[n][1], run=runs[n], title=f"Plan {n}"
            )
            for n in range(2)
        )
    )

    assert sorted(made.number for made in outcomes) == [1, 2]


@pytest.mark.django_db
@pytest.mark.parametrize("vehicles", [1, 5])
def test_following_takes_the_same_queries_for_any_programme(
    vehicles, django_assert_num_queries
):
    open_shop(vehicles=vehicles)
    programme = published()

    with django_assert_num_queries(5):
        followed(programme)
