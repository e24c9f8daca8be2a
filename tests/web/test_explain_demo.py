"""The demo explained: every leaf of what stands worst leads to its record."""

import json
import re
from io import StringIO

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from fleet.defects.models import WrongCockVersion
from fleet.fitness.models import StatusSpan
from fleet.records.clock import today
from fleet.register.models import Fitting, VehicleVersion
from fleet.upkeep.models import NoticeDone, NoticeItem
from tests.web.demo import account, loaded_for_a_module
from tests.web.reading import main

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module", autouse=True)
def _demo(django_db_setup, django_db_blocker):
    with loaded_for_a_module(django_db_blocker):
        yield


def worst():
    """The vehicle with the most spans of the lowest level that hold today."""
    held = StatusSpan.objects.on(today()).order_by("level", "vehicle")
    return (held.filter(whole_vehicle=True).first() or held.first()).vehicle_id


def with_a_wrong_cock():
    """A vehicle with a cock found wrong that no test has proved right."""
    return WrongCockVersion.objects.current().get(proved_by=None).vehicle_id


def under_a_notice():
    """A vehicle that carries an item a fleet notice still asks something of."""
    done = NoticeDone.objects.values("equipment")
    items = NoticeItem.objects.exclude(equipment__in=done).values("equipment")
    aboard = Fitting.objects.current().open_ended()
    return aboard.filter(vehicle__isnull=False, equipment__in=items)[0].vehicle_id


@pytest.mark.parametrize(
    ("chosen", "page"),
    [(worst, ""), (with_a_wrong_cock, "/cocks/"), (under_a_notice, "/notices/")],
    ids=["worst", "wrong cock", "fleet notice"],
)
def test_every_leaf_of_a_vehicle_can_be_opened(chosen, page):
    client = Client()
    client.force_login(account("manager"))
    markup = main(client.get(reverse("web:explain", args=[chosen()])))
    lists = re.findall(r'<ul class="records">(.*?)</ul>', markup, re.DOTALL)
    leaves = [leaf for held in lists for leaf in held.split("<li>")[1:]]
    assert [leaf for leaf in leaves if "href" not in leaf] == []
    assert [leaf for leaf in leaves if "Entry" not in leaf] == []
    links = set(re.findall(r'href="([^"#]+)', "".join(leaves)))
    assert any(page in link for link in links)
    assert {link: client.get(link).status_code for link in links} == dict.fromkeys(
        links, 200
    )


def test_every_record_of_the_demo_is_as_it_was_written():
    said = StringIO()
    call_command("verify_records", stdout=said)
    assert "All as written" in said.getvalue()


def test_every_vehicle_of_the_demo_can_be_explained():
    numbers = VehicleVersion.objects.current().holding_on(today())
    said = StringIO()
    asked = numbers.values_list("number", flat=True)
    call_command("brake_status", *asked, explain=True, json=True, stdout=said)
    every = json.loads(said.getvalue())["vehicles"]
    assert len(every) == numbers.count()
    for vehicle in every:
        for system in vehicle["systems"].values():
            if system["level"] in {"piped", "stopped"}:
                assert any(branch["decides"] for branch in system["findings"])
