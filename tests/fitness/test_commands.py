"""The commands: what they print, what they refuse, and how they end."""

import datetime as dt
import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from fleet.fitness.models import Stale, StatusSpan
from fleet.fitness.services import BOOK
from fleet.fitness.status import board_rows, current_verdict
from fleet.records import deeds
from fleet.records.clock import today
from fleet.register.vocabulary import Level, System
from tests.fitness.histories import make_history, make_policy, on
from tests.fitness.test_reassess import fleet, revise, stop
from tests.register.factories import make_vehicle

pytestmark = pytest.mark.django_db


def run(*arguments):
    """What a command printed."""
    printed = StringIO()
    call_command(*arguments, stdout=printed, stderr=printed)
    return printed.getvalue()


def listed(*arguments):
    """What `brake_status --json` printed, read back."""
    return json.loads(run("brake_status", *arguments, "--json"))


@pytest.fixture
def history():
    """A vehicle with everything, under a policy."""
    make_policy()
    return make_history(number="T 901")


def test_brake_status_names_level_findings_next_change_and_what_clears_each():
    (vehicle,) = fleet(1)
    stop(vehicle)
    number = vehicle.versions.get().number

    printed = run("brake_status", number, "--on", "2026-05-10")

    assert "at the close of 2026-05-10" in printed
    assert f"{number}  (coach-air)" in printed
    assert "Air: Not to run in an air train" in printed
    assert "Brake pipe hose chafed" in printed
    assert "clears:" in printed


def test_brake_status_says_until_when_and_what_comes_then():
    (vehicle,) = fleet(1)
    number = vehicle.versions.get().number

    printed = run("brake_status", number, "--on", "2026-05-10")

    assert "Air: Fit to run braked" in printed
    assert "until 2027-03-06, then: Air brake test" in printed


def test_brake_status_as_json_is_an_object_with_the_day_and_the_vehicles(history):
    found = listed("T 901", "--on", "2026-05-10")

    assert found["on"] == "2026-05-10"
    (vehicle,) = found["vehicles"]
    assert {"number", "systems", "findings"} <= set(vehicle)
    assert vehicle["number"] == "T 901"
    assert set(vehicle["systems"]) == {"air"}
    assert {"level", "words", "until", "next_change"} <= set(vehicle["systems"]["air"])
    assert all({"code", "text", "clears"} <= set(f) for f in vehicle["findings"])


def test_a_number_is_found_in_any_case_of_letters(history):
    assert [v["number"] for v in listed("t 901")["vehicles"]] == ["T 901"]


def test_without_a_number_every_vehicle_is_listed_in_order(history):
    make_vehicle(number="T 900")

    assert [v["number"] for v in listed()["vehicles"]] == ["T 900", "T 901"]


def test_brake_status_in_two_years_is_what_the_board_shows_and_the_facts_say(history):
    ahead = today() + dt.timedelta(days=730)

    (vehicle,) = listed("T 901", "--on", ahead.isoformat())["vehicles"]

    (row,) = board_rows(ahead)
    span = current_verdict(history.vehicle.pk).span_on(System.AIR, ahead)
    assert vehicle["systems"]["air"]["level"] == row.systems[System.AIR].level.code
    assert vehicle["systems"]["air"]["headline"] == span.headline
    assert row.systems[System.AIR].span.headline == span.headline


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        pytest.param(["Q 1"], "no vehicle numbered Q 1", id="unknown number"),
        pytest.param(["--on", "soon"], "Write the date as", id="no date"),
        pytest.param(["--on", "2026-02-30"], "no such date", id="no such day"),
        pytest.param(["--on", "2026-05"], "give one day", id="a month"),
        pytest.param(["--on", "unknown"], "give one day", id="unknown day"),
    ],
)
def test_brake_status_says_what_is_wrong_with_what_it_was_asked(arguments, sentence):
    make_vehicle(number="T 901")

    with pytest.raises(CommandError, match=sentence):
        run("brake_status", *arguments)


def test_a_vehicle_is_not_found_on_a_day_before_it_came():
    make_vehicle(number="T 901")

    with pytest.raises(CommandError, match="no vehicle numbered T 901"):
        run("brake_status", "T 901", "--on", "2010-01-01")


def test_rebuilding_works_through_what_is_stale(settings):
    settings.FLEET_REASSESS_AT_ONCE = 1
    fleet(2)
    revise()

    assert "2 vehicles reassessed" in run("rebuild_status", "--chunk", "1")
    assert not Stale.objects.exists()
    assert "0 vehicles reassessed" in run("rebuild_status")


def test_rebuilding_all_puts_right_what_missed_a_fact(monkeypatch):
    (vehicle,) = fleet(1)
    monkeypatch.setattr(deeds, "_listeners", [])
    stop(vehicle)

    run("rebuild_status", "--all")

    span = StatusSpan.objects.on(on("2026-05-10").earliest).get(vehicle=vehicle)
    assert span.level == Level.STOPPED
    assert span.rulebook == BOOK.version


def test_verifying_passes_where_what_is_stored_is_what_the_facts_say(history):
    assert "What is stored is what the facts say" in run("rebuild_status", "--verify")


def test_verifying_names_what_differs_and_fails(monkeypatch):
    (vehicle,) = fleet(1)
    monkeypatch.setattr(deeds, "_listeners", [])
    stop(vehicle)
    printed = StringIO()

    with pytest.raises(
        CommandError, match="1 vehicle of which something else"
    ) as error:
        call_command("rebuild_status", "--verify", stdout=printed, stderr=printed)

    assert error.value.returncode == 1
    assert vehicle.versions.get().number in printed.getvalue()
    assert "not stored: air from 2026-05-04" in printed.getvalue()
    assert not Stale.objects.exists()


def test_verifying_says_what_is_not_yet_reassessed(settings):
    settings.FLEET_REASSESS_AT_ONCE = 1
    fleet(2)
    revise()

    assert "2 vehicles not yet reassessed" in run("rebuild_status", "--verify")


def test_a_chunk_of_nothing_is_refused():
    with pytest.raises(CommandError, match="from 1 on"):
        run("rebuild_status", "--chunk", "0")
