"""The diary on screen and from a sheet: stories of a planner, with their dates."""

import io
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import Workbook

from fleet.records.models import Channel, Entry
from fleet.records.verifying import prove
from fleet.workshop.diary_sheet import EXAMPLES, HEADINGS
from fleet.workshop.models import DiaryLine, DiaryLineVersion
from tests.register.factories import make_type, make_vehicle
from tests.web.reading import links, main, rows, words
from tests.web.scenes import coach, fleet, make_practice, standing_at_today
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


def csv_of(*lines, mark=","):
    """A CSV file with the headings and some rows."""
    text = "\n".join(mark.join(cells) for cells in (HEADINGS, *lines))
    return SimpleUploadedFile("d.csv", text.encode(), content_type="text/csv")


def looked_at(client, file):
    """The page after a sheet was sent."""
    return client.post(reverse("workshop:diary-import"), {"file": file})


def agreed(client, page):
    """What follows when the rows on the page are agreed to."""
    form = page.context["seen"]
    sent = {name: form[name].value() for name in ("rows", "submission")}
    return client.post(reverse("workshop:diary-write"), sent, follow=True)


ROW = ("Trains", "2026-06-06", "2026-06-28", "Sat Sun", "air", "", "4", "", "")


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_the_example_that_is_handed_out_is_taken_in_as_it_is(at_desk, kind):
    given = at_desk.get(reverse("workshop:diary-example", args=[kind]))
    file = SimpleUploadedFile(f"diary.{kind}", given.content)

    page = looked_at(at_desk, file)

    assert "This would be added" in words(page)
    assert not DiaryLine.objects.exists()
    agreed(at_desk, page)
    titles = DiaryLineVersion.objects.order_by("pk").values_list("title", flat=True)
    assert list(titles) == [row[0] for row in EXAMPLES]


def test_rows_become_lines_in_one_deed_by_import_and_are_sealed(at_desk):
    page = looked_at(at_desk, csv_of(ROW, ("Gala", "03/10/2026", *[""] * 2, "AIR")))

    said = words(agreed(at_desk, page))

    assert "2 lines are in the diary." in said
    entry = Entry.objects.get(deed="workshop.import_diary")
    assert entry.channel == Channel.IMPORT
    trains, gala = DiaryLineVersion.objects.order_by("first")
    assert trains.opened_by == gala.opened_by == entry
    assert (trains.weekdays, trains.vehicles) == ("67", 4)
    assert (gala.first, gala.last) == (day("2026-10-03"), day("2026-10-03"))
    assert (gala.weekdays, gala.vehicles, gala.weight) == ("1234567", 1, 1)
    assert prove().faults == []


def test_one_row_is_one_line(at_desk):
    page = looked_at(at_desk, csv_of(ROW))

    assert "1 line is in the diary." in words(agreed(at_desk, page))


def test_a_day_that_is_not_there_is_told_with_how_one_is_written(at_desk):
    page = looked_at(at_desk, csv_of(("Gala", "2026-06-31", *[""] * 2, "air")))

    assert "as 2027-05-01 or 01/05/2027" in words(page)


def test_every_fault_is_said_by_row_and_column_and_nothing_can_be_written(at_desk):
    make_practice()
    coach("T 1")
    page = looked_at(
        at_desk,
        csv_of(
            ROW,
            ("", "2026-06-31", "", "", "steam", "", "0", "", ""),
            ("A", "2026-06-06", "2026-06-01", "", "air", "", "", "", ""),
            ("B", "2026-06-06", "", "Sat bun", "air", "no such", "", "X 9", "21"),
            ("C", "2026-06-06", "", "", "vacuum", "", "", "T 1", ""),
            ("D", "2026-06-06", "", "Mon", "air", "", "", "", ""),
            ROW,
        ),
    )

    wrong = {(r["Row"], r["Column"]) for r in rows(main(page)) if "Row" in r}
    assert wrong == {
        ("3", "what runs"),
        ("3", "from"),
        ("3", "system"),
        ("3", "how many"),
        ("4", "to"),
        ("5", "days"),
        ("5", "type"),
        ("5", "vehicle"),
        ("5", "weight"),
        ("6", "vehicle"),
        ("7", "days"),
        ("8", "the whole row"),
    }
    assert "Nothing is written: 12 things to put right" in words(page)
    assert "seen" not in page.context
    assert not DiaryLine.objects.exists()


def test_a_sheet_sent_again_adds_only_what_is_new(at_desk):
    agreed(at_desk, looked_at(at_desk, csv_of(ROW)))

    page = looked_at(at_desk, csv_of(ROW))
    assert "In the diary already: row 2." in words(page)
    assert "There is nothing new in it." in words(page)
    assert "seen" not in page.context

    more = ("More", *ROW[1:])
    agreed(at_desk, looked_at(at_desk, csv_of(ROW, more)))
    assert DiaryLineVersion.objects.count() == 2


def test_rows_agreed_to_twice_are_written_once(at_desk):
    page = looked_at(at_desk, csv_of(ROW))
    again = looked_at(at_desk, csv_of(ROW))

    agreed(at_desk, page)
    agreed(at_desk, page)
    refused = agreed(at_desk, again)

    assert "in the diary by now" in words(refused)
    assert DiaryLineVersion.objects.count() == 1


def test_rows_altered_on_the_way_are_refused(at_desk):
    page = looked_at(at_desk, csv_of(ROW))
    sent = {"rows": page.context["seen"]["rows"].value()[:-2] + "xx"}

    answer = at_desk.post(reverse("workshop:diary-write"), sent)

    assert "Send the sheet again" in words(answer)
    assert not DiaryLine.objects.exists()


def test_a_workbook_with_real_dates_and_numbers_in_another_order_is_read(at_desk):
    make_type("coach", name="Open coach")
    book = Workbook()
    sheet = book.active
    sheet.append(["System", "How many", "To", "From", "What runs", "Type", None])
    first, last = day("2026-06-01"), day("2026-06-05")
    sheet.append(["Air", 3, last, first, "School  trains", "open COACH", None])
    sheet.append([None] * 7)
    out = io.BytesIO()
    book.save(out)

    agreed(at_desk, looked_at(at_desk, SimpleUploadedFile("d.XLSX", out.getvalue())))

    line = DiaryLineVersion.objects.get()
    assert (line.title, line.vehicles) == ("School trains", 3)
    assert (line.first, line.last) == (first, last)
    assert line.vehicle_type.code == "coach"


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("daily", "1234567"),
        ("Mon-Fri", "12345"),
        ("Fri to Sun", "567"),
        ("Sat-Mon", "167"),
        ("tuesday, Thursdays", "24"),
        ("Sat;Sun", "67"),
    ],
)
def test_days_are_read_as_people_write_them(at_desk, text, days):
    row = ("Trains", "2026-06-01", "2026-06-30", f'"{text}"', "air")

    agreed(at_desk, looked_at(at_desk, csv_of(row)))

    assert DiaryLineVersion.objects.get().weekdays == days


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        pytest.param("d.csv", b"a,b\n1,2\n", "Not known: a, b.", id="headings"),
        pytest.param("d.csv", b"what runs,from\nA,B\n", "system", id="one missing"),
        pytest.param("d.csv", b"", "Missing from the first row", id="empty heading"),
        pytest.param("d.csv", b"\xff\xfe\x00", "neither a workbook", id="not text"),
        pytest.param("d.xlsx", b"no zip", "no workbook that can be read", id="no zip"),
        pytest.param(
            "d.csv", b"what runs,from,system\n", "no rows", id="headings only"
        ),
        pytest.param("d.csv", b"x" * 1_000_001, "larger than 1 MB", id="too large"),
    ],
)
def test_what_is_no_sheet_of_the_diary_is_refused_with_a_reason(
    at_desk, name, data, said
):
    page = looked_at(at_desk, SimpleUploadedFile(name, data or b"\n"))

    assert said in words(page)


def test_semicolons_serve_as_well_as_commas(at_desk):
    agreed(at_desk, looked_at(at_desk, csv_of(ROW, mark=";")))

    assert DiaryLineVersion.objects.get().title == "Trains"


# Who, and how often it asks --------------------------------------------------------


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


def test_looking_through_a_sheet_asks_as_often_for_many_rows_as_for_few(at_desk):
    counted = []
    for size in (1, 30):
        many = [(f"Train {n}", *ROW[1:]) for n in range(size)]
        with CaptureQueriesContext(connection) as queries:
            looked_at(at_desk, csv_of(*many))
        counted.append(len(queries))

    assert counted[0] == counted[1]
