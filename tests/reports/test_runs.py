"""Statements for a set of vehicles: begun, left, taken up, refused, cancelled, printed."""

import datetime as dt
import uuid
from io import BytesIO

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from fleet.fitness.models import RunOutcome, RunPlace, Statement, StatementRun
from fleet.fitness.runs import cancel_run
from fleet.people.access import person_of
from fleet.people.models import Skill
from fleet.records.deeds import deed
from fleet.records.refusing import codes_of
from fleet.records.verifying import prove
from fleet.records.versions import identify
from fleet.register.vocabulary import Fitment
from fleet.reports.season import begin, choice, step
from tests.defects.factories import person
from tests.people.factories import UserFactory, make_competence
from tests.register.factories import make_depot
from tests.web.reading import plain, rows, words
from tests.web.scenes import (
    TODAY,
    coach,
    cracked_hanger,
    dual_coach,
    fleet,
    make_practice,
    standing_at_today,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


def the_next_day():
    """Noon on 11 May 2026."""
    at = dt.datetime.combine(TODAY, dt.time(12), dt.UTC) + dt.timedelta(days=1)
    return time_machine.travel(at, tick=False)


def asked(**values):
    """What the page of a new run is asked: the vehicles fit to run braked on a day."""
    return {"on": "2026-05-16", "which": "braked"} | values


def begun_by(client, vehicles, **values):
    """The page of a run begun by ticking vehicles."""
    sent = asked(**values) | {
        "submission": uuid.uuid4(),
        "vehicle": [vehicle.pk for vehicle in vehicles],
    }
    return client.post(reverse("reports:run-add"), sent, follow=True)


def the_run():
    """The newest run."""
    return StatementRun.objects.latest("pk")


def came_to(client, run=None):
    """What each vehicle of a run came to, as its page lists them."""
    page = client.get((run or the_run()).get_absolute_url())
    return {row["Vehicle"]: row["Came to"] for row in rows(page.content.decode())}


def vouched(statement):
    """What the square code's page says to somebody who never signed in."""
    return words(Client().get(reverse("reports:vouch", args=[statement.token])))


def begun(vehicles, by=None, on=TODAY, which="braked"):
    """A run of vehicles, begun by a person."""
    return begin(
        choice(on, which),
        [vehicle.pk for vehicle in vehicles],
        by=by,
        person=person_of(by) if by else person("Edda Quill"),
    )


def test_a_run_is_left_and_taken_up_next_day_by_another_who_signs_the_rest(manager):
    vehicles = fleet(8)
    first, second = Client(), Client()
    first.force_login(manager)
    page = first.get(reverse("reports:run-add"), asked())
    assert "8 vehicles answer to this" in words(page)
    page = begun_by(first, vehicles[:7])
    assert "0 of 7" in words(page)
    assert "7 of 8 ticked by hand" in words(page)

    page = first.post(the_run().get_absolute_url(), follow=True)
    assert "5 issued, 0 refused, 2 waiting" in words(page)
    first.logout()
    cracked_hanger(vehicles[6])  # T 107, that evening

    with the_next_day():
        other = UserFactory(username="deputy", role="manager")
        second.force_login(other)
        assert "2 waiting" in words(second.get(the_run().get_absolute_url()))
        page = second.post(the_run().get_absolute_url(), follow=True)
        assert "6 issued, 1 refused, 0 waiting" in words(page)
        told = came_to(second)

    assert told["T 107"] == "Refused: Not to run. Defect: Brake hanger cracked"
    assert told["T 106"] == "Issued: 2026-0006"
    signers = [
        version.by
        for statement in Statement.objects.order_by("count")
        for version in statement.versions.all()
    ]
    assert signers == [person_of(manager)] * 5 + [person_of(other)]
    assert prove().faults == []


def test_the_square_code_says_how_each_stands_and_nothing_else(client, manager):
    vehicles = fleet(3)
    client.force_login(manager)
    begun_by(client, vehicles)
    client.post(the_run().get_absolute_url())
    first, second, third = Statement.objects.order_by("count")

    cracked_hanger(vehicles[1])
    begun_by(client, vehicles[2:])
    client.post(the_run().get_absolute_url())

    assert vouched(first) == "Statement 2026-0001 Valid"
    assert vouched(second) == "Statement 2026-0002 Withdrawn"
    assert vouched(third) == "Statement 2026-0003 Superseded"
    told = came_to(client, StatementRun.objects.earliest("pk"))
    assert told["T 102"] == "Issued: 2026-0002, withdrawn since"
    assert told["T 103"] == "Issued: 2026-0003, superseded since"


def test_vehicles_are_chosen_by_depot_type_system_and_level(client, manager):
    make_practice()
    client.force_login(manager)
    stores, shed = make_depot(), make_depot("quarry", "Quarry shed")
    here = coach("T 1", depot=stores)
    coach("T 2", depot=shed)
    lapsed = coach("T 3", depot=stores, tested="2024-01-01")
    dual = dual_coach("T 4")

    def answering(**values):
        page = client.get(reverse("reports:run-add"), asked(**values))
        return [row["Vehicle"] for row in rows(page.content.decode())]

    assert answering(depot=stores.pk) == ["T 1"]
    assert answering(depot=stores.pk, which="movable") == ["T 1", "T 3"]
    kind = dual.versions.get().type_id
    assert answering(type=kind, which="all") == ["T 4"]
    assert answering(system="vacuum", which="all") == ["T 4"]
    assert here.versions.get().vacuum == Fitment.NONE
    cracked_hanger(lapsed)
    assert answering(depot=stores.pk, which="movable") == ["T 1"]


def test_what_nobody_answers_to_and_a_day_gone_by_are_said(client, manager):
    fleet(1)
    client.force_login(manager)
    page = client.get(reverse("reports:run-add"), asked(system="vacuum"))
    assert "0 vehicles answer to this" in words(page)
    assert "Widen what is asked" in words(page)
    page = client.get(reverse("reports:run-add"), asked(on="2026-05-09"))
    assert "Choose today or a day to come" in words(page)
    page = begun_by(client, [])
    assert "Tick a vehicle at least" in words(page)
    assert not StatementRun.objects.exists()


def test_sending_the_choice_twice_begins_one_run(client, manager):
    vehicles = fleet(1)
    client.force_login(manager)
    sent = asked() | {"submission": uuid.uuid4(), "vehicle": [vehicles[0].pk]}
    for _ in range(2):
        client.post(reverse("reports:run-add"), sent)
    assert StatementRun.objects.count() == 1


def test_opening_the_page_of_a_run_signs_nothing(client, manager):
    client.force_login(manager)
    run = begun(fleet(1), manager)
    page = client.get(run.get_absolute_url())
    assert "load delay" not in page.content.decode()
    assert not Statement.objects.exists()


def test_the_progress_bar_goes_on_by_itself_once_begun_and_ends_with_the_whole_page(
    client, manager
):
    client.force_login(manager)
    run = begun(fleet(6), manager)
    htmx = {"HX-Request": "true"}
    part = client.post(run.get_absolute_url(), headers=htmx)
    assert "5 of 6" in plain(part.content.decode())
    assert "load delay" in part.content.decode()
    last = client.post(run.get_absolute_url(), headers=htmx)
    assert last["HX-Refresh"] == "true"
    assert Statement.objects.count() == 6


def test_a_cancelled_run_issues_nothing_more_and_what_it_issued_stands(client, manager):
    client.force_login(manager)
    run = begun(fleet(6), manager)
    client.post(run.get_absolute_url())
    address = reverse("reports:run-cancel", args=[run.pk])
    sent = {"submission": uuid.uuid4(), "reason": "Wrong day chosen"}
    page = client.post(address, sent, follow=True)
    assert f"Cancelled by {person_of(manager)}: Wrong day chosen" in words(page)
    page = client.post(run.get_absolute_url(), follow=True)
    assert "This run was cancelled: Wrong day chosen" in plain(page.content.decode())
    assert Statement.objects.count() == 5
    assert vouched(Statement.objects.first()) == "Statement 2026-0005 Valid"
    with pytest.raises(ValidationError) as refused:
        cancel_run(by=None, person=person(), run=run, reason="Again")
    assert codes_of(refused.value) == {"cancelled"}


def test_a_run_that_is_done_cannot_be_cancelled():
    run = begun(fleet(1))
    step(run, by=None, person=person("Edda Quill"))
    with pytest.raises(ValidationError) as refused:
        cancel_run(by=None, person=person(), run=run, reason="Too late")
    assert codes_of(refused.value) == {"finished"}


def test_who_lacks_the_competence_settles_nothing_and_leaves_it_to_who_has_it(
    client, manager
):
    run = begun(fleet(2), manager)
    able = person("Able Keene")
    make_competence(able, skill=Skill.RELEASE)
    client.force_login(manager)
    page = client.post(run.get_absolute_url(), follow=True)
    assert "held no competence for release to traffic" in plain(page.content.decode())
    assert not RunOutcome.objects.exists()

    step(run, by=None, person=able)
    assert Statement.objects.count() == 2


def test_what_is_left_when_the_day_has_gone_by_is_begun_anew(client, manager):
    client.force_login(manager)
    run = begun(fleet(6), manager)
    client.post(run.get_absolute_url())
    with the_next_day():
        client.force_login(manager)
        page = client.get(run.get_absolute_url())
        assert "The day of this run has gone by" in words(page)
        again = reverse("reports:run-add")
        page = client.get(again, {**asked(on="2026-05-11"), "left_of": run.pk})
        assert [row["Vehicle"] for row in rows(page.content.decode())] == ["T 106"]
        page = begun_by(
            client, [run.places.last().vehicle], on="2026-05-11", left_of=run.pk
        )
        assert f"what was left of run {run.pk}" in words(page)


def test_a_vehicle_ticked_that_was_stopped_meanwhile_is_taken_in_and_refused(
    client, manager
):
    vehicles = fleet(2)
    client.force_login(manager)
    client.get(reverse("reports:run-add"), asked())
    cracked_hanger(vehicles[0])
    begun_by(client, vehicles)
    client.post(the_run().get_absolute_url())
    told = came_to(client)
    assert told["T 101"].startswith("Refused: Not to run")
    assert told["T 102"] == "Issued: 2026-0001"


def test_a_run_held_to_one_system_looks_at_that_one():
    dual = dual_coach(
        "T 4"
    )  # its distributor is overdue, its vacuum brake is not tested
    air = begin(
        choice(TODAY, "braked", system="air"), [dual.pk], by=None, person=person()
    )
    (outcome,) = step(air, by=None, person=person("Edda Quill"))
    assert "Air: Convey as piped" in outcome.refused
    assert "Vacuum" not in outcome.refused
    whatever = begun([dual], which="all")
    (outcome,) = step(whatever, by=None, person=person("Edda Quill"))
    assert outcome.statement.number == "2026-0001"


def test_the_papers_of_a_run_are_one_pdf_in_the_order_of_their_numbers(client, manager):
    client.force_login(manager)
    run = begun(fleet(3), manager)
    papers = reverse("reports:run-papers", args=[run.pk])
    assert client.get(papers).status_code == 404
    client.post(run.get_absolute_url())
    pages = PdfReader(BytesIO(client.get(papers).content)).pages
    said = " ".join(" ".join(page.extract_text() for page in pages).split())
    at = [said.index(f"Statement No. 2026-000{n}") for n in (1, 2, 3)]
    assert at == sorted(at)


def test_the_database_lets_a_vehicle_come_to_one_thing_in_a_run():
    run = begun(fleet(1))
    step(run, by=None, person=person("Edda Quill"))
    place = RunPlace.objects.get()
    with (
        pytest.raises(IntegrityError),
        transaction.atomic(),
        deed("test.twice", by=None) as entry,
    ):
        identify(
            RunOutcome, entry=entry, place=place, refused="Again", by=person("Al Orde")
        )


def test_everybody_sees_runs_and_only_who_may_release_goes_on_with_them(client, people):
    run = begun(fleet(1))
    may = {"manager", "administrator"}
    for role, user in people.items():
        client.force_login(user)
        assert client.get(reverse("reports:run-list")).status_code == 200
        page = client.get(run.get_absolute_url())
        assert ("Sign and issue" in words(page)) is (role in may)
        cancel = client.get(reverse("reports:run-cancel", args=[run.pk]))
        assert cancel.status_code == (200 if role in may else 403)
        if role not in may:
            assert client.post(run.get_absolute_url()).status_code == 403


def test_the_pages_of_runs_ask_as_often_for_many_vehicles_as_for_few(client, manager):
    client.force_login(manager)
    vehicles = fleet(6)
    counted = []
    for some in (vehicles[:1], vehicles):
        run = begun(some)
        step(run, by=None, person=person("Edda Quill"))
        pages = [
            run.get_absolute_url(),
            reverse("reports:run-list"),
            f"{reverse('reports:run-add')}?on=2026-05-16&which=all",
        ]
        for page in pages:
            client.get(page)
        with CaptureQueriesContext(connection) as queries:
            for page in pages:
                client.get(page)
        counted.append(len(queries))
    assert counted[0] == counted[1]


@pytest.mark.django_db(transaction=True)
def test_in_a_browser_one_press_issues_them_all_and_shows_what_each_came_to(
    page_at, manager
):
    run = begun(fleet(7), manager)
    page = page_at(390, user=manager)
    page.goto(run.get_absolute_url())
    page.get_by_role("button", name="Sign and issue what waits").click()
    page.get_by_text("7 issued, 0 refused, 0 waiting").wait_for()
    page.get_by_role("link", name="2026-0007").wait_for()
