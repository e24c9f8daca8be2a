"""The diary on screen: stories of a planner, with their dates."""

import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.records.verifying import prove
from fleet.workshop.models import DiaryLine, DiaryLineVersion
from tests.register.factories import make_type, make_vehicle
from tests.web.reading import links, main, words
from tests.web.scenes import fleet, standing_at_today
from tests.workshop.kept import day, make_line

pytestmark = pytest.mark.django_db

DIARY = "/workshop/diary/"


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():  # 10 May 2026
        yield


@pytest.fixture
def at_desk(client, planner):
    """A browser in which the planner has signed in."""
    client.force_login(planner)
    return client


def filled_in(**values):
    """A line as its form is sent."""
    return {
        "submission": uuid.uuid4(),
        "title": "Summer trains",
        "first": "2026-06-01",
        "last": "2026-06-30",
        "weekdays": ["6", "7"],
        "system": "air",
        "vehicles": "2",
        "weight": "3",
        "vehicle": "",
        "vehicle_type": "",
    } | values


def deed(line, verb):
    """The address of a deed on a line."""
    return reverse(f"workshop:kept-{verb}", args=["line", line.pk])


def test_a_planner_adds_changes_corrects_and_takes_out_a_line(at_desk):
    add = reverse("workshop:kept-add", args=["line"])
    page = at_desk.post(add, filled_in(), follow=True)
    assert "1 to 30 Jun 2026, Sat, Sun" in words(page)
    assert "2 of any type, air" in words(page)
    line = DiaryLine.objects.get()

    at_desk.post(deed(line, "revise"), filled_in(last="2026-07-12"), follow=True)
    wrong = {"vehicles": "4", "last": "2026-07-12", "reason": "Four were meant"}
    page = at_desk.post(deed(line, "correct"), filled_in(**wrong), follow=True)
    assert "4 of any type" in words(page)
    assert "Four were meant" in words(page)
    assert "1 Jun to 12 Jul 2026" in words(page)

    sent = {"submission": uuid.uuid4(), "last": "2026-06-28"}
    page = at_desk.post(deed(line, "end"), sent, follow=True)
    assert "1 to 28 Jun 2026" in words(page)

    sent = {"submission": uuid.uuid4(), "reason": "Coaches are lent out"}
    page = at_desk.post(deed(line, "retract"), sent, follow=True)
    assert "it counts for nothing" in words(page)
    assert "Summer trains" not in words(at_desk.get(f"{DIARY}?from=2026-06"))
    assert prove().faults == []


def test_a_line_is_listed_in_each_month_it_runs_in_and_in_no_other(at_desk):
    make_line(first=day("2026-05-20"), last=day("2026-06-05"), weekdays="3")

    page = main(at_desk.get(f"{DIARY}?from=2026-05"))

    may, june, july = page.split("2026</h2>")[1:4]
    assert "Summer trains runs on 2 days of May 2026" in may
    assert "Summer trains runs on 1 day of June 2026" in june
    assert "Summer trains" not in july
    assert ("Later", "?from=2026-08") in links(page)
    assert ("Earlier", "?from=2026-02") in links(page)


@pytest.mark.parametrize("asked", ["", "2026-13", "0001-01", "9999-12", "word"])
def test_a_month_nobody_can_mean_shows_the_present_one(at_desk, asked):
    assert "May 2026" in words(at_desk.get(f"{DIARY}?from={asked}"))


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"last": "2026-05-01"}, "The last day is before the first."),
        ({"vehicle": "X 1"}, "No vehicle bears this number."),
        ({"weekdays": []}, "This field is required."),
        ({"weight": "21"}, "less than or equal to 20"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field(at_desk, values, said):
    answer = at_desk.post(
        reverse("workshop:kept-add", args=["line"]), filled_in(**values)
    )

    assert said in words(answer)
    assert not DiaryLine.objects.exists()


def test_a_vehicle_by_name_shows_by_its_number_also_when_the_line_is_changed(at_desk):
    vehicle = make_vehicle(number="T 7")
    add = reverse("workshop:kept-add", args=["line"])

    page = at_desk.post(add, filled_in(vehicle="t 7", vehicles="1"), follow=True)

    assert "T 7, air" in words(page)
    line = DiaryLineVersion.objects.get()
    assert line.vehicle_id == vehicle.pk
    assert 'value="T 7"' in main(at_desk.get(deed(line.line, "revise")))


def test_a_shortage_of_the_coming_weeks_stands_on_the_page_in_words(at_desk):
    fleet(1)
    make_line(first=day("2026-05-16"), last=day("2026-05-17"), vehicles=3)

    assert "Week of 11 May 2026 Summer trains: ▲ short by two" in words(
        at_desk.get(DIARY)
    )
    (row,) = rows_of_cover(at_desk)
    assert row == ["11 May 2026", "2", "1 of 3", "▲ short by two"]


def test_a_diary_whose_lines_can_all_be_filled_says_that_none_is_short(at_desk):
    fleet(1)
    make_line(first=day("2026-05-16"), last=day("2026-05-17"), vehicles=1)

    assert "No line is short." in words(at_desk.get(DIARY))


def rows_of_cover(client):
    """The cells of every week on the page that holds diary and board together."""
    page = main(client.get(reverse("workshop:cover")))
    body = page.split("<tbody>")[1].split("</tbody>")[0]
    lines = [row for row in body.split("<tr>") if row.strip()]
    return [
        [cell.split(">", 1)[1] for cell in clean(row).split("<td")[1:]] for row in lines
    ]


def clean(row):
    """A row without what only sets it off."""
    for mark in ("<strong>", "</strong>", "</td>", "</tr>", "\n"):
        row = row.replace(mark, "")
    return row.strip()


def test_an_empty_diary_says_so(at_desk):
    page = words(at_desk.get(DIARY))
    assert "Nothing runs, as far as the diary says." in page
    assert "The diary has no line in these weeks" in page
    assert "No line is short" not in page
    assert "The diary wants nothing" in words(at_desk.get(reverse("workshop:cover")))


# From a sheet ----------------------------------------------------------------------


def test_everybody_looks_and_those_who_plan_write(client, people):
    line = make_line().line
    planning = {"planner", "manager", "administrator"}
    pages = {DIARY: set(people), reverse("workshop:cover"): set(people)}
    pages[reverse("workshop:kept", args=["line", line.pk])] = set(people)
    pages[reverse("workshop:diary-import")] = planning
    pages[reverse("workshop:kept-add", args=["line"])] = planning
    for verb in ("revise", "correct", "end", "retract"):
        pages[deed(line, verb)] = planning
    for address, may in pages.items():
        for role, user in people.items():
            client.force_login(user)
            status = client.get(address).status_code
            assert status == (200 if role in may else 403), (address, role)


def asked(client, address):
    """How many queries a page takes the second time."""
    client.get(address)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


@pytest.mark.parametrize("address", [DIARY, "/workshop/diary/cover/"])
def test_a_page_asks_as_often_for_many_lines_as_for_few(at_desk, address):
    make_line(vehicles=1, vehicle=make_vehicle())
    few = asked(at_desk, address)

    for _ in range(6):
        make_line(vehicles=1, vehicle=make_vehicle(), last=day("2026-07-31"))
        make_line(vehicle_type=make_type())

    assert asked(at_desk, address) == few
