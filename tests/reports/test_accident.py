"""After an accident: one deed keeps what was known then and now, and holds the records."""

import datetime as dt
import json
import re
import uuid
from hashlib import sha256
from html import unescape
from io import BytesIO
from zipfile import ZipFile

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.urls import reverse

from fleet.fitness.models import Opening, Snapshot
from fleet.fitness.snapshots import held, lift_hold, take_snapshot
from fleet.records.refusing import codes_of
from fleet.records.verifying import prove
from fleet.register.services.vehicles import alter_vehicle
from fleet.reports.bundle import bundle_of, reader
from tests.defects.factories import person
from tests.web.reading import main, words
from tests.web.scenes import TODAY, chafed, coach, make_practice, on, standing_at_today

pytestmark = pytest.mark.django_db


@pytest.fixture
def train():
    """Two coaches that ran on 10 May; a hose of the second was reported two days later."""
    with standing_at_today():
        make_practice()
        first, second = coach("T 1"), coach("T 2")
    with time_machine.travel(dt.datetime(2026, 5, 12, 9, tzinfo=dt.UTC), tick=False):
        chafed(second, "2026-05-04")
    with time_machine.travel(dt.datetime(2026, 5, 13, 9, tzinfo=dt.UTC), tick=False):
        yield [second, first]


def taken(train, **values):
    """A snapshot of vehicles for the day of the scenes."""
    return take_snapshot(
        **{
            "by": None,
            "person": person(),
            "vehicles": train,
            "on": TODAY,
            "reason": "Passed the home signal",
            "read": reader(TODAY),
        }
        | values
    )


def files_in(data):
    """The files of a bundle by name."""
    archive = ZipFile(BytesIO(data))
    return {name: archive.read(name) for name in archive.namelist()}


def test_it_keeps_what_was_known_then_beside_what_is_known_now(train):
    files = files_in(bundle_of(taken(train)))
    then = json.loads(files["01-t-2-then.json"])["systems"]["air"]
    now = json.loads(files["01-t-2-now.json"])["systems"]["air"]
    assert then["level"] == "braked"
    assert now["level"] == "stopped"
    assert "chafed" in json.dumps(now)
    assert files["01-t-2-then.pdf"].startswith(b"%PDF")
    assert "02-t-1-now.pdf" in files  # the order of the train


def test_the_bundle_is_always_the_same_and_its_digests_are_those_of_its_files(train):
    snapshot = taken(train)
    data = bundle_of(snapshot)
    assert bundle_of(Snapshot.objects.get()) == data
    files = files_in(data)
    listed = dict(
        line.split("  ")[::-1] for line in files["digests.txt"].decode().splitlines()
    )
    assert listed.keys() == files.keys() - {"digests.txt"}
    for name, digest in listed.items():
        assert sha256(files[name]).hexdigest() == digest
    assert snapshot.digest in files["README.txt"].decode()
    assert prove().faults == []


def test_a_manager_takes_it_in_one_go_opens_it_and_lifts_the_hold(
    client, manager, train
):
    client.force_login(manager)
    sent = {
        "submission": uuid.uuid4(),
        "on": TODAY.isoformat(),
        "reason": "Passed the home signal",
        "numbers": "t 2\nT 1\n",
    }
    page = client.post(reverse("reports:snapshot-add"), sent, follow=True)
    assert "Records held" in words(page)
    snapshot = Snapshot.objects.get()
    assert "Records held after an accident" in words(
        client.get(train[0].get_absolute_url())
    )

    bundle = client.post(reverse("reports:snapshot-bundle", args=[snapshot.number]))
    assert bundle["Content-Type"] == "application/zip"
    assert Opening.objects.get().created_by.user == manager
    page = words(client.get(snapshot.get_absolute_url()))
    assert f"Who opened the bundle 13 May 2026, 10:00 {manager}" in page

    sent = {"submission": uuid.uuid4(), "reason": "The inquiry has closed"}
    address = reverse("reports:snapshot-lift", args=[snapshot.number])
    page = words(client.post(address, sent, follow=True))
    assert "Hold lifted" in page
    assert "The inquiry has closed" in page
    assert not held(train[0].pk).exists()


def test_a_bundle_is_not_opened_by_following_a_link(client, manager, train):
    snapshot = taken(train)
    client.force_login(manager)
    address = reverse("reports:snapshot-bundle", args=[snapshot.number])
    assert "is logged for good" in words(client.get(address))
    assert not Opening.objects.exists()


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"reason": " "}, "no_reason"),
        ({"vehicles": []}, "no_vehicles"),
        ({"on": dt.date(2027, 1, 1)}, "in_the_future"),
    ],
)
def test_what_cannot_be_kept_is_refused_and_nothing_is_held(train, values, code):
    with pytest.raises(ValidationError) as refused:
        taken(train, **values)
    assert code in codes_of(refused.value)
    assert not Snapshot.objects.exists()
    assert not held(train[0].pk).exists()


def test_the_number_is_that_of_who_bore_it_on_the_day(client, manager, train):
    second, first = train
    with time_machine.travel(dt.datetime(2026, 5, 13, 9, tzinfo=dt.UTC), tick=False):
        for vehicle, number in ((first, "T 9"), (second, "T 1")):
            alter_vehicle(
                by=None, vehicle=vehicle, since=on("2026-05-12"), number=number
            )
    client.force_login(manager)
    sent = {
        "submission": uuid.uuid4(),
        "on": TODAY.isoformat(),
        "reason": "Passed the home signal",
        "numbers": "T 2\nT 1",
    }
    client.post(reverse("reports:snapshot-add"), sent)
    kept = [row["vehicle"] for row in Snapshot.objects.get().content]
    assert kept == [second.pk, first.pk]


def test_its_page_leads_to_each_vehicle_as_known_then_and_now(client, manager, train):
    snapshot = taken(train)
    client.force_login(manager)
    markup = main(client.get(snapshot.get_absolute_url()))
    ways = re.findall(r'href="(/vehicles/[^"]+)"', markup)
    said = {way: words(client.get(unescape(way))) for way in ways}
    assert len(said) == 4
    then = [text for way, text in said.items() if "known=" in way]
    assert all("As recorded up to 10 May 2026" in text for text in then)


def test_a_number_nobody_bears_is_named_on_the_page(client, manager, train):
    client.force_login(manager)
    sent = {
        "submission": uuid.uuid4(),
        "on": TODAY.isoformat(),
        "reason": "Passed the home signal",
        "numbers": "T 2\nX 9",
    }
    page = client.post(reverse("reports:snapshot-add"), sent)
    assert "No vehicle bears X 9" in words(page)
    assert not Snapshot.objects.exists()


def test_a_hold_is_lifted_once(train):
    snapshot = taken(train)
    said = {"by": None, "person": person(), "snapshot": snapshot}
    lift_hold(**said, reason="Closed")
    with pytest.raises(ValidationError) as refused:
        lift_hold(**said, reason="Closed")
    assert "not_held" in codes_of(refused.value)


def test_only_a_manager_takes_and_opens_but_everybody_may_look(client, people, train):
    snapshot = taken(train)
    number = snapshot.number
    may = {"manager", "administrator"}
    for role, user in people.items():
        client.force_login(user)
        assert client.get(reverse("reports:snapshot-list")).status_code == 200
        assert client.get(snapshot.get_absolute_url()).status_code == 200
        for name in ("snapshot-lift", "snapshot-bundle"):
            address = reverse(f"reports:{name}", args=[number])
            assert client.get(address).status_code == (200 if role in may else 403)
        status = client.get(reverse("reports:snapshot-add")).status_code
        assert status == (200 if role in may else 403)
