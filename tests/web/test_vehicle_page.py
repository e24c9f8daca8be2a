"""A vehicle's page: levels, findings and what clears them, diagram, lists, the log."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.defects import services as defects
from fleet.fitness.services import mark_for_rebuild
from fleet.register.services.fittings import take_off
from fleet.register.services.usage import log_usage
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import Fitment, MainReservoirPipe
from fleet.ui.cautions import caution
from tests.defects.factories import answers, make_isolation, person
from tests.examination.factories import make_test
from tests.fitness.histories import failing_test
from tests.register.factories import (
    air_places,
    equip,
    make_depot,
    make_type,
    make_vehicle,
    vacuum_places,
)
from tests.web.reading import links, main, part, plain, rows, words
from tests.web.scenes import (
    chafed,
    coach,
    cracked_hanger,
    day,
    dual_coach,
    fleet,
    make_practice,
    on,
    standing_at_today,
)

pytestmark = pytest.mark.django_db

FIT = "Fit to run braked"


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


@pytest.fixture
def shown(client, fitter):
    """`shown(vehicle, **asked)`: its page, as a fitter sees it."""
    client.force_login(fitter)

    def show(vehicle, **asked):
        answer = client.get(reverse("web:vehicle", args=[vehicle.pk]), asked)
        assert answer.status_code == 200
        return answer

    return show


def standing(answer):
    """What stands at the head of the page about each system."""
    text = main(answer)
    begin = text.index('<div class="standing')
    return plain(text[begin : text.index("</div>", begin)])


def headings(answer):
    return re.findall(r"<h2[^>]*>(.*?)</h2>", main(answer))


# How it stands ----------------------------------------------------------------------------


def test_a_sound_vehicle_is_fit_with_nothing_outstanding(shown):
    (vehicle,) = fleet(1)

    answer = shown(vehicle)

    assert standing(answer) == f"Air {FIT} Vacuum Not fitted"
    assert "T 101 Open coach · Two-pipe air brake" in words(answer)
    assert "Nothing outstanding is recorded for this day." in words(answer)
    assert "Conditions" not in headings(answer)


def test_dual_braked_with_its_distributor_overdue_is_piped_in_air_and_braked_in_vacuum(
    shown,
):
    answer = shown(dual_coach("T 107"))

    said = "Air Convey as piped Vacuum Fit braked, with conditions"
    assert standing(answer) == said
    condition = "Vacuum: In a vacuum train: air brake vented and released"
    assert condition in words(answer)


def test_a_stop_of_the_whole_vehicle_leads_the_page_and_conditions_fall_away(shown):
    vehicle = dual_coach("T 107")
    cracked_hanger(vehicle)

    answer = shown(vehicle)

    assert standing(answer) == "Not to run Air Not to run Vacuum Not to run"
    assert main(answer).index("standing whole") < main(answer).index("<h2")
    assert "Conditions" not in headings(answer)
    found = part(answer, "outstanding")
    assert plain(found).index("Brake hanger cracked") < plain(found).index("overrun")


def test_a_stop_of_one_system_does_not_lead_as_if_it_stopped_the_vehicle(shown):
    vehicle = dual_coach("T 107")
    chafed(vehicle)

    answer = shown(vehicle)

    assert standing(answer).startswith(
        "Air Not to run in an air train Vacuum Fit braked"
    )
    assert "standing whole" not in main(answer)


def test_the_page_of_another_day_shows_what_the_records_show_for_that_day(shown):
    (vehicle,) = fleet(1)
    chafed(vehicle)

    before, after = shown(vehicle, on="2026-05-03"), shown(vehicle, on="2027-03-06")

    assert standing(before).startswith(f"Air {FIT}")
    assert "What the records show for 3 May 2026." in words(before)
    assert "for 6 March 2027, if nothing more is done" in words(after)
    assert "overrun, last good day 5 Mar 2027" in plain(part(after, "outstanding"))
    assert ("Today", reverse("web:vehicle", args=[vehicle.pk])) in links(main(after))


def test_a_past_day_shows_the_isolation_tests_and_work_of_that_day_only(shown):
    make_practice()
    vehicle = coach("T 101", tested=None)
    make_test(vehicle=vehicle, on=on("2026-02-02"))
    make_test(vehicle=vehicle, on=on("2026-05-08"))
    lines = answers(vehicle)
    record = make_isolation(vehicle=vehicle, since=on("2026-03-02"), lines=lines)
    defects.restore_brake(
        by=None, person=person(), version=record, at=on("2026-03-09", "12:00")
    )
    defects.start_work(
        by=None, person=person(), vehicle=vehicle, what="Shoe", since=on("2026-05-08")
    )

    then, now = shown(vehicle, on="2026-03-05"), shown(vehicle)

    assert "Air brake isolated" in words(then)
    assert "Work in hand: Shoe" not in words(then)
    assert "Record complete" in words(then)
    assert "8 May 2026" not in plain(part(then, "tests"))
    assert "2 Feb 2026" in plain(part(then, "tests"))
    assert "Air brake isolated" not in words(now)
    assert "Work in hand: Shoe" in words(now)
    assert "8 May 2026" in plain(part(now, "tests"))


@pytest.mark.parametrize("asked", ["soon", "2026-13-01"])
def test_a_day_that_is_none_is_an_error_on_the_page_and_today_is_shown(shown, asked):
    (vehicle,) = fleet(1)

    answer = shown(vehicle, on=asked)

    assert "Enter the day as 2026-11-25." in words(answer)
    assert "What the records show for 10 May 2026." in words(answer)


def test_before_it_was_entered_nothing_is_known_and_unknown_is_never_fit(shown):
    (vehicle,) = fleet(1)

    answer = shown(vehicle, on="2014-12-31")

    assert "Nothing is recorded of this vehicle for 31 December 2014." in words(answer)
    assert "Unknown is never fit" in words(answer)
    assert FIT not in main(answer)


def test_a_vehicle_there_is_not_answers_404(client, fitter):
    client.force_login(fitter)

    assert client.get("/vehicles/4711/").status_code == 404


def test_a_stale_vehicle_says_so_before_its_levels(shown):
    (vehicle,) = fleet(1)
    mark_for_rebuild([vehicle.pk])

    text = words(shown(vehicle))

    assert text.index("Not yet reassessed") < text.index("What the records show")
    assert "awaits reassessment" in text


# Findings ---------------------------------------------------------------------------------


def test_a_finding_says_what_clears_it_why_it_counts_and_leads_to_its_records(shown):
    vehicle = dual_coach("T 107")
    item = vehicle.fittings.get(position="distributor", closed_by=None).equipment

    found = part(shown(vehicle), "outstanding")

    text = plain(found)
    assert "Distributor overhaul: overrun, last good day 20 Apr 2026" in text
    assert "Exchange the distributor." in text
    assert "Not counted as braked" in text
    assert "Operator's instruction 7" in text
    leads = [href for _, href in links(found)]
    assert reverse("web:rule", args=["R03"]) in leads
    assert reverse("upkeep:part", args=["requirement", "dv-overhaul"]) in leads
    assert item.get_absolute_url() in leads
    assert reverse("register:exchange", args=[vehicle.pk, "distributor"]) in leads
    assert f"{reverse('examination:test-add')}?equipment={item.pk}" in leads


def test_every_link_of_a_finding_to_a_record_can_be_opened(shown, client):
    vehicle = dual_coach("T 107")
    chafed(vehicle)
    failing_test(vehicle, "2026-05-05")
    make_isolation(vehicle=vehicle, since=on("2026-05-06"))
    taken = vehicle.fittings.get(position="slack-adjuster", closed_by=None)
    take_off(by=None, fitting=taken, at=on("2026-05-07"), to=make_depot())

    found = part(shown(vehicle), "outstanding")

    text = plain(found)
    for code in ("D02", "T01", "I01", "P01", "R03"):
        assert code in text
    assert reverse("register:fit", args=[vehicle.pk, "slack-adjuster"]) in found
    for words_of, href in links(found):
        assert client.get(href).status_code == 200, words_of


def test_a_finding_of_shared_gear_names_only_the_systems_the_vehicle_has(shown):
    (vehicle,) = fleet(1)
    cracked_hanger(vehicle)

    found = part(shown(vehicle), "outstanding")

    assert "Brake hanger cracked. Air Put the defect right" in plain(found)
    assert "vacuum" not in plain(found).lower()


def test_what_a_complete_isolation_lets_be_conveyed_is_marked_as_piped(shown):
    (vehicle,) = fleet(1)
    defects.raise_defect(
        by=None,
        person=person(),
        title="Slow to release",
        on=on("2026-05-06", "08:00"),
        vehicle=vehicle,
        scope="air_brake",
        effect="isolate",
    )

    assert "level-stopped" in part(shown(vehicle), "outstanding")

    make_isolation(vehicle=vehicle, since=on("2026-05-06", "09:00"))
    answer = shown(vehicle)
    assert standing(answer).startswith("Air Convey as piped")
    assert "Slow to release" in plain(part(answer, "outstanding"))
    assert "level-stopped" not in part(answer, "outstanding")


def test_leave_to_move_it_is_shown_with_its_limits_while_it_is_in_force(shown):
    (vehicle,) = fleet(1)
    version = make_isolation(vehicle=vehicle, since=on("2026-05-06", "09:00"))
    defects.authorise_move(
        by=None,
        isolation=version.isolation,
        person=person("Una Fell"),
        since=day("2026-05-08"),
        last_day=day("2026-05-12"),
        destination="Wenlow works",
        limits="15 mph, not last in the train.",
    )

    answer = shown(vehicle)
    text = words(answer)
    assert "May be moved to Wenlow works, last day 12 May 2026" in text
    assert "Limits: 15 mph, not last in the train." in text
    assert "authority given by Una Fell" in text
    assert version.isolation.get_absolute_url() in main(answer)
    for outside in ("2026-05-07", "2026-05-13"):
        assert "May be moved" not in words(shown(vehicle, on=outside))

    defects.restore_brake(
        by=None, person=person(), version=version, at=on("2026-05-09", "09:00")
    )
    assert "May be moved" not in words(shown(vehicle))
    assert "May be moved" in words(shown(vehicle, on="2026-05-08"))


def test_a_brake_there_is_not_cannot_be_isolated(shown):
    make_practice()
    vehicle = make_vehicle(air=Fitment.PIPED, vacuum=Fitment.BRAKED)

    text = words(shown(vehicle))

    assert "Record isolation, vacuum" in text
    assert "Record isolation, air" not in text


def test_what_is_to_come_is_apart_dated_and_forecasts_are_marked(shown):
    (vehicle,) = fleet(1)
    log_usage(
        by=None,
        vehicle=vehicle,
        first=day("2026-04-01"),
        last=day("2026-05-09"),
        miles=100,
        days=9,
    )

    text = words(shown(vehicle))

    begin = text.index("Coming, if nothing more is done")
    assert "From 6 March 2027: Air brake test: overrun" in text[begin:]


def test_advice_is_kept_apart_from_what_is_outstanding(shown):
    make_practice()
    vehicle = coach("T 101", tested="2026-03-05")
    defects.raise_defect(
        by=None,
        person=person(),
        title="Paint flaking",
        on=on("2026-05-01"),
        vehicle=vehicle,
        scope="air_brake",
        effect="advise",
    )

    answer = shown(vehicle)

    assert standing(answer).startswith(f"Air {FIT}")
    text = plain(part(answer, "outstanding"))
    assert "Nothing outstanding is recorded for this day. Advice (1)" in text
    assert "Paint flaking" in text


def test_cautions_stand_where_work_is_described(shown):
    (vehicle,) = fleet(1)

    for name in ("movement", "drain_and_vent", "after_work"):
        assert caution(name).text in words(shown(vehicle))


# Diagram and lists ------------------------------------------------------------------------


@pytest.mark.parametrize("fitted", [True, False])
def test_every_position_of_the_type_is_a_link_in_the_diagrams(shown, fitted):
    type_ = make_type("dual", positions=air_places() + vacuum_places())
    vehicle = make_vehicle(type=type_, vacuum=Fitment.BRAKED)
    if fitted:
        equip(vehicle)

    text = main(shown(vehicle))

    drawn = "".join(
        re.findall(r'<figure class="diagram">.*?</figure>', text, re.DOTALL)
    )
    leads = {href for _, href in links(drawn)}
    codes = [place["code"] for place in air_places() + vacuum_places()]
    assert leads == {
        reverse("register:position", args=[vehicle.pk, code]) for code in codes
    }


def test_the_diagram_shows_what_a_position_is_in(shown):
    vehicle = dual_coach("T 107")
    chafed(vehicle)
    make_isolation(vehicle=vehicle, since=on("2026-05-06"))
    text = main(shown(vehicle))

    def drawn(position):
        found = re.search(rf'data-position="{position}".*?</a>', text, re.DOTALL)
        label = re.search(rf'aria-label="([^"]*)" data-position="{position}"', text)
        return found.group(), label.group(1)

    assert "Brake pipe hose chafed" in drawn("bp-hose-1")[1]
    assert "not to run" in drawn("bp-hose-1")[1]
    assert "overrun" in drawn("distributor")[1]
    assert "isolated" in drawn("distributor-cock")[1]


def test_the_lists_lead_to_each_item_test_defect_and_requirement(shown):
    vehicle = dual_coach("T 107")
    defect = chafed(vehicle)
    record = make_test(vehicle=vehicle, on=on("2026-05-05"))

    answer = shown(vehicle)

    places = rows(part(answer, "fittings"))
    assert [row["Position"] for row in places][:1] == [
        "Brake pipe hose, No. 1 end finding 1"
    ]
    assert all(re.fullmatch(r"N\d{5}", row["Item"]) for row in places[:1])
    assert record.test.get_absolute_url() in part(answer, "tests")
    assert defect.get_absolute_url() in part(answer, "defects")
    due = rows(part(answer, "due"))
    assert due[0] == {
        "Requirement": "dv-overhaul Distributor overhaul",
        "Of": "Distributor",
        "Due": "20 Apr 2026 past",
        "Last good day": "20 Apr 2026",
        "Counted": due[0]["Counted"],
    }
    assert "20 Apr 2018" in due[0]["Counted"]
    assert due[1]["Requirement"] == "annual Air brake test"
    assert due[1]["Of"] == "vehicle"


def test_an_empty_position_is_named_as_that(shown):
    make_practice()
    vehicle = make_vehicle(type=make_type("short", positions=air_places()[:1]))

    (place,) = rows(part(shown(vehicle), "fittings"))

    assert place == {
        "Position": "Brake pipe hose, No. 1 end finding 1",
        "Item": "empty",
        "Made": "\N{EN DASH}",
        "Fitted": "\N{EN DASH}",
    }


def test_the_first_drawing_of_a_type_counts_for_the_time_before_it(shown):
    late = make_type(
        "late", effective_from=day("2027-01-01"), positions=air_places()[:1]
    )
    vehicle = make_vehicle(type=late)

    places = rows(part(shown(vehicle), "fittings"))

    assert [row["Position"] for row in places] == [
        "Brake pipe hose, No. 1 end finding 1"
    ]


def test_the_log_says_who_recorded_what_newest_first(shown, planner):
    (vehicle,) = fleet(1)
    alter_vehicle(by=planner, vehicle=vehicle, since=on("2026-05-01"), tare_t="34.50")

    answer = shown(vehicle)

    log = plain(part(answer, "history"))
    assert log.index("Particulars changed") < log.index("Test recorded")
    assert log.index("Test recorded") < log.index("Vehicle entered in the register")
    assert str(planner) in log
    assert "34.5 t" in words(answer)


# Who may ----------------------------------------------------------------------------------

BUTTONS = {
    "Record a test": {"fitter", "planner", "manager", "administrator"},
    "Raise a defect": {"fitter", "planner", "manager", "administrator"},
    "Record isolation, air": {"fitter", "planner", "manager", "administrator"},
    "Issue statement": {"manager", "administrator"},
    "Print draft statement": {"fitter", "planner", "manager", "administrator"},
    "Log usage": {"fitter", "planner", "manager", "administrator"},
    "Take in hand": {"fitter", "planner", "manager", "administrator"},
    "Exchange": {"fitter", "planner", "manager", "administrator"},
    "Open the defect": {"fitter", "planner", "manager", "administrator"},
    "Alter particulars": {"planner", "manager", "administrator"},
    "Put into storage": {"planner", "manager", "administrator"},
    "Release to traffic": {"manager", "administrator"},
}


def test_each_role_sees_the_buttons_it_may_press_and_train_crew_none(client, people):
    vehicle = dual_coach("T 107")
    chafed(vehicle)
    defects.start_work(
        by=None, person=person(), vehicle=vehicle, what="Hose", since=on("2026-05-09")
    )

    for role, user in people.items():
        client.force_login(user)
        text = main(client.get(reverse("web:vehicle", args=[vehicle.pk])))
        there = {words_of for words_of, _ in links(text)}
        expected = {words_of for words_of, roles in BUTTONS.items() if role in roles}
        assert there & set(BUTTONS) == expected, role
        pressed = re.findall(r'<a class="button[^"]*" href="([^"]+)"', text)
        for href in pressed:
            opened = client.get(href.replace("&amp;", "&"))
            assert opened.status_code == 200, href
            if role == "train_crew":  # may look and reckon; nothing it opens records
                assert 'method="post"' not in main(opened), href


# Cost -------------------------------------------------------------------------------------

MOST_QUERIES = 30  # about ten are the vehicle's file; the rest, a list or a lookup each


def equipped(places, tests):
    """A vehicle of so many positions, with so many tests and defects."""
    type_ = make_type(f"of-{len(places)}", positions=places)
    vehicle = make_vehicle(type=type_, main_reservoir_pipe=MainReservoirPipe.FEEDING)
    equip(vehicle)
    for n in range(tests):
        make_test(vehicle=vehicle, on=on(f"2026-03-{n + 1:02d}"))
        chafed(vehicle, f"2026-04-{n + 1:02d}")
    return vehicle


def test_the_page_asks_as_often_for_much_equipment_as_for_little(shown):
    make_practice()
    little, much = equipped(air_places()[:2], 1), equipped(air_places(), 6)
    shown(little)  # the practice is read once, for all

    asked = {}
    for vehicle in (little, much):
        with CaptureQueriesContext(connection) as queries:
            shown(vehicle)
        asked[vehicle] = len(queries)

    assert asked[little] == asked[much] <= MOST_QUERIES
