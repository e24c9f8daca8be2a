"""Concessions on screen: asked from a finding, granted, re-checked, and at an end."""

import datetime as dt

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.fitness.status import board_rows, current_verdict
from fleet.people.access import person_of
from fleet.people.models import Skill
from fleet.records.models import Entry
from fleet.register.vocabulary import Level, System
from fleet.upkeep.models import Concession, ConcessionVersion
from tests.people.factories import PersonFactory, UserFactory, make_competence
from tests.upkeep.factories import make_concession_policy
from tests.web.reading import links, main, rows, words
from tests.web.scenes import (
    TODAY,
    coach,
    cracked_hanger,
    make_practice,
    standing_at_today,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


@pytest.fixture
def overdue(db):
    """A coach whose air brake test ran out six days ago, and a policy on concessions."""
    make_practice()
    make_concession_policy()
    return coach("T 107", tested="2025-05-04")


@pytest.fixture
def entitled(db):
    """Somebody entitled to agree."""
    found = PersonFactory(name="Ida Marl")
    make_competence(found, skill=Skill.CONCEDE)
    return found


def ahead(days):
    """A day so many days after today."""
    return TODAY + dt.timedelta(days=days)


def on_day(day):
    """The clock stopped on another day."""
    return time_machine.travel(
        dt.datetime.combine(day, dt.time(12), dt.UTC), tick=False
    )


def asked(**values):
    """What is written in the form."""
    return {
        "why": "Shed full until the end of the month.",
        "risk": "Last test well within its limits.",
        "condition": "Not as the last vehicle.",
        "since": TODAY,
        "last_day": ahead(20),
        "recheck_days": 14,
    } | values


def leads(answer):
    """Where a concession can be asked for from a page."""
    return [
        href for said, href in links(main(answer)) if said == "Ask for a concession"
    ]


def page_of(vehicle):
    """The address of a vehicle's page."""
    return reverse("web:vehicle", args=[vehicle.pk])


def asking(vehicle, requirement="annual"):
    """Where a concession for the vehicle is asked for."""
    query = f"requirement={requirement}&vehicle={vehicle.pk}"
    return f"{reverse('web:concession-ask')}?{query}"


def ask(client, user, vehicle, **values):
    """Ask by the form."""
    client.force_login(user)
    answer = client.post(asking(vehicle), asked(**values), follow=True)
    return answer, ConcessionVersion.objects.current().last()


def granted(client, fitter, manager, entitled, vehicle, **values):
    """A concession asked for by the fitter and granted by the manager, on screen."""
    _, version = ask(client, fitter, vehicle, **values)
    decide(client, entitled, manager, version)
    return version.concession


def decide(client, entitled, manager, version):
    """Agreed to by one, accepted by the other, each signed in."""
    client.force_login(entitled.user)
    client.post(reverse("web:concession-agree", args=[version.pk]))
    agreed = version.concession.versions.current().latest("pk")
    client.force_login(manager)
    client.post(reverse("web:concession-grant", args=[agreed.pk]), {"on": TODAY})


def level_on(vehicle, day):
    """The level stored for a day."""
    (row,) = board_rows(day, vehicle_ids=[vehicle.pk])
    return row.systems[System.AIR].level


def test_the_story_of_a_concession_from_finding_to_expiry(
    client, fitter, manager, entitled, overdue
):
    client.force_login(fitter)
    finding = client.get(page_of(overdue))
    assert "Convey as piped" in words(finding)
    assert asking(overdue) in leads(finding)

    answer, version = ask(client, fitter, overdue)
    assert "Awaits a decision" in words(answer)
    assert level_on(overdue, TODAY) is Level.PIPED

    decide(client, entitled, manager, version)
    shown = words(client.get(page_of(overdue)))
    assert "Fit braked, with conditions" in shown
    assert "Air: Not as the last vehicle." in shown
    assert "deferred to 30 May 2026, concession" in shown

    # Nobody looks at it for a fortnight: it lapses, and again after its last day.
    assert level_on(overdue, ahead(14)) is Level.CONDITIONAL
    assert level_on(overdue, ahead(15)) is Level.PIPED

    with on_day(ahead(12)):
        client.force_login(fitter)
        client.post(
            reverse("web:concession-recheck", args=[version.concession_id]),
            {"on": ahead(12), "holds": "yes", "found": "No worse"},
        )
    assert level_on(overdue, ahead(20)) is Level.CONDITIONAL
    assert level_on(overdue, ahead(21)) is Level.PIPED


def test_the_due_list_says_what_is_deferred_and_under_what(
    client, fitter, manager, entitled, overdue
):
    found = granted(client, fitter, manager, entitled, overdue)

    (row,) = rows(main(client.get(reverse("web:due-list"))))

    assert f"deferred to 30 May 2026, concession {found.pk}" in row["Due"]


def test_a_lapsed_concession_defers_nothing(client, fitter, manager, entitled, overdue):
    granted(client, fitter, manager, entitled, overdue)

    with on_day(ahead(15)):
        client.force_login(manager)
        (row,) = rows(main(client.get(reverse("web:due-list"))))

    assert "deferred" not in row["Due"]


def test_the_list_says_how_old_each_is_and_what_wants_doing(
    client, fitter, manager, entitled, overdue
):
    found = granted(client, fitter, manager, entitled, overdue)

    with on_day(ahead(16)):
        client.force_login(manager)
        answer = client.get(reverse("web:concession-list"))
        (row,) = rows(main(answer))

    assert row["Concession"] == f"Concession {found.pk}"
    assert row["Vehicle or item"] == "T 107"
    assert row["Against"] == "Requirement annual"
    assert row["Stands"].startswith("Lapsed")
    assert row["First granted"] == "10 May 2026 16 days ago"
    assert (row["Last day"], row["Days left"]) == ("30 May 2026", "4")
    assert row["Next re-check by"] == "24 May 2026 overdue"
    assert "1 lapsed" in words(answer)


@pytest.mark.parametrize(
    ("days", "standing"), [(0, "In force"), (14, "In force"), (21, "Expired")]
)
def test_how_it_stands_follows_from_the_day(
    client, fitter, manager, entitled, overdue, days, standing
):
    found = granted(client, fitter, manager, entitled, overdue)

    with on_day(ahead(days)):
        client.force_login(manager)
        shown = words(client.get(found.get_absolute_url()))

    assert standing in shown


def test_what_is_refused_stands_beside_its_field_and_nothing_is_written(
    client, fitter, overdue
):
    answer, version = ask(client, fitter, overdue, last_day=ahead(80))

    assert "No later than 3 Jul 2026" in words(answer)
    assert version is None


def test_with_no_last_good_day_the_page_says_why_none_can_be_asked_for(client, fitter):
    make_practice()
    make_concession_policy()
    never = coach("T 108", tested="")
    client.force_login(fitter)

    answer = client.get(asking(never))

    assert "what was never done" in words(answer)


def test_a_form_sent_twice_asks_once(client, fitter, overdue):
    number = "0d4b7c52-34d4-4f0c-9a3e-1e0f6f1f2a11"

    ask(client, fitter, overdue, submission=number)
    ask(client, fitter, overdue, submission=number)

    assert Concession.objects.count() == 1


def test_one_who_asked_is_not_taken_as_agreeing(client, fitter, manager, overdue):
    make_competence(person_of(fitter), skill=Skill.CONCEDE)
    _, version = ask(client, fitter, overdue)
    client.force_login(manager)

    answer = client.post(
        reverse("web:concession-grant", args=[version.pk]), {"on": TODAY}
    )
    assert "was not entitled to agree" in words(answer)

    client.force_login(fitter)
    assert "Agree to it" not in words(client.get(version.concession.get_absolute_url()))
    answer = client.post(reverse("web:concession-agree", args=[version.pk]))
    assert "Somebody else has to agree" in words(answer)


def test_the_manager_refuses_and_it_may_be_asked_for_again(
    client, fitter, manager, overdue
):
    _, version = ask(client, fitter, overdue)
    client.force_login(manager)
    client.post(
        reverse("web:concession-refuse", args=[version.pk]), {"reason": "Do it Monday"}
    )
    shown = words(client.get(version.concession.get_absolute_url()))
    assert "Refused" in shown
    assert "Why: Do it Monday" in shown

    client.force_login(fitter)
    client.post(
        reverse("web:concession-renew", args=[version.concession_id]),
        asked(last_day=ahead(3)),
    )

    assert "Awaits a decision" in words(
        client.get(version.concession.get_absolute_url())
    )


def test_withdrawn_it_falls_back_that_day(client, fitter, manager, entitled, overdue):
    found = granted(client, fitter, manager, entitled, overdue)
    version = found.versions.current().get()

    client.post(
        reverse("web:concession-withdraw", args=[version.pk]),
        {"withdrawn_from": ahead(2), "reason": "Found worse"},
    )

    assert level_on(overdue, ahead(1)) is Level.CONDITIONAL
    assert level_on(overdue, ahead(2)) is Level.PIPED


def test_a_recheck_recorded_by_mistake_is_retracted(
    client, fitter, manager, entitled, overdue
):
    found = granted(client, fitter, manager, entitled, overdue)
    client.post(
        reverse("web:concession-recheck", args=[found.pk]),
        {"on": TODAY, "holds": "no", "found": "Wrong vehicle looked at"},
    )
    assert level_on(overdue, TODAY) is Level.PIPED

    recheck = found.rechecks.get()
    client.post(
        reverse("web:recheck-retract", args=[recheck.pk]), {"reason": "Wrong vehicle"}
    )

    assert level_on(overdue, TODAY) is Level.CONDITIONAL


def test_a_defect_is_conceded_from_its_finding(client, fitter, overdue):
    defect = cracked_hanger(overdue)
    client.force_login(fitter)

    address = f"{reverse('web:concession-ask')}?defect={defect.pk}"
    assert address in leads(client.get(page_of(overdue)))
    client.post(address, asked())

    assert Concession.objects.get().defect == defect


@pytest.mark.parametrize("name", ["grant", "refuse"])
def test_only_a_manager_decides(client, fitter, planner, overdue, name):
    _, version = ask(client, fitter, overdue)
    address = reverse(f"web:concession-{name}", args=[version.pk])

    for user in (fitter, planner):
        client.force_login(user)
        assert client.get(address).status_code == 403


@pytest.mark.parametrize(
    "query", ["", "requirement=annual", "requirement=none&vehicle=1", "defect=x"]
)
def test_an_address_that_names_nothing_is_not_found(client, fitter, query):
    client.force_login(fitter)

    assert client.get(f"{reverse('web:concession-ask')}?{query}").status_code == 404


def test_the_practice_page_says_how_far_one_may_go(client, train_crew):
    client.force_login(train_crew)
    assert "none can be granted" in words(client.get(reverse("web:practice")))

    make_concession_policy()
    shown = words(client.get(reverse("web:practice")))

    assert "60 days beyond the last good day" in shown
    assert "brake pipe, auxiliary reservoir" in shown


def test_the_lists_take_the_same_queries_however_many_there_are(
    client, fitter, manager, entitled
):
    make_practice()
    make_concession_policy()
    counts = []
    for number in range(4):
        vehicle = coach(f"T {number}", tested="2025-05-04")
        granted(client, UserFactory(), manager, entitled, vehicle)
        client.force_login(manager)
        if number not in {0, 3}:
            continue
        taken = []
        for name in ("web:concession-list", "web:due-list"):
            with CaptureQueriesContext(connection) as queries:
                client.get(reverse(name))
            taken.append(len(queries))
        counts.append(taken)

    assert counts[0] == counts[1]


def test_an_empty_list_says_so(client, train_crew):
    client.force_login(train_crew)

    assert "No concession was asked for." in words(
        client.get(reverse("web:concession-list"))
    )


def test_what_was_known_before_it_was_granted_stays_as_it_was(
    client, fitter, manager, entitled, overdue
):
    _, version = ask(client, fitter, overdue)
    before = Entry.objects.latest("number").number
    decide(client, entitled, manager, version)

    def level(known_at):
        found = current_verdict(overdue.pk, known_at=known_at)
        return found.span_on(System.AIR, TODAY).level

    assert level(before) is Level.PIPED
    assert level(None) is Level.CONDITIONAL


def test_one_granted_by_mistake_is_retracted_and_never_held(
    client, fitter, manager, entitled, overdue
):
    found = granted(client, fitter, manager, entitled, overdue)
    version = found.versions.current().get()
    assert level_on(overdue, TODAY) is Level.CONDITIONAL

    answer = client.post(
        reverse("web:concession-retract", args=[version.pk]),
        {"reason": "Meant for another coach"},
        follow=True,
    )

    assert "Retracted. It was recorded by mistake" in words(answer)
    assert "Meant for another coach" in words(answer)
    assert level_on(overdue, TODAY) is Level.PIPED
    assert "No concession was asked for." in words(
        client.get(reverse("web:concession-list"))
    )
    _, anew = ask(client, fitter, overdue)
    assert anew.concession != found


def test_who_asked_agreed_and_accepted_are_named_and_a_grant_is_put_right(
    client, fitter, manager, entitled, overdue
):
    found = granted(client, fitter, manager, entitled, overdue)
    version = found.versions.current().get()
    said = words(client.get(found.get_absolute_url()))
    assert f"Asked by {person_of(fitter)}" in said
    assert "Agreed by Ida Marl" in said
    assert f"Accepted by {person_of(manager)}" in said
    assert "Correct it" not in said  # the manager is not entitled

    client.force_login(entitled.user)
    assert "Correct it" in words(client.get(found.get_absolute_url()))
    address = reverse("web:concession-correct", args=[version.pk])
    sent = asked(last_day=ahead(5)) | {"decided_on": TODAY}
    assert "This field is required" in words(client.post(address, sent))
    said = words(client.post(address, sent | {"reason": "Meant five"}, follow=True))

    assert "Corrected, the first grant: Meant five" in said
    assert "Before: 10 May 2026 to 30 May 2026" in said
    assert "After: 10 May 2026 to 15 May 2026" in said
    assert level_on(overdue, ahead(5)) is Level.CONDITIONAL
    assert level_on(overdue, ahead(6)) is Level.PIPED


def test_who_may_agree_may_end_it_early_and_a_fitter_may_not(
    client, fitter, manager, entitled, overdue
):
    found = granted(client, fitter, manager, entitled, overdue)
    version = found.versions.current().get()
    address = reverse("web:concession-withdraw", args=[version.pk])
    client.force_login(UserFactory())
    assert client.get(address).status_code == 403

    client.force_login(entitled.user)
    client.post(address, {"withdrawn_from": ahead(2), "reason": "Worse"})

    assert level_on(overdue, ahead(1)) is Level.CONDITIONAL
    assert level_on(overdue, ahead(2)) is Level.PIPED
