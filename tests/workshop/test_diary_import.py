"""A sheet of the diary taken in: looked through, agreed to, written once."""

import io

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
from tests.register.factories import make_type
from tests.web.reading import main, rows, words
from tests.web.scenes import coach, make_practice, standing_at_today
from tests.workshop.kept import day

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


def deed(line, verb):
    """The address of a deed on a line."""
    return reverse(f"workshop:kept-{verb}", args=["line", line.pk])


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


def test_looking_through_a_sheet_asks_as_often_for_many_rows_as_for_few(at_desk):
    counted = []
    for size in (1, 30):
        many = [(f"Train {n}", *ROW[1:]) for n in range(size)]
        with CaptureQueriesContext(connection) as queries:
            looked_at(at_desk, csv_of(*many))
        counted.append(len(queries))

    assert counted[0] == counted[1]
