"""What changed between two days or two states of knowledge, and through which facts."""

import datetime as dt
import re
from decimal import Decimal
from html import unescape

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.fitness import causes
from fleet.people.models import Skill
from fleet.people.services import retract_competence
from fleet.register.models import VehicleType
from fleet.register.services.types import revise_type
from fleet.register.services.usage import log_usage
from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from tests.examination.factories import (
    make_calibration,
    make_instrument,
    make_person,
    make_procedure,
    make_test,
)
from tests.people.factories import PASSWORD, make_competence
from tests.register.factories import air_places, place
from tests.upkeep.factories import make_conditions, make_requirement
from tests.web.reading import main, words
from tests.web.scenes import (
    chafed,
    coach,
    fleet,
    make_practice,
    on,
    short,
    standing_at_today,
)

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


def test_it_says_what_is_held_against_what_as_the_form_is_not_printed(client, yard):
    said = compared(client, **ASKED)
    assert (
        "Held against each other: 10 May 2026, as known 10 May 2026, 20:00, and "
        "10 May 2026, as known now."
    ) in said


def test_an_empty_register_is_not_said_to_stand_as_before(client, manager):
    client.force_login(manager)
    assert "Nothing is recorded of any vehicle on either side" in compared(client)


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


ASKED = {"before_on": "2026-05-10", "before_known": NIGHT, "after_on": "2026-05-10"}


def test_a_competence_that_fell_is_named_as_the_cause(client, manager):
    with standing_at_today():
        make_conditions(uncertified_effect=Effect.DISCOUNT)
        procedure = make_procedure(skill=Skill.AIR)
        make_requirement(code="annual", procedure=procedure, months=12)
        worker = make_person("Edda Quill")
        held = make_competence(worker)
        vehicle = coach("T 1", tested=None)
        make_test(
            vehicle=vehicle, procedure=procedure, done_by=worker, on=on("2026-03-05")
        )
    with at(12):
        retract_competence(by=manager, version=held, reason="Of another person")
    client.force_login(manager)
    with at(13):
        said = compared(client, **ASKED)
    assert "T 1 Air: Fit to run braked → Convey as piped" in said
    assert "Competence retracted Entry" in said


def test_a_type_with_another_place_is_named_as_the_cause(client, manager):
    with standing_at_today():
        make_practice()
        vehicle = coach("T 1")
    type_ = VehicleType.objects.get()
    with at(12):
        extra = place(
            "mr-hose-9",
            "Hose of a new pipe",
            EquipmentKind.BP_HOSE,
            Scope.BRAKE_PIPE,
            effect_missing=Effect.STOP,
        )
        revise_type(
            by=manager,
            type=type_,
            name="Open coach",
            effective_from=dt.date(2026, 5, 1),
            positions=[*short(air_places()), extra],
            reason="New pipe",
        )
    client.force_login(manager)
    with at(13):
        said = compared(client, **ASKED)
        one = compared(client, "web:vehicle-changes", [vehicle.pk], **ASKED)
    assert "Vehicle type revised Entry" in said
    assert "Vehicle type revised Entry" in one


def test_an_instrument_found_wrong_is_named_as_the_cause(client, manager):
    with standing_at_today():
        make_practice()
        gauge = make_instrument("TG-4", calibrated="2026-01-05")
        vehicle = coach("T 1", tested=None)
        make_test(vehicle=vehicle, instrument=gauge, on=on("2026-03-05"))
    with at(12):
        make_calibration(gauge, "2026-05-11", found="0.9")
    client.force_login(manager)
    with at(13):
        said = compared(client, **ASKED)
    assert "T 1 Air" in said
    assert "Calibration recorded Entry" in said


def test_of_many_entries_ten_are_shown_and_a_link_leads_to_the_others(client, yard):
    _sound, worn = yard
    with at(12):
        for more in range(11):
            log_usage(
                by=None,
                vehicle=worn,
                first=dt.date(2026, 4, 1 + more),
                last=dt.date(2026, 4, 1 + more),
                miles=Decimal(1),
                days=1,
            )
    with at(13):
        page = client.get(reverse("web:changes"), ASKED)
        said, markup = words(page), main(page)
        assert said.count("Usage logged Entry") == 10
        assert "and 2 more" in said
        address = unescape(re.search(r'href="([^"]+)">and 2 more', markup)[1])
        alone = words(client.get(address))
    assert alone.count("Usage logged Entry") == 11
    assert "Defect raised Entry" in alone
    assert "more" not in alone.partition("Recorded between")[2]


def test_what_was_not_looked_at_for_causes_is_said(client, yard, monkeypatch):
    monkeypatch.setattr(causes, "LONGEST", 1)
    with at(12):
        chafed(yard[1], "2026-05-05")
    with at(13):
        said = compared(client, **ASKED)
    assert re.search(r"the \d+ oldest mentions? (was|were) not looked at", said)


def test_the_way_to_the_vehicle_keeps_day_and_knowledge(client, yard):
    with at(13):
        asked = ASKED | {"after_known": "2026-05-12T20:00"}
        markup = main(client.get(reverse("web:changes"), asked))
        address = unescape(re.search(r'href="(/vehicles/[^"]+)">T 2', markup)[1])
        assert "known=2026-05-12T20:00" in address
        assert "As recorded up to 12 May 2026, 20:00" in words(client.get(address))


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
