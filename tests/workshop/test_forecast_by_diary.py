"""The forecast where usage goes on as the running diary asks."""

import csv
import io
from itertools import pairwise

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from fleet.register.services.usage import log_usage
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import Fitment, System, VehicleStatus
from fleet.workshop.forecast import Ask, forecast
from tests.register.factories import make_vehicle
from tests.upkeep.factories import make_requirement
from tests.web.reading import main, words
from tests.web.scenes import TODAY, day, fleet, on, standing_at_today
from tests.workshop.factories import make_plan
from tests.workshop.kept import make_line

pytestmark = pytest.mark.django_db

ALWAYS = {"first": day("2026-01-01"), "last": day("2030-12-31")}


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


def days_between(number, *, usage="diary", months=12, code="run", **asked):
    """The calendar days from each time that work falls due on a vehicle to the next."""
    found = forecast(
        Ask(months=months, requirement=code, vehicle=number, usage=usage, **asked),
        TODAY,
    )
    dates = [max(row.due or TODAY, TODAY) for row in found]
    return [(b - a).days for a, b in pairwise(dates)]


def run(vehicle, *, miles=0, days=65):
    """Usage of the 65 days since the test of 5 March: each day one in service."""
    log_usage(
        by=None,
        vehicle=vehicle,
        first=day("2026-03-06"),
        last=day("2026-05-09"),
        miles=miles,
        days=days,
    )


def three_days_a_week(**values):
    """One vehicle on Tuesdays, Saturdays and Sundays."""
    return make_line(**{"vehicles": 1, "weekdays": "267"} | ALWAYS | values)


def test_the_vehicles_that_could_fill_a_line_share_alike_in_its_days():
    for vehicle in fleet(2):
        run(vehicle)
    make_requirement(code="run", days_in_service=30)
    three_days_a_week()

    # a day in service a day as of late; of three days a week each gets one and a half
    assert days_between("T 101", usage="late", months=6) == [30] * 6
    assert days_between("T 101") == days_between("T 102") == [140, 140]


@pytest.mark.parametrize("months", [1, 7, 36])
def test_a_line_that_runs_on_asks_as_much_a_day_however_far_one_looks(months):
    fleet(1)
    make_requirement(code="run", days_in_service=3)
    three_days_a_week()

    # never done: from today on, three days in service are a week
    assert set(days_between("T 101", months=months)) == {7}


def test_the_first_date_is_the_registers_own():
    (vehicle,) = fleet(1)
    run(vehicle, days=13)
    make_requirement(code="run", days_in_service=30)
    three_days_a_week()

    first = [
        forecast(Ask(months=12, requirement="run", usage=usage), TODAY)[0].due
        for usage in ("late", "diary")
    ]

    # one in five days since 5 March: the thirtieth is the hundred and fiftieth day
    assert first == [day("2026-08-02")] * 2


def test_a_line_that_names_a_vehicle_counts_in_full_for_that_one_alone():
    named, _other = fleet(2)
    make_requirement(code="run", days_in_service=30)
    three_days_a_week(vehicle=named)

    assert days_between("T 101") == [70] * 5
    assert days_between("T 102") == []


def test_no_vehicle_has_more_than_one_day_in_service_a_day():
    named, _other = fleet(2)
    make_requirement(code="run", days_in_service=30)
    three_days_a_week(vehicles=5)
    three_days_a_week(vehicle=named)

    # five vehicles wanted of two, and one of them by name besides: still three days
    assert days_between("T 101") == days_between("T 102") == [70] * 5


def test_lines_on_different_days_add_up():
    fleet(2)
    make_requirement(code="run", days_in_service=30)
    three_days_a_week()
    make_line(vehicles=2, weekdays="34", **ALWAYS)

    # one and a half days and two: three and a half a week
    assert days_between("T 101") == [60] * 6


def test_days_that_no_line_covers_count_as_days_without_trains():
    fleet(1)
    make_requirement(code="run", days_in_service=26)
    make_line(vehicles=1, first=TODAY, last=day("2026-11-07"))

    # 182 days of the 364 of 52 weeks: every other day
    assert days_between("T 101") == [52] * 7


def test_vehicles_that_could_not_fill_a_line_take_no_share_in_it():
    _, stored = fleet(2)
    make_vehicle(number="V 1", air=Fitment.PIPED)
    alter_vehicle(
        by=None,
        vehicle=stored,
        since=on("2026-05-01"),
        status=VehicleStatus.STORED,
    )
    make_requirement(code="run", days_in_service=30)
    three_days_a_week()
    three_days_a_week(system=System.VACUUM)

    assert days_between("T 101") == [70] * 5
    assert days_between("T 102") == []


def test_one_depot_or_vehicle_asked_for_takes_no_larger_share():
    vehicle, _other = fleet(2)
    make_requirement(code="run", days_in_service=30)
    three_days_a_week()

    found = forecast(Ask(requirement="run", usage="diary"), TODAY, vehicle=vehicle.pk)

    # never done, so from today: 140 days on, and 140 more
    assert [row.due for row in found] == [None, day("2026-09-27"), day("2027-02-14")]
    assert days_between("T 101") == [140, 140]


def test_miles_keep_their_ratio_to_the_days_of_the_recent_past():
    vehicle, _other = fleet(2)
    run(vehicle, miles=1300, days=26)
    make_requirement(code="far", miles=1500)
    three_days_a_week()

    # fifty miles a day in service, at one and a half a week: 75 miles a week
    assert days_between("T 101", code="far") == [140, 140]


def test_where_no_miles_are_recorded_none_are_counted():
    fleet(1)
    make_requirement(code="far", miles=1500)
    three_days_a_week()

    assert days_between("T 101", code="far") == []


def test_what_counts_by_the_calendar_falls_due_as_ever():
    fleet(1)

    both = [
        [row.due for row in forecast(Ask(months=36, usage=usage), TODAY)]
        for usage in ("late", "diary")
    ]

    assert both == [[day("2027-03-05"), day("2028-03-05"), day("2029-03-05")]] * 2


@pytest.fixture
def shown(client, train_crew):
    """`shown(name, **asked)`: a page of the forecast."""
    client.force_login(train_crew)

    def show(name="forecast", *args, **asked):
        answer = client.get(reverse(f"workshop:{name}", args=args), asked)
        assert answer.status_code == 200
        return answer

    return show


@pytest.fixture
def two_that_run():
    """Two coaches with a day in service a day, of which the diary wants half of three."""
    for vehicle in fleet(2):
        run(vehicle)
    make_plan(make_requirement(code="run", days_in_service=30))
    three_days_a_week()


# Overdue since 4 April, so done today, 10 May; 140 days on is 27 September.
LATER, AS_OF_LATE = "27 Sep 2026", "9 Jun 2026"


@pytest.mark.usefixtures("two_that_run")
@pytest.mark.parametrize("name", ["forecast", "forecast-strips"])
def test_a_page_lets_usage_go_on_as_its_address_says(shown, name):
    by_diary = shown(name, requirement="run", usage="diary")
    as_of_late = shown(name, requirement="run")

    assert LATER in main(by_diary)
    assert AS_OF_LATE not in main(by_diary)
    assert AS_OF_LATE in main(as_of_late)
    assert AS_OF_LATE in main(shown(name, requirement="run", usage="late"))


@pytest.mark.parametrize("name", ["forecast", "forecast-strips"])
def test_a_page_says_how_usage_goes_on(shown, name):
    by_diary, as_of_late = words(shown(name, usage="diary")), words(shown(name))

    assert "Usage goes on as the running diary asks" in by_diary
    assert "A vehicle that no line asks for has no days in service" in by_diary
    assert "The first date of each is the register's own." in by_diary
    assert "Usage goes on as of late: at the rate of the recent past." in as_of_late
    assert "register's own" not in as_of_late


@pytest.mark.usefixtures("two_that_run")
def test_the_load_of_the_weeks_and_the_links_follow_the_choice(shown):
    text = main(shown(requirement="run", usage="diary"))

    # four hours on each of the two, in the week of 27 September by the diary only
    week = "Week of 21 Sep 2026: 8 hours"
    assert week in text
    assert week not in main(shown(requirement="run"))
    for link in ("strips/", "forecast.csv", "forecast.xlsx"):
        assert f"{link}?requirement=run&amp;usage=diary" in text
    assert '<option value="diary" selected>' in text


@pytest.mark.usefixtures("two_that_run")
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_sheet_follows_the_choice_and_its_name_tells_it(shown, kind):
    answer = shown(
        "forecast-sheet", kind, requirement="run", vehicle="T 101", usage="diary"
    )

    if kind == "csv":
        head, *lines = csv.reader(io.StringIO(answer.content.decode("utf-8-sig")))
    else:
        head, *lines = load_workbook(io.BytesIO(answer.content)).active.values
    due = [line[list(head).index("Due")] for line in lines]
    assert due == ["2026-04-04", "2026-09-27", "2027-02-14"]
    assert f"forecast-by-diary-2026-05-10.{kind}" in answer["Content-Disposition"]


@pytest.mark.usefixtures("two_that_run")
def test_any_other_way_is_refused_with_words_and_shown_as_of_late(shown):
    answer = shown(requirement="run", usage="faster")

    assert "as of late, or as the running diary asks: choose one" in words(answer)
    assert AS_OF_LATE in main(answer)


@pytest.mark.parametrize("name", ["forecast", "forecast-strips"])
@pytest.mark.parametrize("many", [1, 6])
def test_the_diary_takes_two_queries_whatever_the_fleet(
    client, train_crew, name, many, django_assert_max_num_queries
):
    fleet(many)
    for _ in range(many):
        three_days_a_week()
    client.force_login(train_crew)
    address = reverse(f"workshop:{name}")
    client.get(address)

    with django_assert_max_num_queries(30) as as_of_late:
        client.get(address)
    with django_assert_max_num_queries(30) as by_diary:
        client.get(address, {"usage": "diary"})

    assert len(by_diary) == len(as_of_late) + 2
