"""On any day, as known at any time: late paper changes the past, not what was known."""

import datetime as dt
from io import BytesIO, StringIO

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from fleet.examination.models import TestRecord
from fleet.examination.services import correct_test
from fleet.upkeep.models import Requirement
from fleet.upkeep.services import revise_requirement
from tests.examination.factories import good_readings, make_test
from tests.web.reading import main, words
from tests.web.scenes import chafed, coach, fleet, make_practice, on, standing_at_today

pytestmark = pytest.mark.django_db

NIGHT = "2026-05-10T20:00"  # after the day of the scenes, before what comes late


@pytest.fixture
def late(client, manager):
    """A coach reported sound; its chafed hose of 4 May reaches the office on 12 May."""
    with standing_at_today():
        make_practice()
        vehicle = coach("T 1")
    with time_machine.travel(dt.datetime(2026, 5, 12, 9, tzinfo=dt.UTC)):
        chafed(vehicle, "2026-05-04")
    client.force_login(manager)
    with time_machine.travel(dt.datetime(2026, 5, 13, 9, tzinfo=dt.UTC)):
        yield vehicle


def page(client, name="web:vehicle", args=(), **asked):
    """A page of the register for what is asked."""
    answer = client.get(reverse(name, args=args), asked)
    assert answer.status_code == 200
    return answer


def test_late_paper_changes_the_past_but_not_what_was_known_of_it(client, late):
    now = words(page(client, args=[late.pk], on="2026-05-10"))
    then = words(page(client, args=[late.pk], on="2026-05-10", known=NIGHT))

    assert "Not to run in an air train" in now
    assert "chafed" in now
    assert "Fit to run braked" in then
    assert "chafed" not in then
    assert "As recorded up to 10 May 2026" in then
    assert "touched this vehicle since" in then
    assert "The register showed then: Air" in then


def test_nothing_can_be_recorded_from_a_page_of_the_past(client, late):
    now = main(page(client, args=[late.pk]))
    then = main(page(client, args=[late.pk], known=NIGHT))
    for address in ("/tests/add/", "/defects/add/", "/work/", "/alter/"):
        assert address in now
        assert address not in then


def test_the_board_of_a_day_is_what_was_known_of_it_by_either_reading(client, late):
    asked = {"on": "2026-05-10", "known": NIGHT}
    for read in ("again", "then"):
        said = words(page(client, "web:board", **asked, read=read))
        assert "Fit to run braked" in said
        assert "Not to run in an air train" not in said
    link = f"/vehicles/{late.pk}/?on=2026-05-10&known=2026-05-10T"
    assert link in plain_markup(page(client, "web:board", **asked))
    assert "Not to run in an air train" in words(
        page(client, "web:board", on="2026-05-10")
    )


def plain_markup(answer):
    """The markup with its ampersands as an address has them."""
    return answer.content.decode().replace("&amp;", "&")


def test_the_board_as_known_is_narrowed_to_a_level(client, late):
    asked = {"on": "2026-05-10", "known": NIGHT}
    assert "T 1" in main(page(client, "web:board", **asked, level="braked"))
    stopped = page(client, "web:board", **asked, level="stopped")
    assert "No vehicle answers to this" in words(stopped)


def test_before_the_vehicle_was_entered_nothing_is_known_of_it(client, late):
    said = words(page(client, args=[late.pk], known="2026-01-01T00:00"))
    assert "Nothing is recorded of this vehicle" in said
    assert "As recorded up to 1 January 2026" in said


def test_a_correction_counts_from_when_it_was_made(client, manager):
    with standing_at_today():
        make_practice()
        vehicle = coach("T 1", tested="2025-03-05")
        record = make_test(vehicle=vehicle, on=on("2026-04-02"))
    client.force_login(manager)
    with time_machine.travel(dt.datetime(2026, 5, 12, 9, tzinfo=dt.UTC)):
        record = TestRecord.objects.current().get(pk=record.pk)
        correct_test(
            by=None,
            record=record,
            reason="Wrong year",
            on=on("2025-04-02"),
            readings=good_readings(record.procedure_revision.procedure),
        )
    with time_machine.travel(dt.datetime(2026, 5, 13, 9, tzinfo=dt.UTC)):
        now = words(page(client, args=[vehicle.pk], on="2026-05-10"))
        then = words(page(client, args=[vehicle.pk], on="2026-05-10", known=NIGHT))
    assert "overrun, last good day 2 Apr 2026" in now
    assert "overrun" not in then.partition("Coming")[0]


def test_a_past_day_is_judged_by_the_requirements_in_force_then(client, manager):
    with standing_at_today():
        make_practice()
        vehicle = coach("T 1", tested="2025-08-05")
        revise_requirement(
            by=None,
            requirement=Requirement.objects.get(code="annual"),
            effective_from=dt.date(2026, 5, 11),
            reason="Twice a year",
            months=6,
        )
        client.force_login(manager)
        before = words(page(client, args=[vehicle.pk], on="2026-05-10"))
        after = words(page(client, args=[vehicle.pk], on="2026-05-11"))
    assert "overrun" not in before.partition("Coming")[0]
    assert "overrun, last good day 5 Feb 2026" in after.partition("Coming")[0]


def test_the_statement_says_that_it_rests_on_what_was_known(client, late):
    address = reverse("reports:statement", args=[late.pk])
    then = client.get(address, {"on": "2026-05-10", "known": NIGHT})
    said = PdfReader(BytesIO(then.content)).pages[0].extract_text()
    assert "Only what was recorded up to 10 May 2026" in " ".join(said.split())
    assert "chafed" not in said
    now = client.get(address, {"on": "2026-05-10"})
    assert "chafed" in PdfReader(BytesIO(now.content)).pages[0].extract_text()


@pytest.mark.parametrize("known", ["2030-01-01T00:00", "yesterday"])
def test_a_time_that_cannot_be_known_is_refused_on_page_and_paper(client, late, known):
    said = words(page(client, args=[late.pk], known=known))
    assert "Nobody knows yet" in said or "Enter day and time" in said
    assert "As recorded up to" not in said
    said = words(page(client, "web:board", known=known))
    assert "Nobody knows yet" in said or "Enter day and time" in said
    address = reverse("reports:statement", args=[late.pk])
    assert client.get(address, {"known": known}).status_code == 400


def test_the_command_reads_what_was_known(late):
    said = StringIO()
    call_command(
        "brake_status", "T 1", on="2026-05-10", known_at="2026-05-10", stdout=said
    )
    assert "Fit to run braked" in said.getvalue()
    assert "recorded up to 2026-05-10 23:59" in said.getvalue()
    said = StringIO()
    call_command("brake_status", "T 1", on="2026-05-10", stdout=said)
    assert "Not to run" in said.getvalue()
    with pytest.raises(CommandError, match="nobody knows yet"):
        call_command("brake_status", known_at="2030-01-01")


@pytest.mark.parametrize("read", ["again", "then"])
def test_the_board_as_known_asks_as_often_for_few_vehicles_as_for_many(
    client, fitter, read
):
    client.force_login(fitter)
    counted = []
    for more in (1, 5):
        with standing_at_today():
            make_practice()
            fleet(more) if more > 1 else coach("T 1")
        with time_machine.travel(dt.datetime(2026, 5, 13, 9, tzinfo=dt.UTC)):
            page(client, "web:board", known=NIGHT, read=read)
            with CaptureQueriesContext(connection) as queries:
                page(client, "web:board", known=NIGHT, read=read)
        counted.append(len(queries))
    assert counted[0] == counted[1]
