"""Exchange units on screen: where they are, when they will be short, sent and taken in."""

import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.engineering.calendar import Moment
from fleet.register.vocabulary import EquipmentKind, EquipmentState, Timing
from fleet.upkeep.vocabulary import Subject
from fleet.workshop.exchange_services import send_away
from fleet.workshop.models import Consignment, ConsignmentItem
from tests.examination.factories import make_bench_test
from tests.upkeep.factories import make_requirement
from tests.web.reading import main, rows, words
from tests.web.scenes import TODAY, coach, standing_at_today
from tests.workshop.kept import day, make_contractor
from tests.workshop.units import (
    address,
    coach_distributor,
    described,
    regroup,
    unit,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():  # 10 May 2026
        yield


@pytest.fixture
def at_desk(client, planner):
    """A browser in which the planner has signed in."""
    client.force_login(planner)
    return client


def test_units_are_sent_expected_later_and_taken_in_one_by_one(at_desk):
    first, second = unit(serial="D 1"), unit(serial="D 2")
    contractor = make_contractor(lead_weeks=6).contractor_id
    sent = {
        "submission": uuid.uuid4(),
        "label": "distributors",
        "alike": "Passenger timing",
        "contractor": contractor,
        "turnaround_weeks": "",
        "least": "2",
    }
    page = at_desk.post(address("describe"), sent, follow=True)
    assert "Brindle Bench Works, 6 weeks until one taken off" in words(page)

    assert 'value="2026-06-21"' in main(at_desk.get(address("send")))  # six weeks on
    sent = {
        "submission": uuid.uuid4(),
        "items": [first.pk, second.pk],
        "contractor": contractor,
        "reference": "Note 7",
        "sent_on": "2026-05-09",
        "expected_on": "2026-06-20",
    }
    page = at_desk.post(address("send"), sent, follow=True)
    assert "2 units to Brindle Bench Works" in words(page)
    assert "▲ 0 in store, at least 2 wanted" in words(page)
    away = Consignment.objects.get()

    sent = {"submission": uuid.uuid4(), "day": "2026-07-01"}
    expect = reverse("workshop:consignment-expect", args=[away.pk])
    page = at_desk.post(expect, sent, follow=True)
    assert "Expected 1 Jul 2026" in words(page)

    row = ConsignmentItem.objects.get(equipment=first)
    sent = {
        "submission": uuid.uuid4(),
        "items": [row.pk],
        "on": "2026-05-10",
        "state": EquipmentState.SERVICEABLE.value,
    }
    take_in = reverse("workshop:consignment-take-in", args=[away.pk])
    page = at_desk.post(take_in, sent, follow=True)
    assert [(r["Unit"], r["Back"]) for r in rows(main(page))] == [
        ("D 1", "10 May 2026"),
        ("D 2", "not yet"),
    ]
    assert "1 away, expected 1 Jul 2026" in words(at_desk.get(address("group")))

    sent = {"submission": uuid.uuid4(), "reason": "It was D 3"}
    undo = reverse("workshop:return-retract", args=[row.pk])
    page = at_desk.post(undo, sent, follow=True)
    assert "10 May 2026 Serviceable" not in words(page)
    undo = reverse("workshop:consignment-retract", args=[away.pk])
    page = at_desk.post(undo, sent | {"submission": uuid.uuid4()}, follow=True)
    assert "they were never sent" in words(page)
    assert "Serviceable in store: 2" in words(at_desk.get(address("group")))


def test_what_is_overdue_says_so_wherever_it_is_listed(at_desk):
    item = unit()
    group = described().group
    days = {"sent_on": day("2026-03-01"), "expected_on": day("2026-05-09")}
    send_away(by=None, group=group, items=[item], **days)

    assert "overdue" in words(at_desk.get(reverse("workshop:exchange")))
    assert "▲ overdue" in words(at_desk.get(address("group")))
    away = reverse("workshop:consignment", args=[Consignment.objects.get().pk])
    assert "counted on by nobody" in words(at_desk.get(away))


def test_units_that_differ_within_a_group_are_warned_of(at_desk):
    def rated(bar, bracket="B1", **more):
        particulars = {"timing": Timing.PASSENGER, "bracket": bracket}
        return unit(particulars=particulars | {"max_cylinder_bar": bar}, **more)

    rated("3.80")
    rated("3.80")
    assert "not all alike" not in words(at_desk.get(address("group")))

    rated("3.60", "B2", designation="D9")

    said = words(at_desk.get(address("group")))
    assert "▲ These units are not all alike." in said
    assert "Bracket: 2 B1, 1 B2." in said
    assert "Maximum cylinder pressure: 1 3.60 bar, 2 3.80 bar." in said
    assert "Timing" not in said
    assert "Type designation" not in said  # one states it, two do not


def test_an_item_fitted_though_recorded_as_away_is_pointed_out(at_desk):
    item = unit()
    group = described().group
    days = {"sent_on": day("2026-05-01"), "expected_on": day("2026-06-09")}
    send_away(by=None, group=group, items=[item], **days)
    vehicle = coach("T 1", tested=None)
    old = coach_distributor("T 1")
    assert old != item
    from fleet.register.services.fittings import exchange as swap
    from tests.register.factories import make_depot

    swap(
        by=None,
        vehicle=vehicle,
        position="distributor",
        equipment=item,
        at=Moment.on(TODAY),
        to=make_depot(),
    )

    assert "▲ Also recorded as away" in words(at_desk.get(address("group")))


def test_a_code_that_no_item_bears_has_no_page_and_an_empty_register_says_so(at_desk):
    assert at_desk.get(address("group", "none")).status_code == 404
    assert "No item bears" in words(at_desk.get(reverse("workshop:exchange")))


def test_nothing_chosen_is_said_beside_the_field(at_desk):
    unit()
    described()
    sent = {"sent_on": "2026-05-09", "expected_on": "2026-05-01", "reference": ""}

    said = words(at_desk.post(address("send"), sent))

    assert "This field is required." in said
    assert not Consignment.objects.exists()


def test_everybody_looks_and_those_who_plan_write(client, people):
    item = unit()
    group = described().group
    days = {"sent_on": day("2026-05-01"), "expected_on": day("2026-06-09")}
    away = send_away(by=None, group=group, items=[item], **days).consignment
    planning = {"planner", "manager", "administrator"}
    pages = {
        reverse("workshop:exchange"): set(people),
        address("group"): set(people),
        reverse("workshop:consignment", args=[away.pk]): set(people),
    }
    for verb in ("describe", "undescribe", "send"):
        pages[address(verb)] = planning
    for verb in ("take-in", "expect", "correct", "retract"):
        pages[reverse(f"workshop:consignment-{verb}", args=[away.pk])] = planning
    for page, may in pages.items():
        for role, user in people.items():
            client.force_login(user)
            status = client.get(page).status_code
            assert status == (200 if role in may else 403), (page, role)


def test_pages_ask_as_often_for_many_units_as_for_few(at_desk):
    make_requirement(
        subject=Subject.EQUIPMENT,
        kind=EquipmentKind.DISTRIBUTOR,
        procedure=make_bench_test(),
    )

    def fill():
        group = described().group
        days = {"sent_on": day("2026-05-01"), "expected_on": day("2026-06-09")}
        send_away(by=None, group=group, items=[unit(), unit()], **days)
        unit(group=f"other {uuid.uuid4()}"[:20])

    def asked(page):
        with CaptureQueriesContext(connection) as queries:
            assert at_desk.get(page).status_code == 200
        return len(queries)

    unit()
    fill()
    away = reverse("workshop:consignment", args=[Consignment.objects.get().pk])
    pages = [reverse("workshop:exchange"), address("group"), address("send"), away]
    few = [(asked(page), asked(page))[1] for page in pages]
    for _ in range(5):
        fill()

    assert [asked(page) for page in pages] == few


def test_fitted_units_and_those_in_store_are_counted_apart(at_desk):
    described_vehicle = coach("T 1", tested=None)
    regroup(coach_distributor("T 1"))
    unit()
    unit(state=EquipmentState.UNSERVICEABLE)
    unit(state=EquipmentState.SCRAPPED)
    assert described_vehicle

    (row,) = rows(main(at_desk.get(reverse("workshop:exchange"))))

    assert (row["Fitted"], row["Serviceable in store"]) == ("1", "1")
    assert row["In store, not serviceable"] == "1"
