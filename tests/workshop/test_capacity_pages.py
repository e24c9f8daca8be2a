"""What the shop has, kept on screen: a story for each sort, and who may."""

import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.people.models import Skill
from fleet.workshop.models import (
    ClosureVersion,
    ContractorVersion,
    ShopPlaceVersion,
    WorkTimeVersion,
)
from fleet.workshop.vocabulary import Each
from tests.web.reading import main, rows, words
from tests.web.scenes import standing_at_today
from tests.workshop.kept import (
    day,
    make_closure,
    make_contractor,
    make_hours,
    make_place,
)

pytestmark = pytest.mark.django_db

PAGE = "/workshop/capacity/"


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():  # Sunday 10 May 2026: the week began on 4 May
        yield


@pytest.fixture
def at_desk(client, planner):
    """A browser in which the planner has signed in."""
    client.force_login(planner)
    return client


def added(client, what, **values):
    """The page after something was added."""
    sent = {"submission": uuid.uuid4(), "first": "2026-05-04", "last": ""} | values
    address = reverse("workshop:kept-add", args=[what])
    return client.post(address, sent, follow=True)


def weeks(client):
    """The weeks of the table."""
    return [row for row in rows(main(client.get(PAGE))) if "Week of" in row]


def test_a_planner_lays_out_a_shop_and_sees_what_it_comes_to(at_desk):
    added(at_desk, "place", name="Road 1", kind="road")
    added(at_desk, "place", name="Pit", kind="pit")
    each = {"skill": Skill.AIR.value, "each": "week"}
    added(at_desk, "hours", title="Shed", hours="40", **each)
    shut = {"first": "2026-05-14", "last": "2026-05-14", "place": ""}
    added(at_desk, "closure", title="Holiday", **shut)
    pit = str(ShopPlaceVersion.objects.get(name="Pit").place_id)
    shut = {"first": "2026-05-18", "last": "2026-05-22", "place": pit}
    page = added(at_desk, "closure", title="Pit cleaned", **shut)

    assert "Pit Pit cleaned 18 to 22 May 2026" in words(page)
    first, second, third, *_ = weeks(at_desk)
    hours = Skill.AIR.label
    assert (first[hours], first["Roads"], first["Pits"]) == ("40 h", "1", "1")
    assert (second[hours], second["Roads"], second["Pits"]) == ("32 h", "1", "1")
    assert (third[hours], third["Roads"], third["Pits"]) == ("40 h", "1", "0")


def test_a_closed_week_says_so_beside_its_hours(at_desk):
    make_hours()
    make_closure(first=day("2026-05-11"), last=day("2026-05-15"))

    _, second, third, *_ = weeks(at_desk)

    assert second["Week of"] == "11 May 2026 ✕ the shop is closed"
    assert second[Skill.AIR.label] == "0 h"
    assert third["Week of"] == "18 May 2026"


def test_hours_are_changed_ended_and_taken_out(at_desk):
    source = make_hours(hours=40)
    key = source.work_time_id
    sent = {
        "submission": uuid.uuid4(),
        "title": "Shed",
        "skill": "air",
        "hours": "30",
        "each": "week",
        "first": "2026-01-01",
        "last": "",
    }
    at_desk.post(reverse("workshop:kept-revise", args=["hours", key]), sent)
    assert weeks(at_desk)[0][Skill.AIR.label] == "30 h"

    sent = {"submission": uuid.uuid4(), "last": "2026-05-05"}
    at_desk.post(reverse("workshop:kept-end", args=["hours", key]), sent)
    assert [w[Skill.AIR.label] for w in weeks(at_desk)[:2]] == ["12 h", "0 h"]

    sent = {"submission": uuid.uuid4(), "reason": "He never came"}
    page = at_desk.post(
        reverse("workshop:kept-retract", args=["hours", key]), sent, follow=True
    )
    assert "He never came" in words(page)
    assert "No hours are recorded" in words(at_desk.get(PAGE))


def changed(client, what, key, **values):
    """The page after a change was sent."""
    sent = {"submission": uuid.uuid4(), "first": "2026-01-01", "last": ""} | values
    address = reverse("workshop:kept-revise", args=[what, key])
    return client.post(address, sent, follow=True)


SHED = {"title": "Shed staff", "skill": "air", "each": "week"}


def test_hours_changed_from_a_day_are_as_they_were_until_then(at_desk):
    key = make_hours(hours=40).work_time_id

    page = changed(at_desk, "hours", key, hours="30", holds_from="2026-05-18", **SHED)

    assert "1 Jan to 17 May 2026" in words(page)
    assert [w[Skill.AIR.label] for w in weeks(at_desk)[:4]] == [
        "40 h",
        "40 h",
        "30 h",
        "30 h",
    ]


def test_a_road_becomes_a_pit_from_a_day_and_is_shut_as_it_was_to_be(at_desk):
    key = make_place(name="Road 1").place_id
    make_closure(first=day("2026-05-11"), last=day("2026-05-22"), place_id=key)
    make_closure(first=day("2026-06-01"), last=day("2026-06-05"), place_id=key)

    changed(at_desk, "place", key, name="Pit 1", kind="pit", holds_from="2026-05-18")

    held = [(w["Week of"], w["Roads"], w["Pits"]) for w in weeks(at_desk)[:6]]
    assert held == [
        ("4 May 2026", "1", "0"),
        ("11 May 2026", "0", "0"),  # shut
        ("18 May 2026", "0", "0"),  # a pit now, and shut still
        ("25 May 2026", "0", "1"),
        ("1 Jun 2026", "0", "0"),  # shut again
        ("8 Jun 2026", "0", "1"),
    ]


@pytest.mark.parametrize(
    ("values", "said"),
    [
        pytest.param(
            {"holds_from": "2026-01-01"},
            "Give a day after 1 Jan 2026 and up to 30 Jun 2026",
            id="its first day",
        ),
        pytest.param(
            {"holds_from": "2026-07-01"},
            "Give a day after 1 Jan 2026 and up to 30 Jun 2026",
            id="after its last",
        ),
        pytest.param(
            {"holds_from": "2026-05-18", "first": "2026-02-01"},
            "Leave 1 Jan 2026 here",
            id="the first day moved too",
        ),
        pytest.param(
            {"holds_from": "2026-05-18", "last": "2026-05-17"},
            "The last day is before the first",
            id="over before it begins",
        ),
        pytest.param(
            {"holds_from": "18 May"}, "Enter a valid date", id="no day at all"
        ),
    ],
)
def test_a_change_from_a_day_that_cannot_be_is_refused_and_nothing_is_written(
    at_desk, values, said
):
    row = make_hours(hours=40, last=day("2026-06-30"))

    sent = {"hours": "30", "last": "2026-06-30"} | SHED | values
    page = changed(at_desk, "hours", row.work_time_id, **sent)

    assert said in words(page)
    assert list(WorkTimeVersion.objects.all()) == [row]


def test_hours_in_all_are_not_divided_by_a_day(at_desk):
    ends = day("2026-06-30")
    row = make_hours(hours=40, each=Each.ONCE, last=ends)

    sent = {"hours": "30", "last": "2026-06-30"} | SHED | {"each": "once"}
    sent["holds_from"] = "2026-05-18"
    page = changed(at_desk, "hours", row.work_time_id, **sent)

    assert "Hours in all are spread over all their days" in words(page)
    assert list(WorkTimeVersion.objects.all()) == [row]


def test_a_contractor_who_is_no_longer_used_is_listed_only_where_asked_for(at_desk):
    row = make_contractor()
    sent = {"submission": uuid.uuid4(), "last": "2026-05-10"}

    address = reverse("workshop:kept-end", args=["contractor", row.contractor_id])
    page = at_desk.post(address, sent, follow=True)

    assert "No longer used from: 10 May 2026" in words(page)
    assert "Brindle" not in words(at_desk.get(PAGE))
    assert "Brindle" in words(at_desk.get(f"{PAGE}?past=1"))


def test_what_is_over_is_listed_only_where_asked_for(at_desk):
    make_place(name="Old road", last=day("2026-05-09"))

    assert "Old road" not in words(at_desk.get(PAGE))
    assert "Old road" in words(at_desk.get(f"{PAGE}?past=1"))


def test_hours_of_days_without_a_last_day_are_refused_beside_the_field(at_desk):
    page = added(at_desk, "hours", title="Helpers", skill="gear", hours="8", each="day")

    assert "Give the last day" in words(page)
    assert not WorkTimeVersion.objects.exists()


def test_a_form_sent_twice_counts_once(at_desk):
    sent = {
        "submission": uuid.uuid4(),
        "name": "Brindle Bench Works",
        "lead_weeks": "6",
        "note": "",
        "ended_on": "",
    }
    for _ in range(2):
        at_desk.post(reverse("workshop:kept-add", args=["contractor"]), sent)

    assert ContractorVersion.objects.count() == 1


def test_an_empty_shop_says_what_is_missing(at_desk):
    said = words(at_desk.get(PAGE))

    assert "No hours are recorded" in said
    assert "No place is recorded." in said
    assert "operator's own rules" in said


def test_everybody_looks_and_those_who_plan_write(client, people):
    planning = {"planner", "manager", "administrator"}
    key = make_closure(first=day("2026-05-11"), last=day("2026-05-15")).closure_id
    pages = {
        PAGE: set(people),
        reverse("workshop:kept", args=["closure", key]): set(people),
        reverse("workshop:kept-add", args=["closure"]): planning,
        reverse("workshop:kept-correct", args=["closure", key]): planning,
    }
    for address, may in pages.items():
        for role, user in people.items():
            client.force_login(user)
            status = client.get(address).status_code
            assert status == (200 if role in may else 403), (address, role)


def test_a_sort_or_a_thing_that_is_not_there_has_no_page(at_desk):
    assert at_desk.get("/workshop/kept/engine/1/").status_code == 404
    assert at_desk.get("/workshop/kept/engine/add/").status_code == 404
    assert at_desk.get("/workshop/kept/place/99/change/").status_code == 404


def test_the_page_asks_as_often_for_much_as_for_little(at_desk):
    def fill():
        make_hours()
        place = make_place().place
        make_closure(place=place, first=day("2026-05-11"), last=day("2026-05-15"))
        make_contractor()

    def asked():
        with CaptureQueriesContext(connection) as queries:
            assert at_desk.get(PAGE).status_code == 200
        return len(queries)

    fill()
    few = (asked(), asked())[1]
    for _ in range(6):
        fill()

    assert asked() == few
    assert ClosureVersion.objects.count() == 7
