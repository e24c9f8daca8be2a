"""Statements under a number: issued, vouched for, contradicted, superseded, withdrawn."""

import datetime as dt
import uuid
from io import BytesIO

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from fleet.defects.services import raise_defect
from fleet.fitness.models import Statement, StatementStatus, StatementVersion
from fleet.fitness.statements import standing_of, withdraw_statement
from fleet.fitness.storing import mark_stale
from fleet.people.access import person_of
from fleet.people.models import Skill
from fleet.records.deeds import deed
from fleet.records.guards import lift, restore
from fleet.records.refusing import codes_of
from fleet.records.verifying import prove
from fleet.register.vocabulary import Effect, Level, Scope
from fleet.reports.issuing import issue
from tests.defects.factories import person
from tests.examination.factories import make_test
from tests.people.factories import make_competence
from tests.register.factories import make_vehicle
from tests.web.reading import words
from tests.web.scenes import (
    TODAY,
    coach,
    cracked_hanger,
    day,
    fleet,
    make_practice,
    on,
    standing_at_today,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


@pytest.fixture
def vehicle():
    make_practice()
    return coach("T 1")


def issued(vehicle, **values):
    """A statement of a vehicle for today."""
    return issue(
        **{"by": None, "person": person("Edda Quill"), "vehicle": vehicle, "on": TODAY}
        | values
    )


def stands(statement):
    """How a statement stands, and why."""
    version = standing_of(statement)
    return version.status, version.words


def vouched(statement):
    """What the square code's page says to somebody who never signed in."""
    return words(Client().get(reverse("reports:vouch", args=[statement.token])))


def text_of(answer):
    """The words of a PDF."""
    pages = PdfReader(BytesIO(answer.content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_a_manager_issues_prints_and_anybody_may_ask_whether_it_is_valid(
    client, manager, vehicle
):
    client.force_login(manager)
    address = reverse("reports:issue", args=[vehicle.pk])
    sent = {"submission": uuid.uuid4(), "on": TODAY.isoformat()}
    page = client.post(address, sent, follow=True)
    statement = Statement.objects.get()
    assert statement.number == "2026-0001"
    assert "Statement 2026-0001" in words(page)
    assert "Valid" in words(page)

    paper = text_of(client.get(reverse("reports:paper", args=[statement.number])))
    assert "Statement No. 2026-0001" in paper
    assert statement.digest[:8] in paper
    assert "Fit to run braked" in paper
    assert f"signed by {person_of(manager)}" in paper
    assert vouched(statement) == "Statement 2026-0001 Valid"


def test_the_draft_says_that_it_was_not_issued(client, manager, vehicle):
    client.force_login(manager)
    paper = text_of(client.get(reverse("reports:statement", args=[vehicle.pk])))
    assert "Draft, not issued under a number" in paper


def test_a_later_fact_withdraws_it_in_the_same_deed_and_says_why(vehicle):
    statement = issued(vehicle)
    cracked_hanger(vehicle)
    status, why = stands(statement)
    assert status == StatementStatus.WITHDRAWN
    assert "Air from 10 May 2026: Not to run" in why
    assert "cracked" in why
    assert vouched(statement) == "Statement 2026-0001 Withdrawn"


def test_what_it_states_to_come_does_not_contradict_it(vehicle):
    statement = issued(vehicle)
    assert statement.fit_until == day("2027-03-06")  # tested 5 March 2026, a year
    make_test(vehicle=vehicle, on=on("2026-05-09"))  # the year begins anew: better
    assert stands(statement)[0] == StatementStatus.VALID


def test_a_condition_it_does_not_name_contradicts_it(vehicle):
    statement = issued(vehicle)
    raise_defect(
        by=None,
        person=person(),
        vehicle=vehicle,
        title="Handbrake wheel loose",
        on=on("2026-05-10", "10:00"),
        scope=Scope.HAND_BRAKE,
        effect=Effect.CONDITION,
        condition="Not as last vehicle",
    )
    status, why = stands(statement)
    assert status == StatementStatus.WITHDRAWN
    assert "Handbrake wheel loose" in why


def test_the_paper_is_drawn_from_what_was_frozen_whatever_came_later(
    client, manager, vehicle
):
    client.force_login(manager)
    statement = issued(vehicle)
    address = reverse("reports:paper", args=[statement.number])
    before = text_of(client.get(address))
    cracked_hanger(vehicle)
    after = text_of(client.get(address))
    assert "WITHDRAWN on 10 May 2026" in after
    assert "Outstanding on this day Nothing is recorded as outstanding" in before
    assert "Outstanding on this day Nothing is recorded as outstanding" in after


def test_a_newer_one_supersedes_it_and_numbers_follow_one_another(vehicle):
    first, second = issued(vehicle), issued(vehicle)
    assert [first.number, second.number] == ["2026-0001", "2026-0002"]
    assert stands(first)[0] == StatementStatus.SUPERSEDED
    assert stands(second)[0] == StatementStatus.VALID
    assert vouched(first) == "Statement 2026-0001 Superseded"


def test_a_manager_withdraws_it_with_a_reason(client, manager, vehicle):
    client.force_login(manager)
    statement = issued(vehicle)
    address = reverse("reports:withdraw", args=[statement.number])
    sent = {"submission": uuid.uuid4(), "reason": ""}
    assert "This field is required" in words(client.post(address, sent))
    sent = {"submission": uuid.uuid4(), "reason": "Wrong vehicle looked at"}
    page = words(client.post(address, sent, follow=True))
    assert "Withdrawn. Wrong vehicle looked at" in page
    with pytest.raises(ValidationError) as refused:
        withdraw_statement(
            by=None, person=person(), statement=statement, reason="Again"
        )
    assert "not_valid" in codes_of(refused.value)


def test_one_that_has_run_out_or_waits_to_be_reassessed_is_not_called_valid(vehicle):
    statement = issued(vehicle)
    with time_machine.travel(dt.datetime(2027, 3, 6, 12, tzinfo=dt.UTC)):
        assert "No longer current: run out on 6 Mar 2027" in vouched(statement)
    with deed("test.stale", by=None) as entry:
        mark_stale([vehicle.pk], entry)
    assert "Not to be relied on now" in vouched(statement)


def test_an_unknown_code_says_only_that_nothing_was_issued_under_it():
    answer = Client().get(reverse("reports:vouch", args=["no-such-code"]))
    assert answer.status_code == 404
    assert "No statement was issued" in words(answer)
    assert "noindex" in answer["X-Robots-Tag"]


def test_only_somebody_competent_signs_where_competence_is_recorded(vehicle):
    able = person("Able Keene")
    make_competence(able, skill=Skill.RELEASE)
    with pytest.raises(ValidationError, match="Able Keene") as refused:
        issued(vehicle)
    assert "not_competent" in codes_of(refused.value)
    assert not Statement.objects.exists()
    assert issued(vehicle, person=able).number == "2026-0001"


def test_none_is_issued_for_a_day_gone_by_or_for_what_nothing_is_known_of(vehicle):
    with pytest.raises(ValidationError) as refused:
        issued(vehicle, on=day("2026-05-09"))
    assert "in_the_past" in codes_of(refused.value)


def test_one_altered_behind_the_register_is_found_out(client, manager, vehicle):
    client.force_login(manager)
    statement = issued(vehicle)
    connection.check_constraints()
    lift()
    with connection.cursor() as cursor:
        cursor.execute("UPDATE fitness_statement SET fit_until = '2030-01-01'")
    connection.check_constraints()
    restore()
    page = words(client.get(statement.get_absolute_url()))
    assert "does not match its digest" in page
    assert [fault.words for fault in prove().faults] == ["The row was altered."]


def test_who_may_issue(client, people, vehicle):
    statement = issued(vehicle)
    pages = {
        reverse("reports:issue", args=[vehicle.pk]): {"manager", "administrator"},
        reverse("reports:run-add"): {"manager", "administrator"},
        reverse("reports:run-list"): set(people),
        reverse("reports:withdraw", args=[statement.number]): {
            "manager",
            "administrator",
        },
        reverse("reports:statement-list"): set(people),
        statement.get_absolute_url(): set(people),
    }
    for address, may in pages.items():
        for role, user in people.items():
            client.force_login(user)
            status = client.get(address).status_code
            assert status == (200 if role in may else 403), (address, role)


def test_the_list_and_the_papers_ask_as_often_for_many_as_for_few(client, manager):
    client.force_login(manager)
    vehicles = fleet(6)
    counted = []
    for some in (vehicles[:1], vehicles[1:]):
        for vehicle in some:
            issued(vehicle)
        address = reverse("reports:statement-list")
        client.get(address)
        with CaptureQueriesContext(connection) as queries:
            client.get(address)
        counted.append(len(queries))
    assert counted[0] == counted[1]
    assert StatementVersion.objects.current().count() == 6


def test_a_vehicle_without_a_brake_gets_none_and_is_told_why():
    make_practice()
    bare = make_vehicle(number="T 9", air="none", main_reservoir_pipe="none")
    with pytest.raises(ValidationError) as refused:
        issued(bare)
    assert codes_of(refused.value) == {"nothing_known"}


def test_one_may_say_that_a_vehicle_is_not_to_run_with_no_end_in_sight(vehicle):
    cracked_hanger(vehicle)
    statement = issued(vehicle)
    assert statement.fit_until is None
    assert [row["level"] for row in statement.stated] == [Level.STOPPED]
    assert stands(statement)[0] == StatementStatus.VALID
