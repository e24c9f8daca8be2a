"""What `manage.py demo` loads and shows, and that a second run changes nothing."""

import json
import re
from io import StringIO
from urllib.parse import urlencode

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from fleet.config.demo.load import PASSWORD
from fleet.engineering.calendar import add_months
from fleet.fitness.day_status import day_statuses
from fleet.fitness.models import StatusSpan
from fleet.fitness.rules import BOOK
from fleet.people.models import User
from fleet.people.roles import ROLES
from fleet.records.clock import today
from fleet.records.models import Entry
from fleet.register.models import Equipment, Position, Vehicle, VehicleType
from fleet.register.vocabulary import Level, System
from fleet.web.board import PER_PAGE
from tests.web.demo import load, loaded_for_a_module
from tests.web.reading import links, main, rows

# Rules no vehicle of the demo falls under, each for a reason.
NOT_SHOWN = {
    "S05": "no page and no service leaves a vehicle without particulars",
    "K01": "the first drawing of a type counts for the time before it",
    "K02": "would hold every vehicle of the line to it",
    "P07": "an item cannot be fitted before it is recorded",
    "E02": "an item is recorded together with its standing",
}


@pytest.fixture(scope="module")
def demo(django_db_setup, django_db_blocker):
    """The default fleet, loaded once for all tests here; what the command said."""
    with loaded_for_a_module(django_db_blocker) as said:
        yield said


@pytest.fixture
def signed_in(demo, db, client):
    """A browser in which the demo's fitter has signed in."""
    client.force_login(User.objects.get(username="fitter"))
    return client


def vehicles_now():
    """Every vehicle's status today, by running number."""
    return {status.number: status for status in day_statuses(today())}


# What it shows ----------------------------------------------------------------------------


def test_it_says_where_to_look_and_how_each_role_signs_in(demo, db):
    assert "http://127.0.0.1:8000/" in demo
    assert f"password {PASSWORD}" in demo
    for role in ROLES:
        username = re.search(rf"^  (\S+) +{role.replace('_', ' ')} ", demo, re.M).group(
            1
        )
        given = {"username": username, "password": PASSWORD}
        assert Client().post(reverse("people:sign-in"), given).url == "/"
        assert [g.name for g in User.objects.get(username=username).groups.all()] == [
            role
        ]


def test_the_fleet_is_of_every_arrangement_and_of_the_size_promised(demo, db):
    fleet = vehicles_now().values()
    fitted = {
        tuple(
            sorted((span.system.value, span.level is Level.PIPED) for span in v.spans)
        )
        for v in fleet
    }

    assert len(fleet) >= 40
    assert Equipment.objects.count() >= 1_000
    assert {tuple(s.value for s in System)} <= {tuple(n for n, _ in f) for f in fitted}
    assert {("air",), ("vacuum",)} <= {tuple(n for n, _ in f) for f in fitted}
    assert VehicleType.objects.count() >= 10


def test_every_rule_has_a_vehicle_to_show_today(demo, db):
    shown = {f.code for vehicle in vehicles_now().values() for f in vehicle.findings}

    assert {rule.code for rule in BOOK} - shown - set(NOT_SHOWN) == set()


def test_two_thirds_of_the_brakes_of_the_fleet_are_fit_to_run_braked(demo, db):
    brakes = [
        span.level
        for vehicle in vehicles_now().values()
        for span in vehicle.spans
        if not any(built_piped(f, span.system) for f in vehicle.findings)
    ]
    fit = [level for level in brakes if level >= Level.CONDITIONAL]

    assert len(fit) >= len(brakes) * 2 / 3
    assert set(brakes) == set(Level)


def built_piped(finding, system):
    """Whether a finding says that a system has a pipe only, by build."""
    return finding.code == "B01" and system in finding.scope.systems


def test_nothing_in_the_demo_lies_in_the_future(demo, db):
    assert Entry.objects.filter(made_at__date__gt=today()).count() == 0


def test_every_position_of_every_type_is_a_link_in_the_diagrams_of_its_vehicles(
    signed_in,
):
    of_types = {status.type_code: status.vehicle for status in vehicles_now().values()}
    assert len(of_types) == VehicleType.objects.count()

    for code, vehicle in of_types.items():
        page = main(signed_in.get(reverse("web:vehicle", args=[vehicle])))
        figures = re.findall(r'<figure class="diagram">.*?</figure>', page, re.DOTALL)
        leads = {href for _, href in links("".join(figures))}
        newest = VehicleType.objects.get(code=code).revisions.latest("number")
        places = Position.objects.filter(revision=newest).values_list("code", flat=True)
        assert places
        assert leads == {
            reverse("register:position", args=[vehicle, place]) for place in places
        }, code


# One answer, wherever it is asked ---------------------------------------------------------


def board_on(client, day):
    """The levels on the board of a day, by running number and system, all its pages."""
    found = {}
    vehicles = Vehicle.objects.count()
    for page in range(1, vehicles // PER_PAGE + 2):
        asked = urlencode({"on": day.isoformat(), "page": page})
        text = main(client.get(f"{reverse('web:board')}?{asked}"))
        for row in rows(text):
            number = re.match(r"[A-Z] \d+", row["Vehicle"]).group()
            found[number] = (row["Air"], row["Vacuum"])
    return found


@pytest.mark.parametrize("months", [0, 24])
def test_the_command_the_board_and_the_facts_agree(signed_in, months):
    day = add_months(today(), months)
    said = StringIO()

    call_command("brake_status", on=day.isoformat(), json=True, stdout=said)

    printed = json.loads(said.getvalue())
    assert printed["on"] == day.isoformat()
    listed = {
        vehicle["number"]: tuple(
            vehicle["systems"].get(system.value, {"words": "not fitted"})["words"]
            for system in System
        )
        for vehicle in printed["vehicles"]
    }
    assert listed == board_on(signed_in, day)
    assert len(listed) == Vehicle.objects.count()


def test_what_is_stored_is_what_the_facts_say(demo, db):
    said = StringIO()

    call_command("rebuild_status", verify=True, stdout=said)

    assert "What is stored is what the facts say." in said.getvalue()
    assert "not yet reassessed" not in said.getvalue()


# Twice ---------------------------------------------------------------------


def test_a_second_run_changes_nothing(demo, db):
    before = Entry.objects.count(), StatusSpan.objects.count(), User.objects.count()

    again = load(vehicles=3)

    assert "The demo is loaded already." in again
    assert "It stays as it is: --vehicles counts on first load." in again
    assert f"password {PASSWORD}" in again
    after = Entry.objects.count(), StatusSpan.objects.count(), User.objects.count()
    assert after == before
