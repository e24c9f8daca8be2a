"""The board: who may run braked on a day, narrowed down, and what changes next."""

import datetime as dt
from urllib.parse import parse_qsl

import pytest
from django.urls import reverse

from fleet.fitness.models import Stale, StatusSpan
from fleet.fitness.services import rebuild
from fleet.fitness.status import board_rows
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import Fitment, System
from fleet.upkeep.models import Requirement
from fleet.upkeep.services import revise_requirement
from fleet.web.board import PER_PAGE
from tests.register.factories import make_depot, make_type, make_vehicle
from tests.web.reading import links, main, plain, rows, words
from tests.web.scenes import (
    TODAY,
    chafed,
    coach,
    cracked_hanger,
    dual_coach,
    fleet,
    on,
    standing_at_today,
)

pytestmark = pytest.mark.django_db

FIT, STOPPED = "Fit to run braked", "Not to run in an air train"


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


@pytest.fixture
def shown(client, fitter):
    """`shown(**asked)`: the board's page for what is asked, as a fitter sees it."""
    client.force_login(fitter)

    def show(**asked):
        answer = client.get(reverse("web:board"), asked)
        assert answer.status_code == 200
        return answer

    return show


def lines(answer):
    """The vehicles on the board: cells by heading, by running number."""
    return {row["Vehicle"].rsplit(" Open")[0]: row for row in rows(main(answer))}


def tally(answer):
    """The tally at the head: for each level the figures of air and vacuum."""
    text = main(answer)
    begin = text.index('<ul class="tally"')
    entries = text[begin : text.index("</ul>", begin)].split("<li>")[1:]
    return [plain(entry) for entry in entries]


# A day ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked", "level"),
    [
        ("2026-03-04", "Convey as piped"),  # the day before the test
        ("2026-03-05", FIT),
        ("2026-05-03", FIT),
        ("2026-05-04", STOPPED),  # the hose is found chafed
        ("2028-05-04", STOPPED),
    ],
)
def test_the_board_of_a_day_shows_the_level_at_the_close_of_it(shown, asked, level):
    (vehicle,) = fleet(1)
    chafed(vehicle)

    assert lines(shown(on=asked))["T 101"]["Air"] == level


def test_the_board_of_any_day_is_what_the_stored_spans_say(shown):
    first, *_ = fleet(2)
    chafed(first)
    dual_coach("T 110")
    edges = set(StatusSpan.objects.current().values_list("since", flat=True))
    days = {edge + dt.timedelta(n) for edge in edges for n in (-1, 0)}
    days = {day for day in days if day >= dt.date(2015, 1, 1)}
    assert len(days) > 4

    for day in sorted(days):
        found = lines(shown(on=day.isoformat()))
        for row in board_rows(day):
            for system in System:
                span = row.systems.get(system)
                said = span.span.words if span else "not fitted"
                assert found[row.number][system.label] == said, (day, row.number)


def test_without_a_day_the_board_is_todays(shown):
    fleet(1)

    answer = shown()

    assert "What the records show for 10 May 2026. Look at the vehicle" in words(answer)
    assert 'value="2026-05-10"' in main(answer)


def test_a_day_to_come_says_that_nothing_more_was_done_by_then(shown):
    fleet(1)

    answer = shown(on="2027-03-06")

    assert "for 6 March 2027, if nothing more is done" in words(answer)
    assert lines(answer)["T 101"]["Air"] == "Convey as piped"


@pytest.mark.parametrize(
    ("asked", "error"),
    [
        ("yesterday", "Enter the day as 2026-11-25."),
        ("2026-02-30", "Enter the day as 2026-11-25."),
        ("1066-10-14", "Choose a day within forty years of today."),
        ("9999-12-31", "Choose a day within forty years of today."),
    ],
)
def test_a_day_that_is_none_is_an_error_on_the_page_and_today_is_shown(
    shown, asked, error
):
    (vehicle,) = fleet(1)
    chafed(vehicle)

    answer = shown(on=asked)

    assert error in words(answer)
    assert "What the records show for 10 May 2026." in words(answer)
    assert lines(answer)["T 101"]["Air"] == STOPPED


def test_a_wrong_depot_is_an_error_and_does_not_move_the_day(shown):
    fleet(1)

    answer = shown(on="2026-03-04", depot="999")

    assert "That choice is not one of the available choices" in words(answer)
    assert "What the records show for 4 March 2026." in words(answer)
    assert lines(answer)["T 101"]["Air"] == "Convey as piped"


def test_a_vehicle_is_on_the_board_under_the_number_it_bore_that_day(shown):
    (vehicle,) = fleet(1)
    alter_vehicle(by=None, vehicle=vehicle, since=on("2026-05-01"), number="T 55")

    assert list(lines(shown(on="2026-04-30"))) == ["T 101"]
    assert list(lines(shown())) == ["T 55"]


def test_on_a_day_before_the_first_vehicle_nothing_is_there(shown):
    fleet(1)

    answer = shown(on="2014-12-31")

    assert lines(answer) == {}
    assert "No vehicle answers to this on 31 December 2014." in words(answer)


# What changes next ------------------------------------------------------------------------


def test_the_next_change_is_dated_and_says_why(shown):
    fleet(1)

    said = lines(shown())["T 101"]["Now, and next change"]

    assert said.startswith(
        "6 Mar 2027 Air brake test: overrun, last good day 5 Mar 2027"
    )


def test_what_is_wrong_now_leads_and_a_change_that_lets_nothing_change_is_left_out(
    shown,
):
    (vehicle,) = fleet(1)
    chafed(vehicle)

    said = lines(shown())["T 101"]["Now, and next change"]

    assert said == "now Defect: Brake pipe hose chafed"


def test_conditions_stand_on_the_board_but_not_beside_a_stop(shown):
    vehicle = dual_coach("T 110")
    condition = "Condition: In a vacuum train: air brake vented and released."

    assert condition in lines(shown())["T 110"]["Now, and next change"]

    cracked_hanger(vehicle)
    said = lines(shown())["T 110"]
    assert (said["Air"], said["Vacuum"]) == ("Not to run", "Not to run")
    assert said["Now, and next change"] == "now Defect: Brake hanger cracked"


# Counts -----------------------------------------------------------------------------------


def test_the_tally_counts_the_whole_fleet_by_level_and_system(shown):
    first, *_ = fleet(2)
    chafed(first)
    dual_coach("T 110")

    assert tally(shown(find="T 101")) == [
        "1 air · 0 vacuum Fit to run braked",
        "0 air · 1 vacuum Fit braked, with conditions",
        "1 air · 0 vacuum Convey as piped",
        "1 air · 0 vacuum Not to run",
    ]


def test_a_figure_of_the_tally_leads_to_its_vehicles(shown, client):
    first, *_ = fleet(2)
    chafed(first)
    answer = shown(on="2026-05-05")
    address = dict(links(main(answer)))["1 air · 0 vacuum Not to run"]

    assert list(lines(client.get("/" + address))) == ["T 101"]


# Narrowed down ----------------------------------------------------------------------------


@pytest.fixture
def line():
    """T 101 not to run, T 102 fit, V 1 dual and vacuum braked only with conditions."""
    first, *_ = fleet(2)
    chafed(first)
    dual_coach("V 1")
    shed = make_depot("shed", "Marrow shed")
    alter_vehicle(by=None, vehicle=first, since=on("2026-01-01"), depot=shed)
    vacuum = make_type("wagon-vac", name="Iron wagon", positions=[])
    coach(
        "W 9",
        type=vacuum,
        air=Fitment.NONE,
        vacuum=Fitment.BRAKED,
        main_reservoir_pipe="none",
        tested=None,
    )
    return shed


def test_the_board_is_narrowed_down(shown, line):
    expected = {
        "": ["T 101", "T 102", "V 1", "W 9 Iron wagon"],
        "level=stopped": ["T 101"],
        "level=piped": ["V 1"],
        "level=conditional": ["V 1"],
        "level=conditional&system=air": [],
        "level=conditional&system=vacuum": ["V 1"],
        "level=braked&system=vacuum": ["W 9 Iron wagon"],
        "level=stopped&on=2026-05-03": [],
        "system=air": ["T 101", "T 102", "V 1"],
        "system=vacuum": ["V 1", "W 9 Iron wagon"],
        "find=t 10": ["T 101", "T 102"],
        "find= IRON ": ["W 9 Iron wagon"],
        "find=nothing like it": [],
    }

    found = {q: list(lines(shown(**dict(parse_qsl(q))))) for q in expected}

    assert found == expected


def test_the_board_of_a_depot_has_the_vehicles_at_home_there_that_day(shown, line):
    assert list(lines(shown(depot=line.pk))) == ["T 101"]
    assert list(lines(shown(depot=line.pk, on="2025-12-31"))) == []


def test_nothing_found_offers_the_whole_fleet(shown, line):
    answer = shown(find="nothing like it")

    assert "Widen what is asked, or show the whole fleet today." in words(answer)


# Not yet reassessed -----------------------------------------------------------------------


@pytest.fixture
def revised(settings):
    """Two fit coaches; then the policy is revised, more than is reassessed at once."""
    settings.FLEET_REASSESS_AT_ONCE = 1
    vehicles = fleet(2)
    rebuild()
    revise_requirement(
        by=None,
        requirement=Requirement.objects.get(code="annual"),
        effective_from=TODAY + dt.timedelta(days=1),
        reason="Wear",
        months=9,
    )
    assert Stale.objects.count() == 2
    return vehicles


def test_after_a_revision_no_vehicle_is_fit_until_it_is_reassessed(shown, revised):
    answer = shown()

    assert {row["Air"] for row in lines(answer).values()} == {"Not yet reassessed"}
    assert "2 vehicles not yet reassessed" in words(answer)
    assert "not to be taken as fit" in words(answer)
    assert tally(answer)[0] == "0 air · 0 vacuum Fit to run braked"
    assert FIT not in part_of_strip(answer)

    rebuild()

    again = shown()
    assert {row["Air"] for row in lines(again).values()} == {FIT}
    assert "not yet reassessed since" not in words(again)
    assert FIT in part_of_strip(again)


def part_of_strip(answer):
    """The markup of the first strip on the board."""
    text = main(answer)
    begin = text.index('data-label="Past and next"')
    return text[begin : text.index("</td>", begin)]


def test_a_filter_finds_a_stale_vehicle_as_that_and_at_no_level(shown, revised):
    expected = {
        "level=stale": 2,
        "system=air": 2,
        "level=stale&system=air": 2,
        "level=stale&system=vacuum": 0,
        "level=braked": 0,
        "level=stopped": 0,
    }

    found = {q: len(lines(shown(**dict(parse_qsl(q))))) for q in expected}

    assert found == expected


# Nothing, and much ------------------------------------------------------------------------


def test_an_empty_register_tells_a_planner_what_to_do_first(client, planner):
    client.force_login(planner)

    answer = client.get(reverse("web:board"))

    said = "Define a vehicle type with its positions, then add the first vehicle."
    assert f"No vehicle is entered yet. {said}" in words(answer)
    found = dict(links(main(answer)))
    assert found["Define a vehicle type"] == reverse("register:type-add")
    assert found["add the first vehicle"] == reverse("register:vehicle-add")


def test_an_empty_register_tells_others_who_enters_vehicles(shown):
    assert "No vehicle is entered yet. A planner enters vehicles." in words(shown())


def test_a_bigger_fleet_comes_a_page_at_a_time_and_keeps_what_was_asked(shown):
    for n in range(PER_PAGE + 1):
        make_vehicle(number=f"T {n:03d}", air=Fitment.PIPED)

    answer = shown(system="air")

    assert len(lines(answer)) == PER_PAGE
    assert f"1\N{EN DASH}{PER_PAGE} of {PER_PAGE + 1}" in words(answer)
    following = dict(links(main(answer)))["Next"]
    assert "system=air" in following
    assert list(lines(shown(system="air", page=2))) == [f"T {PER_PAGE:03d}"]
    assert list(lines(shown(system="air", page=99))) == [f"T {PER_PAGE:03d}"]


@pytest.mark.parametrize("vehicles", [1, 4])
def test_the_board_asks_as_often_for_few_vehicles_as_for_many(
    shown, vehicles, django_assert_num_queries
):
    fleet(vehicles)

    # Session, account, its permissions (2), depots of the filter, how many there are,
    # which on this page, stale, types, vehicles, spans, counts (2).
    with django_assert_num_queries(13):
        answer = shown()
    assert len(lines(answer)) == vehicles


def test_each_line_leads_to_the_vehicle_on_the_day_shown(shown):
    (vehicle,) = fleet(1)
    address = reverse("web:vehicle", args=[vehicle.pk])

    assert ("T 101", address) in links(main(shown()))
    assert ("T 101", f"{address}?on=2026-04-01") in links(main(shown(on="2026-04-01")))
