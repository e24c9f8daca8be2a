"""Why a vehicle stands where it does: from its level down to person and instrument."""

import datetime as dt
import json
import re
from io import StringIO

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.defects import services as defects
from fleet.defects.services.cocks import record_wrong_cock
from fleet.people.models import Skill
from fleet.records.clock import today
from fleet.register.services.usage import store_vehicle
from fleet.register.vocabulary import CockPosition, Effect, EquipmentKind, Scope
from fleet.upkeep.notices import issue_notice
from tests.defects.factories import make_policy, person
from tests.examination.factories import (
    make_instrument,
    make_person,
    make_procedure,
    make_test,
)
from tests.people.factories import make_competence
from tests.register.factories import make_vehicle
from tests.upkeep.factories import make_conditions, make_requirement
from tests.web.reading import main, words
from tests.web.scenes import (
    TODAY,
    chafed,
    coach,
    cracked_hanger,
    dual_coach,
    make_practice,
    on,
    standing_at_today,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def standing_today():
    with standing_at_today():
        yield


def why(client, vehicle, **asked):
    """The page that explains a vehicle."""
    answer = client.get(reverse("web:explain", args=[vehicle.pk]), asked)
    assert answer.status_code == 200
    return answer


def explained(*numbers, **options):
    """What the command explains, as JSON."""
    said = StringIO()
    call_command(
        "brake_status", *numbers, explain=True, json=True, stdout=said, **options
    )
    return json.loads(said.getvalue())


@pytest.fixture
def witnessed(standing_today):
    """A coach whose yearly test was done by a named, competent person with a gauge."""
    make_conditions()
    procedure = make_procedure(skill=Skill.AIR)
    make_requirement(code="annual", procedure=procedure, months=12)
    person = make_person("Edda Quill")
    make_competence(person, skill=Skill.AIR, since="2020-01-01", last_day="2026-12-31")
    gauge = make_instrument("TG-4", calibrated="2026-01-05")
    vehicle = coach("T 1", tested=None)
    test = {"procedure": procedure, "done_by": person, "instrument": gauge}
    make_test(vehicle=vehicle, on=on("2026-03-05"), **test)
    return vehicle


def test_what_is_met_leads_to_record_person_competence_and_instrument(
    client, fitter, witnessed
):
    client.force_login(fitter)
    answer = why(client, witnessed)
    said = words(answer)
    assert "Fit to run braked" in said
    assert "Done by Edda Quill, competent for air brake tests" in said
    assert "up to 31 Dec 2026" in said
    assert "With TG-4: calibrated 5 Jan 2026" in said
    assert re.search(r'href="/tests/\d+/"', main(answer))


def test_what_holds_it_down_names_rule_source_remedy_and_who_may(
    client, fitter, standing_today
):
    vehicle = dual_coach("T 2")
    client.force_login(fitter)
    said = words(why(client, vehicle))
    assert "Convey as piped" in said
    assert "Distributor overhaul: overrun" in said
    assert "This decides" in said
    assert "R03 Requirement of equipment overrun" in said
    assert "Operator's instruction 7" in said
    assert "Exchange the distributor. By a fitter, planner, manager" in said


def test_what_bears_beside_the_gear_leads_to_who_when_and_its_record(
    client, fitter, standing_today
):
    make_practice()
    vehicle = coach("T 1")
    issue_notice(
        by=fitter,
        code="fn-1",
        title="Cracked covers",
        source="Letter of the overhaul shop",
        action="Look at the cover.",
        kind=EquipmentKind.DISTRIBUTOR,
        scope=Scope.AIR_BRAKE,
        effect=Effect.DISCOUNT,
        effective_from=TODAY,
    )
    cock = record_wrong_cock(
        by=None,
        person=person("Edda Quill"),
        vehicle=vehicle,
        position="distributor-cock",
        on=on("2026-05-04", "11:40"),
        found=CockPosition.CLOSED,
        left=CockPosition.OPEN,
        where="11:40 departure",
    )
    store_vehicle(by=None, vehicle=vehicle, since=on("2026-05-09"), place="Back road")
    client.force_login(fitter)
    answer = why(client, vehicle)
    said, markup = words(answer), main(answer)
    assert "Fleet notice fn-1, Cracked covers: issued 10 May 2026" in said
    assert f"by {fitter}. Source: Letter of the overhaul shop" in said
    assert "found closed 4 May 2026, 11:40, 11:40 departure: no test named" in said
    assert "Found by Edda Quill" in said
    assert "Stored 9 May 2026, not yet returned, Back road" in said
    assert 'href="/notices/fn-1/"' in markup
    assert f'href="{cock.get_absolute_url()}"' in markup


@pytest.fixture
def in_hand(standing_today):
    """A coach whose cracked hanger is in hand with Edda Quill."""
    make_practice()
    make_policy(independent_scopes=[Scope.VEHICLE])
    vehicle = coach("T 1")
    worker = person("Edda Quill")
    doing = {"by": None, "person": worker, "defect": cracked_hanger(vehicle)}
    defects.take_in_hand(on=on("2026-05-10", "08:00"), **doing)
    return vehicle


def who(number, code):
    """Who may clear a finding, as the command says it."""
    air = explained(number)["vehicles"][0]["systems"]["air"]
    return next(b["cleared_by"] for b in air["findings"] if b["rule"]["code"] == code)


def test_who_may_release_is_told_by_role_competence_and_as_somebody_else(in_hand):
    assert who("T 1", "W01") == (
        "a manager or administrator; the release by a person, other than who did the work"
    )
    make_competence(person(), skill=Skill.RELEASE)
    assert who("T 1", "W01") == (
        "a manager or administrator; the release by a person with the competence "
        "“Release to traffic”, other than who did the work"
    )


def test_who_may_test_is_told_with_the_competence_the_procedure_asks_for(
    standing_today,
):
    make_conditions()
    procedure = make_procedure(skill=Skill.AIR)
    make_requirement(code="annual", procedure=procedure, months=12)
    coach("T 1", tested=None)
    assert "the test by a person with the competence “Air brake tests”" in who(
        "T 1", "R01"
    )


def test_the_command_tells_the_same_chain_as_json_and_as_text(witnessed):
    found = explained("T 1")["vehicles"][0]
    air = found["systems"]["air"]
    assert air["level"] == "braked"
    record = next(
        record
        for met in air["met"]
        if met["requirement"] == "annual"
        for record in met["records"]
    )
    assert record["kind"] == "test"
    assert record["persons"][0]["name"] == "Edda Quill"
    assert record["instruments"][0]["number"] == "TG-4"
    assert record["entry"]

    said = StringIO()
    call_command("brake_status", "T 1", explain=True, stdout=said)
    assert "done by Edda Quill, competent for air brake tests" in said.getvalue()
    assert "with TG-4: calibrated 5 Jan 2026" in said.getvalue()
    with pytest.raises(CommandError, match="Name the vehicles"):
        call_command("brake_status", explain=True)


def test_a_failing_branch_in_json_says_what_clears_it_and_by_whom(standing_today):
    dual_coach("T 2")
    air = explained("T 2")["vehicles"][0]["systems"]["air"]
    decides = [branch for branch in air["findings"] if branch["decides"]]
    assert [branch["rule"]["code"] for branch in decides] == ["R03"]
    assert decides[0]["clears"] == "Exchange the distributor."
    assert "fitter" in decides[0]["cleared_by"]
    kinds = {record["kind"] for record in decides[0]["records"]}
    assert {"requirement", "equipment", "test"} <= kinds


def test_it_explains_what_was_known_then(client, fitter):
    with standing_at_today():
        make_practice()
        vehicle = coach("T 1")
    with time_machine.travel(dt.datetime(2026, 5, 12, 9, tzinfo=dt.UTC)):
        chafed(vehicle, "2026-05-04")
    client.force_login(fitter)
    with time_machine.travel(dt.datetime(2026, 5, 13, 9, tzinfo=dt.UTC)):
        now = words(why(client, vehicle, on="2026-05-10"))
        then = words(why(client, vehicle, on="2026-05-10", known="2026-05-10T20:00"))
        told = explained("T 1", on="2026-05-10", known_at="2026-05-10")
    assert "chafed" in now
    assert "chafed" not in then
    assert "As recorded up to 10 May 2026" in then
    assert told["vehicles"][0]["systems"]["air"]["level"] == "braked"


def test_before_anything_was_known_it_says_so(client, fitter, standing_today):
    make_practice()
    vehicle = coach("T 1")
    client.force_login(fitter)
    assert "Unknown is never fit" in words(why(client, vehicle, on="1990-01-01"))


def test_it_asks_as_often_for_many_records_as_for_few(client, fitter, standing_today):
    make_practice()
    counted = []
    client.force_login(fitter)
    for number, more in (("T 1", 0), ("T 2", 6)):
        vehicle = coach(number)
        for at in range(more):
            make_test(vehicle=vehicle, on=on(f"2026-04-0{at + 1}"))
            chafed(vehicle, f"2026-04-1{at + 1}")
        if not more:
            make_test(vehicle=vehicle, on=on("2026-04-01"))
            chafed(vehicle, "2026-04-11")
        why(client, vehicle)
        with CaptureQueriesContext(connection) as queries:
            why(client, vehicle)
        counted.append(len(queries))
    assert counted[0] == counted[1]


def test_train_crew_may_look(client, train_crew, standing_today):
    make_practice()
    client.force_login(train_crew)
    assert why(client, make_vehicle()).status_code == 200
    assert today() == TODAY
