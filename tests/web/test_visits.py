"""A visiting vehicle: not to run until accepted, on its owner's regime up to a day."""

import datetime as dt
import uuid

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.examination.models import TestRecord
from fleet.fitness.status import board_rows, current_verdict
from fleet.people.models import Skill
from fleet.records.deeds import announce, deed
from fleet.records.refusing import codes_of
from fleet.records.verifying import prove
from fleet.records.versions import identify, open_version, write_many
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import Level, System, VehicleStatus
from fleet.upkeep.models import (
    VisitAcceptance,
    VisitAcceptanceVersion,
    VisitEvidence,
)
from fleet.upkeep.visits import (
    Seen,
    accept_visit,
    end_visit,
    evidence_of,
    renew_evidence,
)
from tests.defects.factories import person
from tests.examination.factories import make_test
from tests.people.factories import make_competence
from tests.web.reading import words
from tests.web.scenes import (
    TODAY,
    coach,
    cracked_hanger,
    day,
    make_practice,
    on,
    standing_at_today,
)

pytestmark = pytest.mark.django_db

LAST = dt.date(2026, 6, 30)


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


@pytest.fixture
def visitor():
    """A coach of another line, here since 1 May; our yearly test of it is long overrun."""
    make_practice()
    vehicle = coach("V 1", tested="2024-03-05")
    alter_vehicle(
        by=None,
        vehicle=vehicle,
        since=on("2026-05-01"),
        status=VehicleStatus.VISITING,
    )
    return vehicle


def made_here(vehicle, when="2026-05-02"):
    """The test made here."""
    return make_test(vehicle=vehicle, on=on(when)).test


def accepted(vehicle, **values):
    """The visit accepted on 5 May to the end of June."""
    values = {
        "by": None,
        "person": person(),
        "vehicle": vehicle,
        "owner": "Scarth Quarry Tramway",
        "regime": "Quarry plan QB 2",
        "evidence": [Seen("Yearly examination", "QB 2/114")],
        "since": day("2026-05-05"),
        "last_day": LAST,
    } | values
    values.setdefault("tests", [made_here(vehicle)])
    return accept_visit(**values)


def until(text):
    """A sheet valid up to a day."""
    return Seen("Yearly examination", "QB 2/114", valid_until=day(text))


def lines(*said, held=0):
    """The lines of evidence as the form sends them."""
    sent = {
        "evidence-TOTAL_FORMS": len(said),
        "evidence-INITIAL_FORMS": held,
    }
    for at, line in enumerate(said):
        sent |= {f"evidence-{at}-{name}": value for name, value in line.items()}
    return sent


def newest(acceptance):
    """The acceptance as it is held true."""
    return VisitAcceptanceVersion.objects.current().get(acceptance=acceptance)


def level(vehicle, text):
    """The level of the air brake on a day."""
    return current_verdict(vehicle.pk).span_on(System.AIR, day(text)).level


def test_a_visitor_runs_only_while_accepted_and_falls_back_by_itself(visitor):
    assert level(visitor, "2026-05-04") is Level.STOPPED
    accepted(visitor)
    assert level(visitor, "2026-05-04") is Level.STOPPED
    assert level(visitor, "2026-05-05") is Level.CONDITIONAL
    assert level(visitor, "2026-06-30") is Level.CONDITIONAL
    assert level(visitor, "2026-07-01") is Level.STOPPED
    (row,) = board_rows(day("2026-07-01"))
    assert "acceptance ended 30 Jun 2026" in row.systems[System.AIR].span.headline


def test_our_requirements_stand_aside_on_the_owners_regime_but_defects_do_not(visitor):
    accepted(visitor, tests=[made_here(visitor)])
    found = current_verdict(visitor.pk).findings
    codes = {f.code for f in found if f.holds_on(TODAY)}
    assert not codes & {"R01", "R02"}
    cracked_hanger(visitor)
    assert level(visitor, TODAY.isoformat()) is Level.STOPPED


def test_the_condition_agreed_is_the_one_train_crew_read(client, fitter, visitor):
    accepted(visitor, condition="Not above 20 mph")
    client.force_login(fitter)
    assert "Not above 20 mph" in words(client.get(visitor.get_absolute_url()))


def test_a_manager_accepts_it_from_its_page_and_ends_it_early(client, manager, visitor):
    client.force_login(manager)
    test = made_here(visitor)
    assert "Accept as visitor" in words(client.get(visitor.get_absolute_url()))
    sent = {
        "submission": uuid.uuid4(),
        "owner": "Scarth Quarry Tramway",
        "regime": "Quarry plan QB 2",
        **lines(
            {
                "words": "Yearly examination",
                "number": "QB 2/114",
                "issued_by": "Scarth Quarry Tramway",
                "dated": "2025-07-01",
                "valid_until": "2026-06-14",
            },
            {"words": "Hoses, note 88"},
        ),
        "tests": [test.pk],
        "since": "2026-05-05",
        "last_day": "2026-06-30",
    }
    address = reverse("web:visit-accept", args=[visitor.pk])
    page = words(client.post(address, sent, follow=True))
    assert "QB 2/114 Scarth Quarry Tramway 1 Jul 2025 14 Jun 2026" in page
    assert "runs out before the visit ends" in page
    assert "Hoses, note 88 not given not given not given not given" in page
    acceptance = VisitAcceptance.objects.get()
    assert "52 days left" in words(client.get(reverse("web:visit-list")))

    sent = {
        "submission": uuid.uuid4(),
        "last_day": "2026-05-20",
        "reason": "Owner wants it back",
    }
    address = reverse("web:visit-end", args=[acceptance.pk])
    page = words(client.post(address, sent, follow=True))
    assert "Owner wants it back" in page
    assert level(visitor, "2026-05-20") is Level.CONDITIONAL
    assert level(visitor, "2026-05-21") is Level.STOPPED
    assert prove().faults == []


def test_what_cannot_be_accepted_is_refused_and_nothing_is_kept(visitor):
    other = coach("T 9")
    failed = make_test(vehicle=visitor, on=on("2026-05-03"))
    TestRecord.objects.current().get(test=failed.test)
    cases = (
        ({"evidence": []}, "no_evidence"),
        ({"evidence": [Seen(" ")]}, "no_evidence"),
        ({"evidence": [until("2026-05-04")]}, "evidence_run_out"),
        (
            {"evidence": [Seen("Sheet", dated=day("2026-05-11"))]},
            "evidence_in_the_future",
        ),
        ({"tests": []}, "no_test"),
        ({"tests": [made_here(other)]}, "test_of_another"),
        ({"tests": [made_here(visitor, "2026-05-08")]}, "test_does_not_count"),
        ({"since": day("2026-04-20")}, "not_visiting"),
        ({"since": day("2026-05-11")}, "in_the_future"),
        ({"last_day": day("2026-05-01")}, "ends_before_it_begins"),
    )
    for values, code in cases:
        with pytest.raises(ValidationError) as refused:
            accepted(visitor, **values)
        assert code in codes_of(refused.value), code
    assert not VisitAcceptance.objects.exists()


def test_it_is_not_accepted_twice_for_the_same_days(visitor):
    acceptance = accepted(visitor)
    with pytest.raises(ValidationError) as refused:
        accepted(visitor)
    assert "accepted_already" in codes_of(refused.value)
    with pytest.raises(ValidationError) as refused:
        end_visit(
            by=None,
            person=person(),
            acceptance=acceptance,
            last_day=LAST,
            reason="Longer",
        )
    assert "not_shorter" in codes_of(refused.value)


def test_only_somebody_competent_accepts_where_competence_is_recorded(visitor):
    able = person("Able Keene")
    make_competence(able, skill=Skill.RELEASE)
    with pytest.raises(ValidationError, match="Able Keene"):
        accepted(visitor)
    accepted(visitor, person=able)
    assert level(visitor, "2026-05-05") is Level.CONDITIONAL


def test_who_waits_is_listed_and_the_list_asks_as_often_for_many(
    client, train_crew, visitor
):
    client.force_login(train_crew)
    address = reverse("web:visit-list")
    assert "V 1, not to run" in words(client.get(address))
    accepted(visitor)
    with CaptureQueriesContext(connection) as few:
        client.get(address)
    for number in ("V 2", "V 3", "V 4"):
        vehicle = coach(number)
        alter_vehicle(
            by=None,
            vehicle=vehicle,
            since=on("2026-05-01"),
            status=VehicleStatus.VISITING,
        )
        accepted(vehicle)
    with CaptureQueriesContext(connection) as many:
        client.get(address)
    assert len(few) == len(many)


def test_only_a_manager_accepts(client, people, visitor):
    acceptance = accepted(visitor)
    for role, user in people.items():
        client.force_login(user)
        for name, key in (
            ("visit-accept", visitor.pk),
            ("visit-renew", acceptance.pk),
            ("visit-end", acceptance.pk),
        ):
            status = client.get(reverse(f"web:{name}", args=[key])).status_code
            assert status == (200 if role in {"manager", "administrator"} else 403)
        assert client.get(reverse("web:visit", args=[acceptance.pk])).status_code == 200


def test_after_its_evidence_ran_out_a_visitor_is_not_counted_as_braked(visitor):
    acceptance = accepted(visitor, evidence=[until("2026-06-20"), until("2026-06-14")])
    assert level(visitor, "2026-06-14") is Level.CONDITIONAL
    assert level(visitor, "2026-06-15") is Level.PIPED
    assert level(visitor, "2026-07-01") is Level.STOPPED

    renew_evidence(
        by=None,
        person=person(),
        acceptance=acceptance,
        evidence=[until("2026-06-20"), until("2027-06-14")],
        reason="This year's sheet seen",
    )
    assert level(visitor, "2026-06-20") is Level.CONDITIONAL
    assert level(visitor, "2026-06-21") is Level.PIPED
    first = acceptance.versions.earliest("pk")
    assert [str(e.valid_until) for e in evidence_of(first)] == [
        "2026-06-20",
        "2026-06-14",
    ]
    assert prove().faults == []


def test_ended_early_it_still_rests_on_its_evidence(visitor):
    acceptance = accepted(visitor, evidence=[until("2026-05-14")])

    end_visit(
        by=None,
        person=person(),
        acceptance=acceptance,
        last_day=day("2026-05-20"),
        reason="Wanted back",
    )

    assert [Seen.of(e) for e in evidence_of(newest(acceptance))] == [
        until("2026-05-14")
    ]
    assert level(visitor, "2026-05-15") is Level.PIPED


def test_evidence_kept_as_words_before_is_a_line_without_dates(
    client, train_crew, visitor
):
    with deed("test.as_before", by=None, locking=(visitor,)) as entry:
        acceptance = identify(VisitAcceptance, entry=entry, vehicle=visitor)
        open_version(
            VisitAcceptanceVersion,
            entry=entry,
            acceptance=acceptance,
            vehicle=visitor,
            owner="Scarth Quarry Tramway",
            regime="Quarry plan QB 2",
            since=day("2026-05-05"),
            last_day=LAST,
            accepted_by=person(),
        )
        line = VisitEvidence(acceptance=acceptance, words="Sheet QB 2/114 of 3 May")
        list(write_many([line]))
        announce(visitor)
    client.force_login(train_crew)

    page = words(client.get(reverse("web:visit", args=[acceptance.pk])))

    assert "Sheet QB 2/114 of 3 May not given not given not given not given" in page
    assert level(visitor, "2026-06-30") is Level.CONDITIONAL


def test_newer_evidence_is_recorded_on_the_page_and_the_list_before_is_kept(
    client, manager, visitor
):
    acceptance = accepted(visitor, evidence=[until("2026-06-14")])
    address = reverse("web:visit-renew", args=[acceptance.pk])
    client.force_login(manager)
    assert "QB 2/114" in client.get(address).content.decode()
    old = {"words": "Yearly examination", "number": "QB 2/114", "DELETE": "on"}
    new = {"words": "Yearly examination", "number": "QB 2/131"}
    sent = {"submission": uuid.uuid4(), "reason": "New sheet"}

    wrong = new | {"dated": "2026-05-02", "valid_until": "2026-05-01"}
    page = words(client.post(address, sent | lines(old, wrong, held=1)))
    assert "It runs out before its date" in page
    page = words(client.post(address, sent | lines(old, held=1)))
    assert "Say what evidence was seen" in page

    page = words(client.post(address, sent | lines(old, new, held=1), follow=True))
    assert "Yearly examination QB 2/131" in page
    assert "Seen before: Yearly examination QB 2/114, valid until 14 Jun 2026" in page
    assert "Evidence recorded, to 30 Jun 2026" in page
    assert level(visitor, "2026-06-30") is Level.CONDITIONAL
