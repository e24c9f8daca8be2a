"""The isolation register: what is cut out, and under which authority it may be moved."""

import datetime as dt
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.defects import services
from fleet.defects.models import IsolationVersion, MoveAuthority
from fleet.people.access import person_of
from fleet.people.models import Skill
from tests.defects.factories import DAY, answers, at, make_isolation, person, refused
from tests.examination.factories import make_test
from tests.people.factories import make_competence
from tests.register.factories import make_vehicle

pytestmark = pytest.mark.django_db

LIST = "/isolations/"
LIMITS = "15 mph, next to the engine, a guard riding in it."


@pytest.fixture(autouse=True)
def on_the_fourteenth(monkeypatch):
    """Ten days after the day everything here happens on."""
    now = dt.datetime(2026, 5, 14, 12, tzinfo=dt.UTC)
    monkeypatch.setattr(timezone, "now", lambda: now)


def authority(isolation, **values):
    """Leave to move an isolated coach to the works within a week."""
    values = {
        "by": None,
        "person": person(),
        "since": dt.date(2026, 5, 10),
        "last_day": dt.date(2026, 5, 17),
        "destination": "Marrowby works",
        "limits": LIMITS,
    } | values
    return services.authorise_move(isolation=isolation, **values)


def shown(client, address=LIST):
    """The text of a page, spaces run together."""
    return " ".join(client.get(address).content.decode().split())


def test_from_the_isolation_to_the_works_and_back_the_register_tells_it_all(
    client, manager
):
    client.force_login(manager)
    vehicle = make_vehicle()
    version = make_isolation(
        vehicle=vehicle,
        person=person("Una Fell"),
        label_number="L-7",
        label_where="Distributor, both solebars",
    )
    page = shown(client)
    assert "10 days" in page
    assert "Una Fell" in page
    assert "L-7 <small>Distributor, both solebars</small>" in page
    assert "No authority in force" in page

    record = version.isolation.get_absolute_url()
    address = reverse("defects:move-authorise", args=[version.isolation_id])
    assert address in shown(client, record)
    assert 'value="2026-05-14"' in shown(client, address)
    sent = {
        "submission": uuid.uuid4(),
        "destination": "Marrowby works",
        "limits": LIMITS,
        "since": "2026-05-14",
        "last_day": "2026-05-17",
        "person": person_of(manager).pk,
    }
    assert client.post(address, sent).url == record
    page = shown(client)
    assert f"To Marrowby works, 14 May 2026 to 17 May 2026: {LIMITS}" in page
    assert LIMITS in shown(client, record)

    services.restore_brake(
        by=None,
        person=person("Ivo Thwaite"),
        version=version,
        at=at(9, day=dt.date(2026, 5, 12)),
    )
    page = shown(client)
    assert "Ivo Thwaite" in page
    assert "None recorded" in page
    assert LIMITS not in page

    make_test(vehicle=vehicle, on=at(9, day=dt.date(2026, 5, 11)))
    assert "None recorded" in shown(client)
    test = make_test(vehicle=vehicle, on=at(9, day=dt.date(2026, 5, 13)))
    assert test.test.get_absolute_url() in shown(client)


def test_an_authority_past_its_last_day_is_not_in_force(client, manager):
    client.force_login(manager)
    version = make_isolation()
    authority(version.isolation, last_day=dt.date(2026, 5, 13))

    assert "No authority in force" in shown(client)
    assert "last day 13 May 2026" in shown(client, version.isolation.get_absolute_url())


def test_an_authority_is_withdrawn_with_a_reason_and_stays_shown(client, manager):
    client.force_login(manager)
    version = make_isolation()
    given = authority(version.isolation)
    record = version.isolation.get_absolute_url()
    address = reverse("defects:move-withdraw", args=[given.pk])
    assert address in shown(client, record)

    sent = {"submission": uuid.uuid4(), "from_day": "2026-06-30", "reason": "Flood"}
    assert "Give one of these days" in client.post(address, sent).content.decode()
    sent |= {"submission": uuid.uuid4(), "from_day": "2026-05-13"}
    assert client.post(address, sent).url == record

    assert "No authority in force" in shown(client)
    assert "Withdrawn: Flood" in shown(client, record)
    assert "withdrawn from" in shown(client, record)


def test_who_gives_it_must_be_competent_to_release_where_that_is_recorded():
    lapsed, able = person("Lapsed"), person("Able")
    make_competence(lapsed, skill=Skill.RELEASE, last_day="2026-05-09")
    make_competence(able, skill=Skill.RELEASE)
    isolation = make_isolation().isolation

    with refused("not_competent"):
        authority(isolation, person=lapsed)
    assert authority(isolation, person=able).competence is not None


def test_what_cannot_be_authorised():
    version = make_isolation()
    authority(version.isolation)

    with refused("already_authorised"):
        authority(version.isolation, since=dt.date(2026, 5, 17))
    with refused("ends_before_it_begins"):
        authority(version.isolation, last_day=dt.date(2026, 5, 1))
    with refused("not_isolated"):
        authority(version.isolation, since=DAY - dt.timedelta(days=1))
    services.restore_brake(by=None, person=person(), version=version, at=at(15))
    with refused("not_isolated"):
        authority(
            version.isolation, since=dt.date(2026, 6, 1), last_day=dt.date(2026, 6, 2)
        )


def test_where_the_label_is_can_be_said_when_the_record_is_completed():
    version = make_isolation(lines=[])

    completed = services.complete_isolation(
        by=None,
        person=person(),
        version=version,
        at=at(10),
        lines=answers(version.vehicle),
        label_where="By the distributor",
    )

    assert completed.label_where == "By the distributor"


def test_only_who_may_release_authorises(client, fitter):
    client.force_login(fitter)
    version = make_isolation()
    given = authority(version.isolation)
    record = shown(client, version.isolation.get_absolute_url())

    for name, key in (
        ("move-authorise", version.isolation_id),
        ("move-withdraw", given.pk),
    ):
        address = reverse(f"defects:{name}", args=[key])
        assert address not in record
        assert client.get(address).status_code == 403
        assert client.post(address).status_code == 403
    assert MoveAuthority.objects.count() == 1


def test_the_register_asks_as_often_for_many_as_for_one(client, manager):
    client.force_login(manager)

    def asked():
        with CaptureQueriesContext(connection) as queries:
            client.get(LIST)
        return len(queries)

    authority(make_isolation().isolation)
    services.restore_brake(
        by=None, person=person(), version=make_isolation(), at=at(15)
    )
    asked()
    one = asked()
    for _ in range(4):
        authority(make_isolation().isolation)
        services.restore_brake(
            by=None, person=person(), version=make_isolation(), at=at(15)
        )

    assert IsolationVersion.objects.current().count() == 10
    assert asked() <= one
