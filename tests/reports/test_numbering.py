"""Numbers of statements and snapshots: counted as integers, one by one, year by year."""

import datetime as dt

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from fleet.fitness.models import RunOutcome, Snapshot, Statement
from fleet.fitness.snapshots import take_snapshot
from fleet.records.clock import today
from fleet.records.deeds import deed
from fleet.records.verifying import prove
from fleet.records.versions import identify
from fleet.reports.issuing import issue
from fleet.reports.season import begin, choice, step
from tests.defects.factories import person
from tests.people.factories import UserFactory
from tests.records.test_two_writers import at_once
from tests.web.reading import rows
from tests.web.scenes import TODAY, coach, fleet, make_practice, standing_at_today


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


def issued(vehicle):
    """A statement of a vehicle for the day the clock says."""
    return issue(by=None, person=person("Edda Quill"), vehicle=vehicle, on=today())


def numbered(number, vehicle):
    """A statement under a number far on in its year."""
    like = issued(vehicle)
    with deed("test.numbered", by=None) as entry:
        values = {
            field.name: getattr(like, field.name)
            for field in Statement._meta.concrete_fields
            if not (field.generated or field.primary_key or field.name == "created_by")
        }
        token = f"of-{number}"
        return identify(
            Statement, entry=entry, **values | {"number": number, "token": token}
        )


@pytest.mark.django_db
def test_numbers_go_on_after_9999_and_begin_anew_with_the_year(client, manager):
    make_practice()
    vehicle = coach("T 1")
    numbered("2026-9999", vehicle)
    assert issued(vehicle).number == "2026-10000"
    assert issued(vehicle).number == "2026-10001"
    client.force_login(manager)
    page = client.get(reverse("reports:statement-list"), {"sort": "-number"})
    listed = [row["Statement"] for row in rows(page.content.decode())]
    assert listed == ["2026-10001", "2026-10000", "2026-0001"]
    assert client.get(reverse("reports:issued", args=["2026-10000"])).status_code == 200
    with time_machine.travel(dt.datetime(2027, 1, 2, 12, tzinfo=dt.UTC)):
        assert issued(vehicle).number == "2027-0001"
    assert [s.number for s in Statement.objects.all()][:3] == [
        "2027-0001",
        "2026-10001",
        "2026-10000",
    ]
    assert prove().faults == []


@pytest.mark.django_db
def test_two_spellings_of_one_number_are_one_number():
    make_practice()
    vehicle = coach("T 1")
    issued(vehicle)
    with pytest.raises((IntegrityError, ValidationError)), transaction.atomic():
        numbered("2026-00001", vehicle)


@pytest.mark.django_db
def test_snapshots_go_on_after_999():
    make_practice()
    vehicle = coach("T 1")
    taken = {
        "by": None,
        "person": person("Edda Quill"),
        "vehicles": [vehicle],
        "on": TODAY,
        "reason": "Ran past a signal",
        "read": lambda *_: {},
    }
    first = take_snapshot(**taken)
    with deed("test.numbered", by=None) as entry:
        values = {
            field.name: getattr(first, field.name)
            for field in Snapshot._meta.concrete_fields
            if not (field.generated or field.primary_key or field.name == "created_by")
        }
        identify(Snapshot, entry=entry, **values | {"number": "S-2026-999"})
    assert take_snapshot(**taken).number == "S-2026-1000"
    assert take_snapshot(**taken).number == "S-2026-1001"


@pytest.mark.django_db(transaction=True)
def test_two_who_issue_at_once_take_two_numbers():
    vehicles = fleet(2)
    signer = person("Edda Quill")

    outcomes = at_once(
        *(
            lambda v=vehicle: issue(by=None, person=signer, vehicle=v, on=TODAY)
            for vehicle in vehicles
        )
    )

    assert {outcome.number for outcome in outcomes} == {"2026-0001", "2026-0002"}


@pytest.mark.django_db(transaction=True)
def test_two_tabs_that_go_on_with_one_run_issue_each_vehicle_once():
    vehicles = fleet(4)
    signers = [person("Edda Quill"), person("Al Orde")]
    run = begin(
        choice(TODAY, "braked"),
        [vehicle.pk for vehicle in vehicles],
        by=None,
        person=signers[0],
    )

    outcomes = at_once(
        *(lambda p=signer: step(run, by=None, person=p) for signer in signers)
    )

    settled = [outcome for outcomes_ in outcomes for outcome in outcomes_]
    assert len(settled) == 4
    assert Statement.objects.count() == RunOutcome.objects.count() == 4
    assert {s.vehicle_id for s in Statement.objects.all()} == {v.pk for v in vehicles}
    assert [s.count for s in Statement.objects.order_by("count")] == [1, 2, 3, 4]
    assert prove().faults == []


@pytest.mark.django_db(transaction=True)
def test_two_managers_pressing_at_once_get_the_page_and_one_statement_a_vehicle():
    vehicles = fleet(3)
    users = [UserFactory(username=name, role="manager") for name in ("one", "two")]
    run = begin(
        choice(TODAY, "braked"),
        [vehicle.pk for vehicle in vehicles],
        by=None,
        person=person("Edda Quill"),
    )

    def press(user):
        client = Client()
        client.force_login(user)
        return client.post(run.get_absolute_url(), follow=True).status_code

    assert at_once(*(lambda u=user: press(u) for user in users)) == [200, 200]
    assert Statement.objects.count() == 3
