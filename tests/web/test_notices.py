"""A fleet notice: from a fault on one item to all like it, with its effect and progress."""

import datetime as dt
import uuid

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.fitness.status import current_verdict
from fleet.records.clock import now
from fleet.records.deeds import number_at
from fleet.records.refusing import codes_of
from fleet.records.verifying import prove
from fleet.register.vocabulary import Effect, EquipmentKind, Level, Scope, System
from fleet.upkeep.models import FleetNotice
from fleet.upkeep.notices import close_notice, issue_notice, sign_item_off
from tests.defects.factories import person
from tests.examination.factories import make_bench_test, make_test
from tests.web.reading import words
from tests.web.scenes import TODAY, coach, day, make_practice, on, standing_at_today

pytestmark = pytest.mark.django_db

FROM = dt.date(2026, 6, 1)


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


@pytest.fixture
def pair():
    """Two coaches with a distributor of one type each, and one with another."""
    make_practice()
    return coach("T 1"), coach("T 2"), coach("T 3", designation="D9")


def issued(**values):
    """A notice that distributors D2 not dealt with are isolated from June on."""
    return issue_notice(
        **{
            "by": None,
            "code": "fn-1",
            "title": "Cracked covers",
            "source": "Letter of the overhaul shop",
            "action": "Look at the cover.",
            "kind": EquipmentKind.DISTRIBUTOR,
            "designation": "D2",
            "scope": Scope.AIR_BRAKE,
            "effect": Effect.DISCOUNT,
            "effective_from": FROM,
        }
        | values
    )


def distributor(vehicle):
    """What sits in the distributor's place."""
    return vehicle.fittings.get(position="distributor", closed_by=None).equipment


def signed(notice, vehicle, **values):
    """The item of a vehicle signed off today."""
    values = {"on": TODAY, "note": "No crack", "person": person("Edda Quill")} | values
    return sign_item_off(
        by=None, notice=notice, equipment=distributor(vehicle), **values
    )


def level(vehicle, text):
    """The level of the air brake on a day."""
    return current_verdict(vehicle.pk).span_on(System.AIR, day(text)).level


def test_what_is_not_done_bears_on_the_vehicle_that_carries_it_from_its_day(pair):
    first, second, other = pair
    notice = issued()
    signed(notice, first)
    assert level(second, "2026-05-31") is Level.BRAKED
    assert level(second, "2026-06-01") is Level.PIPED
    assert level(first, "2026-06-01") is Level.BRAKED
    assert level(other, "2026-06-01") is Level.BRAKED
    assert prove().faults == []


def test_a_test_passed_since_meets_it_and_one_before_does_not(pair):
    first, second, _ = pair
    procedure = make_bench_test()
    make_test(equipment=distributor(second), procedure=procedure, on=on("2026-05-01"))
    issued(procedure=procedure)
    assert level(second, "2026-06-01") is Level.PIPED
    make_test(equipment=distributor(first), procedure=procedure, on=on("2026-05-10"))
    assert level(first, "2026-06-01") is Level.BRAKED


def test_what_was_known_before_it_was_issued_knows_nothing_of_it(pair):
    _, second, _ = pair
    known = number_at(now())
    with standing_at_today():
        issued()
    then = current_verdict(second.pk, known_at=known)
    assert "N01" not in {finding.code for finding in then.findings}
    found = current_verdict(second.pk).findings
    assert "N01" in {finding.code for finding in found}


def test_a_manager_issues_it_a_fitter_signs_off_and_progress_shows(
    client, manager, fitter, pair
):
    first, _, _ = pair
    client.force_login(manager)
    sent = {
        "submission": uuid.uuid4(),
        "code": "fn-1",
        "title": "Cracked covers",
        "source": "Letter of the overhaul shop",
        "kind": EquipmentKind.DISTRIBUTOR.value,
        "designation": "D2",
        "action": "Look at the cover.",
        "scope": Scope.AIR_BRAKE.value,
        "effect": Effect.DISCOUNT.value,
        "effective_from": "2026-06-01",
    }
    page = words(client.post(reverse("web:notice-add"), sent, follow=True))
    assert "0 of 2 done" in page

    client.force_login(fitter)
    item = distributor(first)
    address = reverse("web:notice-sign", args=["fn-1", item.pk])
    sent = {"submission": uuid.uuid4(), "on": "2026-05-10", "note": "No crack"}
    page = words(client.post(address, sent, follow=True))
    assert "1 of 2 done" in page
    assert "No crack" in page

    client.force_login(manager)
    address = reverse("web:notice-close", args=["fn-1"])
    sent = {"submission": uuid.uuid4(), "reason": "All covers renewed"}
    assert "All covers renewed" in words(client.post(address, sent, follow=True))


def test_closed_it_bears_on_nothing(pair):
    _, second, _ = pair
    notice = issued()
    close_notice(by=None, notice=notice, on=TODAY, reason="Withdrawn by the shop")
    assert level(second, "2026-06-01") is Level.BRAKED
    with pytest.raises(ValidationError) as refused:
        close_notice(by=None, notice=notice, on=TODAY, reason="Again")
    assert "closed_already" in codes_of(refused.value)


def test_what_makes_no_sense_is_refused(pair):
    first, _, other = pair
    for values, code in (
        ({"designation": "D77", "serials": ["no such"]}, "no_items"),
        ({"effective_from": day("2026-05-01")}, "before_it_was_issued"),
    ):
        with pytest.raises(ValidationError) as refused:
            issued(**values)
        assert code in codes_of(refused.value)
    assert not FleetNotice.objects.exists()
    notice = issued()
    for vehicle, values, code in (
        (other, {}, "not_in_it"),
        (first, {"note": " "}, "no_note"),
        (first, {"on": day("2026-05-11")}, "in_the_future"),
        (first, {"on": day("2026-05-09")}, "before_it_was_issued"),
    ):
        with pytest.raises(ValidationError) as refused:
            signed(notice, vehicle, **values)
        assert code in codes_of(refused.value)
    signed(notice, first)
    with pytest.raises(ValidationError) as refused:
        signed(notice, first)
    assert "already_done" in codes_of(refused.value)
    with pytest.raises(ValidationError) as refused:
        issued(code="FN-1")
    assert "code_taken" in codes_of(refused.value)


def test_its_page_asks_as_often_for_many_items_as_for_few(client, train_crew, pair):
    client.force_login(train_crew)
    issued(code="few", serials=["no such", _serial(pair[0])])
    issued(code="many", designation="")
    counted = []
    for code in ("few", "many"):
        address = reverse("web:notice", args=[code])
        client.get(address)
        with CaptureQueriesContext(connection) as queries:
            client.get(address)
        counted.append(len(queries))
    assert counted[0] == counted[1]
    assert "fn" not in words(client.get(reverse("web:notice-list")))


def _serial(vehicle):
    return distributor(vehicle).versions.get(closed_by=None).serial


def test_who_may(client, people, pair):
    issued()
    item = distributor(pair[0])
    pages = {
        reverse("web:notice-list"): set(people),
        reverse("web:notice", args=["fn-1"]): set(people),
        reverse("web:notice-add"): {"manager", "administrator"},
        reverse("web:notice-close", args=["fn-1"]): {"manager", "administrator"},
        reverse("web:notice-sign", args=["fn-1", item.pk]): set(people)
        - {"train_crew"},
    }
    for address, may in pages.items():
        for role, user in people.items():
            client.force_login(user)
            status = client.get(address).status_code
            assert status == (200 if role in may else 403), (address, role)
