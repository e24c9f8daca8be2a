"""A cock found in the wrong position: an event that wants a test and a cause."""

import datetime as dt
import uuid

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.defects.models import WrongCock, WrongCockVersion
from fleet.defects.services.cocks import close_cock, prove_cock, record_wrong_cock
from fleet.fitness.status import current_verdict
from fleet.people.models import Skill
from fleet.records.refusing import codes_of
from fleet.records.verifying import prove
from fleet.register.vocabulary import CockPosition, Effect, Level, System
from tests.defects.factories import person
from tests.examination.factories import make_calibration, make_instrument, make_test
from tests.people.factories import make_competence
from tests.web.reading import words
from tests.web.scenes import TODAY, coach, day, make_practice, on, standing_at_today

pytestmark = pytest.mark.django_db

COCK = "distributor-cock"


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


@pytest.fixture
def vehicle():
    make_practice()
    return coach("T 1")


def found_shut(vehicle, when="2026-05-04", **values):
    """The distributor cock found shut, and opened."""
    values = {
        "by": None,
        "person": person(),
        "vehicle": vehicle,
        "position": COCK,
        "on": on(when, "11:40"),
        "found": CockPosition.CLOSED,
        "left": CockPosition.OPEN,
        "where": "11:40 departure",
    } | values
    return record_wrong_cock(**values)


def proved(cock, when="2026-05-05"):
    """The brake tested afterwards, and the test named."""
    record = make_test(vehicle=cock.vehicle, on=on(when, "09:00"))
    return prove_cock(by=None, cock=cock, test=record.test)


def closed(cock, **values):
    """Its cause recorded today."""
    values = {"person": person(), "on": TODAY, "cause": "Handle not pinned"} | values
    return close_cock(by=None, cock=cock, **values)


def level(vehicle, text):
    """The level of the air brake on a day."""
    return current_verdict(vehicle.pk).span_on(System.AIR, day(text)).level


def findings(vehicle, text):
    """The findings of wrong cocks on a day, with their effect."""
    return {
        finding.code: finding.effect
        for finding in current_verdict(vehicle.pk).findings
        if finding.holds_on(day(text)) and finding.code in {"I04", "I05"}
    }


def test_the_vehicle_is_not_relied_on_until_a_test_proved_the_brake(vehicle):
    cock = found_shut(vehicle)
    assert level(vehicle, "2026-05-03") is Level.BRAKED
    assert level(vehicle, "2026-05-04") is Level.STOPPED
    proved(cock)
    assert level(vehicle, "2026-05-04") is Level.STOPPED
    assert level(vehicle, "2026-05-05") is Level.BRAKED
    assert findings(vehicle, "2026-05-05") == {"I05": Effect.ADVISE}
    assert prove().faults == []


def test_put_right_it_stays_open_until_its_cause_is_recorded(vehicle):
    cock = found_shut(vehicle)
    proved(cock)
    assert "I05" in findings(vehicle, "2026-05-09")
    closed(cock)
    assert findings(vehicle, "2026-05-10") == {}


def test_a_repeat_escalates_it_holds_a_condition_and_wants_another_to_close_it(vehicle):
    first = found_shut(vehicle, "2026-03-10")
    proved(first, "2026-03-11")
    closer, able = person("First Closer"), person("Able Keene")
    closed(first, person=closer)
    make_competence(able, skill=Skill.RELEASE)
    make_competence(closer, skill=Skill.RELEASE)

    again = found_shut(vehicle)
    proved(again)
    assert findings(vehicle, "2026-05-06") == {"I05": Effect.CONDITION}
    assert level(vehicle, "2026-05-06") is Level.CONDITIONAL
    for who, code in ((closer, "somebody_else_needed"), (person(), "not_competent")):
        with pytest.raises(ValidationError) as refused:
            closed(again, person=who)
        assert code in codes_of(refused.value)
    closed(again, person=able)
    assert level(vehicle, TODAY.isoformat()) is Level.BRAKED


def test_after_the_operators_period_it_is_no_repeat(vehicle):
    found_shut(vehicle, "2025-05-01")
    again = found_shut(vehicle, "2026-05-04")
    assert WrongCockVersion.objects.current().get(cock=again).earlier == 0


def test_what_cannot_be_is_refused(vehicle):
    for values, code in (
        ({"position": "nowhere"}, "no_such_position"),
        ({"position": "distributor"}, "not_a_cock"),
        ({"found": CockPosition.OPEN}, "not_wrong"),
        ({"on": on("2026-05-11")}, "in_the_future"),
    ):
        with pytest.raises(ValidationError) as refused:
            found_shut(vehicle, **values)
        assert code in codes_of(refused.value)
    assert not WrongCock.objects.exists()
    cock = found_shut(vehicle)
    for values, code in (
        ({"cause": " "}, "no_cause"),
        ({"on": dt.date(2026, 5, 11)}, "in_the_future"),
    ):
        with pytest.raises(ValidationError) as refused:
            closed(cock, **values)
        assert code in codes_of(refused.value)
    closed(cock)
    with pytest.raises(ValidationError) as refused:
        closed(cock)
    assert "closed_already" in codes_of(refused.value)


def test_only_a_good_test_of_the_same_vehicle_afterwards_proves_it(vehicle):
    cock = found_shut(vehicle)
    gauge = make_instrument("TG-9", calibrated="2024-01-05")
    doubted = make_test(vehicle=vehicle, on=on("2026-05-06"), instrument=gauge)
    before = make_test(vehicle=vehicle, on=on("2026-05-03"))
    same_day = make_test(vehicle=vehicle, on=on("2026-05-04"))
    other = make_test(vehicle=coach("T 2"), on=on("2026-05-06"))
    for record, code in (
        (doubted, "test_in_doubt"),
        (before, "test_before"),
        (same_day, "test_before"),  # the order on the day is not known
        (other, "test_of_something_else"),
    ):
        with pytest.raises(ValidationError) as refused:
            prove_cock(by=None, cock=cock, test=record.test)
        assert code in codes_of(refused.value)
    make_calibration(gauge, "2026-05-02")
    prove_cock(by=None, cock=cock, test=doubted.test)
    with pytest.raises(ValidationError) as refused:
        prove_cock(by=None, cock=cock, test=doubted.test)
    assert "proved_already" in codes_of(refused.value)


def test_on_the_pages_a_fitter_reports_it_proves_it_and_records_the_cause(
    client, fitter, vehicle
):
    client.force_login(fitter)
    assert "Cock found wrong" in words(client.get(vehicle.get_absolute_url()))
    sent = {
        "submission": uuid.uuid4(),
        "position": COCK,
        "found": "closed",
        "left": "open",
        "on_day": "2026-05-04",
        "on_time": "11:40",
        "where": "11:40 departure",
    }
    address = reverse("defects:cock-add", args=[vehicle.pk])
    page = words(client.post(address, sent, follow=True))
    assert "No test has proved the brake since" in page
    cock = WrongCock.objects.get()
    assert "Not yet tested" in words(client.get(reverse("defects:cock-list")))
    assert "cause not recorded" in words(client.get(vehicle.get_absolute_url()))

    record = make_test(vehicle=vehicle, on=on("2026-05-05", "09:00"))
    sent = {"submission": uuid.uuid4(), "test": record.test.pk}
    address = reverse("defects:cock-prove", args=[cock.pk])
    assert "Put right, and tested" in words(client.post(address, sent, follow=True))

    sent = {"submission": uuid.uuid4(), "on": "2026-05-10", "cause": "Pin missing"}
    address = reverse("defects:cock-close", args=[cock.pk])
    assert "“Pin missing”" in words(client.post(address, sent, follow=True))


def test_who_may_and_how_often_the_list_asks(client, people, vehicle):
    cock = found_shut(vehicle)
    address = reverse("defects:cock-list")
    client.force_login(people["fitter"])
    with CaptureQueriesContext(connection) as few:
        client.get(address)
    for hour in (12, 13, 14):
        found_shut(vehicle, on=on("2026-05-04", f"{hour}:00"))
    with CaptureQueriesContext(connection) as many:
        client.get(address)
    assert len(few) == len(many)
    for role, user in people.items():
        client.force_login(user)
        assert client.get(cock.get_absolute_url()).status_code == 200
        for name in ("cock-prove", "cock-close"):
            status = client.get(reverse(f"defects:{name}", args=[cock.pk])).status_code
            assert status == (403 if role == "train_crew" else 200)
