"""What changed between two days or two states of knowledge, and through which facts."""

import datetime as dt

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.people.factories import PASSWORD
from tests.web.reading import words
from tests.web.scenes import chafed, coach, fleet, make_practice, standing_at_today

pytestmark = pytest.mark.django_db

NIGHT = "2026-05-10T20:00"


def at(day):
    """The clock stopped at nine on a day of May."""
    return time_machine.travel(dt.datetime(2026, 5, day, 9, tzinfo=dt.UTC), tick=False)


def compared(client, name="web:changes", args=(), **asked):
    """What the page says of a comparison."""
    answer = client.get(reverse(name, args=args), asked)
    assert answer.status_code == 200
    return words(answer)


@pytest.fixture
def yard(client, manager):
    """Two coaches; the hose of one is reported two days after the register was read."""
    with standing_at_today():
        make_practice()
        sound, worn = coach("T 1"), coach("T 2")
    with at(12):
        chafed(worn, "2026-05-04")
    client.force_login(manager)
    with at(13):
        yield sound, worn


def test_between_two_states_of_knowledge_it_names_level_finding_and_entry(client, yard):
    said = compared(
        client, before_on="2026-05-10", before_known=NIGHT, after_on="2026-05-10"
    )
    assert "1 vehicle stands otherwise; 1 stands as before" in said
    assert "T 2 Air: Fit to run braked → Not to run in an air train" in said
    assert "less than before" in said
    assert "chafed" in said
    assert "Defect raised Entry" in said
    assert "T 1" not in said


def test_between_two_days_the_calendar_alone_may_be_the_cause(client, yard):
    said = compared(client, before_on="2026-05-10", after_on="2027-05-10")
    assert "T 1 Air: Fit to run braked → Convey as piped" in said
    assert "The same records, read for another day" in said


def test_one_vehicle_is_compared_by_itself(client, yard):
    sound, worn = yard
    asked = {"before_on": "2026-05-10", "before_known": NIGHT, "after_on": "2026-05-10"}
    name = "web:vehicle-changes"
    assert "No level changed" in compared(client, name, [sound.pk], **asked)
    assert "Defect raised" in compared(client, name, [worn.pk], **asked)


def test_it_shows_what_changed_since_you_last_signed_in(client, manager):
    with standing_at_today():
        make_practice()
        worn = coach("T 2")
        signed = {"username": "manager", "password": PASSWORD}
        client.post(reverse("people:sign-in"), signed)
        client.post(reverse("people:sign-out"))
    with at(12):
        chafed(worn, "2026-05-04")
    with at(13):
        client.post(reverse("people:sign-in"), signed)
        board = words(client.get(reverse("web:board")))
        assert "What changed since you last signed in" in board
        said = compared(client)
    assert "Since you last signed in, 10 May 2026" in said
    assert "T 2 Air: Fit to run braked → Not to run in an air train" in said


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"after_known": NIGHT}, "comes first"),
        ({"before_known": "2030-01-01T00:00"}, "Nobody knows yet"),
        ({"before_on": "1950-01-01"}, "within forty years"),
        ({"before_on": "soon"}, "valid date"),
    ],
)
def test_what_cannot_be_compared_is_refused(client, yard, asked, sentence):
    said = compared(client, **{"before_on": "2026-05-10", **asked})
    assert sentence in said
    assert "Nothing is compared" in said


def test_it_asks_as_often_for_few_vehicles_as_for_many(client, fitter):
    client.force_login(fitter)
    counted = []
    for more in (1, 5):
        with standing_at_today():
            vehicles = [coach("T 1")] if more == 1 else fleet(more)
            make_practice()
        with at(12):
            for vehicle in vehicles:
                chafed(vehicle, "2026-05-04")
        asked = {
            "before_on": "2026-05-10",
            "before_known": NIGHT,
            "after_on": "2026-05-10",
        }
        with at(13):
            compared(client, **asked)
            with CaptureQueriesContext(connection) as queries:
                compared(client, **asked)
        counted.append(len(queries))
    assert counted[0] == counted[1]
