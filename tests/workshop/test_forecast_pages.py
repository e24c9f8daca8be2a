"""The pages of the forecast: list, strips, load, sheets, and what an empty one leads to."""

import csv
import datetime as dt
import io

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from fleet.fitness.models import DueDate
from fleet.people.models import Skill
from fleet.register.vocabulary import EquipmentKind
from fleet.upkeep.concession_grants import grant_concession
from fleet.upkeep.concessions import ask_concession
from fleet.upkeep.models import Requirement
from fleet.workshop.forecast import Ask, forecast
from fleet.workshop.vocabulary import Place
from tests.people.factories import PersonFactory, make_competence
from tests.register.factories import make_depot
from tests.upkeep.factories import (
    make_age_limit,
    make_concession_policy,
    make_requirement,
)
from tests.web.reading import links, main, rows, words
from tests.web.scenes import TODAY, coach, day, fleet, standing_at_today
from tests.workshop.factories import make_plan
from tests.workshop.kept import make_hours

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


def annual():
    """The yearly air brake test of the practice."""
    return Requirement.objects.get(code="annual")


@pytest.fixture
def shown(client, train_crew):
    """`shown(name, **asked)`: a page of the forecast; everyone signed in may look."""
    client.force_login(train_crew)

    def show(name="forecast", *args, **asked):
        answer = client.get(reverse(f"workshop:{name}", args=args), asked)
        assert answer.status_code == 200
        return answer

    return show


def listed(answer):
    """The vehicles and requirements on the list."""
    found = rows(main(answer).partition('id="list"')[2])
    return [(r["Vehicle"].split()[0:2], r["Requirement"].split()[0]) for r in found]


def two_sorts():
    """Two coaches at two depots, a test with a plan and an age limit with another."""
    coach("T 101", depot=make_depot("marrow", "Marrowby"))
    coach("T 102", depot=make_depot("fennick", "Fennick"), tested="2025-01-10")
    make_plan(make_requirement(code="annual"), place=Place.PIT)
    make_plan(make_age_limit(code="hose"), hours={"gear": 1}, exchange=True)


@pytest.mark.parametrize(
    ("asked", "kept"),
    [
        ({"vehicle": "101"}, {("101", "annual")}),
        ({"requirement": "annual"}, {("101", "annual"), ("102", "annual")}),
        ({"place": "pit"}, {("101", "annual"), ("102", "annual")}),
        ({"skill": "air"}, {("101", "annual"), ("102", "annual")}),
        ({"overdue": "1"}, {("102", "annual")}),
        ({"group": "nobody has"}, set()),
    ],
    ids=lambda value: "-".join(value) if isinstance(value, dict) else "",
)
def test_the_list_is_narrowed_down(shown, asked, kept):
    two_sorts()

    found = {(number[1], code) for number, code in listed(shown(**asked))}

    assert found >= kept
    assert {pair for pair in found if pair[1] == "annual"} == kept


def test_the_list_is_narrowed_down_to_a_depot(shown):
    two_sorts()
    depot = make_depot("fennick")

    assert {number[1] for number, _ in listed(shown(depot=depot.pk))} == {"102"}


def test_what_is_wrongly_asked_is_said_and_a_year_is_shown(shown):
    fleet(1)

    answer = shown(months=99)

    assert "less than or equal to 36" in words(answer)
    assert "Up to 10 May 2027" in words(answer)


def test_what_has_no_plan_is_said_where_it_falls_due(shown):
    fleet(1)

    said = words(shown())

    assert "No plan says what the work of annual takes" in said
    assert "The operator's own maintenance instructions govern" in said


def test_the_strips_tell_windows_and_levels_in_words(shown):
    fleet(1)
    make_plan(annual(), early_days=56)

    text = main(shown("forecast-strips"))

    assert "sensible from 8 Jan 2027, due 5 Mar 2027" in text
    assert "Fit to run braked" in text


def test_a_strip_says_of_what_is_overdue_since_when(shown):
    coach("T 101", tested="2025-04-19")
    make_requirement(code="annual", title="Air brake test", tolerance_days=14)

    answer = shown("forecast-strips")

    said = "due 19 Apr 2026, good to 3 May 2026, overdue since 4 May 2026"
    assert said in main(answer)
    assert f"<title>Air brake test: {said}</title>" in answer.content.decode()


def test_a_strip_says_of_what_is_overdue_to_when_it_is_conceded(shown):
    vehicle = coach("T 101", tested="2025-05-04")
    make_concession_policy()
    requirement = make_requirement(code="annual", title="Air brake test")
    agreed_by = PersonFactory()
    make_competence(agreed_by, skill=Skill.CONCEDE)
    conceded(requirement, vehicle, agreed_by, counted_from=day("2026-05-04"))

    answer = shown("forecast-strips")

    said = "due 4 May 2026, overdue since 5 May 2026, conceded to 30 May 2026"
    assert f"<title>Air brake test: {said}</title>" in answer.content.decode()


def conceded(requirement, vehicle, agreed_by, *, counted_from):
    """A concession to 30 May, granted today."""
    asked = ask_concession(
        by=None,
        person=PersonFactory(),
        on=TODAY,
        requirement=requirement,
        vehicle=vehicle,
        counted_from=counted_from,
        since=TODAY,
        last_day=day("2026-05-30"),
        recheck_days=14,
        why="Shed full.",
        risk="Last test well within limits.",
        condition="Not as the last vehicle.",
    )
    grant_concession(
        by=None, person=agreed_by, on=TODAY, version=asked, counted_from=counted_from
    )


@pytest.mark.parametrize(
    ("weeks", "said"),
    [
        pytest.param(1, "1 week asks for more than there is", id="one"),
        pytest.param(2, "2 weeks ask for more than there is", id="two"),
    ],
)
def test_the_weeks_that_ask_for_more_than_there_is_are_counted(shown, weeks, said):
    for number, tested in enumerate(["2025-06-03", "2025-06-10"][:weeks]):
        coach(f"T {number}", tested=tested)
    make_plan(make_requirement(code="annual"), hours={"air": 8})
    make_hours(first=TODAY, hours=1)

    text = main(shown("forecast", months=2))

    assert said in text
    assert "Week of 1 Jun 2026: 8 hours of 1, too many" in text


@pytest.mark.parametrize("name", ["forecast", "forecast-strips"])
@pytest.mark.parametrize("vehicles", [1, 6])
def test_a_page_takes_the_same_number_of_queries_whatever_the_fleet(
    client, train_crew, name, vehicles, django_assert_max_num_queries
):
    fleet(vehicles)
    make_plan(annual())
    client.force_login(train_crew)
    address = reverse(f"workshop:{name}")
    client.get(address)

    # session and user 2, forecast 11, requirements 1, depots 2, capacity 2; a strip's 5
    with django_assert_max_num_queries(22) as counted:
        client.get(address)

    assert len(counted) == {"forecast": 18, "forecast-strips": 19}[name]


def sheet(shown, kind, **asked):
    """The cells of a sheet, line by line, headings first."""
    content = shown("forecast-sheet", kind, **asked).content
    if kind == "csv":
        return list(csv.reader(io.StringIO(content.decode("utf-8-sig"))))
    return [list(r) for r in load_workbook(io.BytesIO(content)).active.values]


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_sheet_holds_what_the_filter_shows(shown, kind):
    fleet(2)
    make_plan(annual(), hours={"air": 4})

    head, *lines = sheet(shown, kind, vehicle="T 102")

    (line,) = [dict(zip(head, cells, strict=True)) for cells in lines]
    assert (line["Vehicle"], line["Code"], line["Due"]) == (
        "T 102",
        "annual",
        "2027-03-05",
    )
    assert str(line["Hours in all"]) == "4"


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"], ids=repr)
def test_no_cell_can_be_taken_for_a_formula(shown, kind, start):
    coach("T 101")
    make_plan(make_requirement(code="evil", title="x"))
    # a title as an importer might have let it in
    DueDate.objects.update(title=f"{start}cmd|' /C calc'!A0")

    head, line = sheet(shown, kind)

    cell = line[head.index("Requirement")]
    assert cell.startswith("'")
    assert cell[1:].strip().endswith("cmd|' /C calc'!A0")


def test_a_workbook_leaves_out_characters_that_it_cannot_hold(shown):
    coach("T 101")
    make_requirement(code="annual")
    # a title as an importer might have let it in
    DueDate.objects.update(title="Air\x0b brake\x01 test")

    head, line = sheet(shown, "xlsx")

    assert line[head.index("Requirement")] == "Air brake test"


def test_a_cell_of_a_workbook_that_looks_like_a_formula_is_stored_as_a_text(shown):
    coach("T 101")
    make_requirement(code="evil", title="=1+1")

    content = shown("forecast-sheet", "xlsx").content

    kinds = {c.data_type for r in load_workbook(io.BytesIO(content)).active for c in r}
    assert "f" not in kinds


def test_there_is_no_sheet_of_any_other_kind(client, train_crew):
    client.force_login(train_crew)

    assert client.get("/workshop/forecast.exe").status_code == 404


BOTH = pytest.mark.parametrize("name", ["forecast", "forecast-strips"])


@BOTH
def test_an_empty_register_says_what_a_forecast_is_made_from(shown, name):
    page = shown(name)

    assert "Nothing falls due yet." in words(page)
    found = dict(links(main(page)))
    assert found["Record the vehicles"] == reverse("register:vehicle-list")
    drafting = "Draft the requirements, and have them approved"
    assert found[drafting] == reverse("upkeep:policy")


@BOTH
def test_vehicles_that_no_requirement_is_written_for_want_one_first(shown, name):
    coach("T 101")

    page = words(shown(name))

    assert "Draft the requirements, and have them approved" in page
    assert "Record the vehicles" not in page


@BOTH
def test_a_filter_that_nothing_answers_to_can_be_widened(shown, name):
    fleet(1)
    annual()

    page = shown(name, vehicle="nobody")

    assert "Nothing falls due that answers to this up to 10 May 2027." in words(page)
    found = dict(links(main(page)))
    address = reverse(f"workshop:{name}")
    assert found["Show all that falls due within 36 months"] == f"{address}?months=36"
    assert "T 1" in words(shown(name, months=36))


@BOTH
def test_where_nothing_falls_due_however_wide_it_leads_to_the_requirements(shown, name):
    coach("T 101")
    make_age_limit(EquipmentKind.RELAY_VALVE)  # a coach has none

    page = shown(name, months=36)

    found = dict(links(main(page)))
    asked = "See what the requirements in force apply to"
    assert found[asked] == reverse("upkeep:policy")
    assert "within 36 months" not in words(page)


def test_a_week_begins_on_monday():
    coach("T 101")
    make_requirement(code="annual")

    (row,) = forecast(Ask(), TODAY)

    assert row.week_of == dt.date(2027, 3, 1)
