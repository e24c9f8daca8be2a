"""The demo explained: every leaf of what stands worst leads to its record."""

import json
import re
from io import StringIO

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from fleet.fitness.models import StatusSpan
from fleet.records.clock import today
from fleet.register.models import VehicleVersion
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
    return held.filter(whole_vehicle=True).first() or held.first()


def test_every_leaf_of_the_worst_vehicle_can_be_opened():
    vehicle = worst().vehicle
    client = Client()
    client.force_login(account("manager"))
    markup = main(client.get(reverse("web:explain", args=[vehicle.pk])))
    leaves = re.findall(r'<ul class="records">(.*?)</ul>', markup, re.DOTALL)
    links = set(re.findall(r'href="([^"#]+)', "".join(leaves)))
    assert links
    assert {link: client.get(link).status_code for link in links} == dict.fromkeys(
        links, 200
    )


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
