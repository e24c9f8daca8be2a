"""Judging in the browser as readings are typed, and the form on a phone."""

import datetime as dt

import pytest

from fleet.examination.models import TestRecord
from fleet.register.vocabulary import Effect, Scope
from tests.examination.factories import (
    air_test_lines,
    good_readings,
    make_person,
    make_procedure,
    make_test,
    measured,
)
from tests.register.factories import make_vehicle

pytestmark = pytest.mark.django_db(transaction=True)

PHONE, DESK = 390, 1280


def long_test_lines():
    """The lines of the air test, and more quantities beside."""
    return [
        *air_test_lines(),
        measured(
            "Brake cylinder pressure, full application", "pressure", "bar", "3.7", "3.9"
        ),
        measured("Temperature of the gauge", "temperature", "°C", "-10", "40"),
        measured(
            "Vacuum created",
            "vacuum",
            "inHg",
            "21",
            scope=Scope.VACUUM_BRAKE,
            effect_failed=Effect.DISCOUNT,
        ),
        measured("Hangers seen with split pins", "count", "", "8"),
    ]


@pytest.fixture
def sheet(page_at, fitter):
    """Open the form of an air test of a vehicle tested before."""
    make_person("Robin Ashdown")
    procedure = make_procedure(lines=long_test_lines())
    readings = good_readings(procedure)
    readings[1] |= {"value": "17.5"}
    vehicle = make_vehicle(number="T 107")
    make_test(procedure=procedure, vehicle=vehicle, readings=readings)

    def open_sheet(width_px):
        page = page_at(width_px, fitter)
        page.goto(f"/tests/add/?vehicle={vehicle.pk}&procedure={procedure.code}")
        return page

    return open_sheet


def type_into(page, order, value, unit=None):
    """Type a reading into a line; return what is said beside it."""
    if unit:
        page.select_option(f"[name=line_{order}_unit]", unit)
    page.fill(f"[name=line_{order}_value]", value)
    return page.text_content(f"#line-{order} [data-verdict]")


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_of_what_wears_the_page_says_which_limit_is_passed(page_at, fitter, width):
    blocks = measured("Block thickness", "length", "mm", "15", condemned="10")
    procedure = make_procedure("rigging", lines=[blocks])
    page = page_at(width, fitter)
    page.goto(f"/tests/add/?vehicle={make_vehicle().pk}&procedure={procedure.code}")

    said = {value: type_into(page, 1, value) for value in ("15", "12", "10", "9.9")}

    not_yet = "; not to be released, though not yet condemned below 10 mm"
    assert said == {
        "15": "Met: 15 mm, limit at least 15 mm",
        "12": f"Not met: 12 mm, limit at least 15 mm{not_yet}",
        "10": f"Not met: 10 mm, limit at least 15 mm{not_yet}",
        "9.9": "Not met: 9.9 mm, limit at least 15 mm; condemned",
    }


def test_cautions_fold_on_a_phone_and_stand_open_at_a_desk(page_at, fitter):
    keys = ["movement", "drain_and_vent", "after_work"]
    procedure = make_procedure("folded", cautions=keys)
    address = f"/tests/add/?vehicle={make_vehicle().pk}&procedure={procedure.code}"
    shown = {}
    for width in (PHONE, DESK):
        page = page_at(width, fitter)
        page.goto(address)
        told = [
            page.get_by_text(start) for start in ("See it protected", "Isolate this")
        ]
        shown[width] = [one.is_visible() for one in told]
        if width == PHONE:
            page.get_by_text("Before hands go near").first.click()
            assert told[1].is_visible()

    assert shown == {PHONE: [True, False], DESK: [True, True]}


def test_a_reading_is_judged_as_it_is_typed(sheet):
    expected = {
        (2, "20", "s"): "Met: 20 s, limit 15 to 20 s",  # on the limit
        (2, "20.1", "s"): "Not met: 20.1 s, limit 15 to 20 s",
        (2, "0.3", "min"): "Met: 0.3 min (18 s), limit 15 to 20 s",
        (5, "56", "psi"): "Met: 56 psi (3.861 bar), limit 3.7 to 3.9 bar",
        (6, "14", "°F"): "Met: 14 °F (-10 °C), limit -10 to 40 °C",
        (8, "7", None): "Not met: 7, limit at least 8",  # a count has no unit to show
        (4, "87", "mm"): "87 mm, no limit set: recorded, not judged",
        (2, "3,5", "s"): "Write a number with a point, such as 3.8.",
        (2, "", "s"): "",
    }
    page = sheet(DESK)

    said = {reading: type_into(page, *reading) for reading in expected}

    assert said == expected


def test_the_browser_and_the_register_judge_alike(sheet):
    page = sheet(DESK)
    typed = {
        1: ("0.2", "bar/min"),
        2: ("0.25", "min"),
        5: ("53.6", "psi"),
        6: ("104", "°F"),
        7: ("711.2", "mbar"),
        8: ("8", None),
    }
    said = {
        order: type_into(page, order, value, unit)
        for order, (value, unit) in typed.items()
    }
    page.check("[name=line_3_answer][value=met]")
    page.fill("[name=on_day]", "2026-03-06")

    page.click("text=Record the test")
    page.wait_for_url("**/tests/*/")

    record = TestRecord.objects.latest("pk")
    words = {r.line.order: r for r in record.readings.select_related("line")}
    assert said == {
        order: f"{'Met' if words[order].answer == 'met' else 'Not met'}: "
        f"{words[order].words}"
        for order in typed
    }


def test_the_page_counts_what_is_still_to_answer(sheet):
    page = sheet(DESK)
    assert page.text_content("[data-tally]") == "7 still to answer"

    type_into(page, 2, "28", "s")
    page.check("[name=line_3_answer][value=not_done]")

    assert page.text_content("[data-tally]") == "1 not met, 5 still to answer"


def test_a_line_not_done_asks_for_the_reason(sheet):
    page = sheet(PHONE)
    note = page.locator("[name=line_3_note]")
    assert not note.is_visible()

    page.check("[name=line_3_answer][value=not_done]")

    assert note.is_visible()


def test_now_fills_in_day_and_time(sheet):
    page = sheet(PHONE)

    page.click("text=Now")

    day = page.input_value("[name=on_day]")
    assert dt.date.fromisoformat(day) <= dt.date.max
    assert page.input_value("[name=on_time]")


def test_without_scripts_the_whole_form_works(browser, live_server, fitter):
    from tests.conftest import session_cookie

    vehicle, procedure = make_vehicle(), make_procedure()
    context = browser.new_context(
        base_url=live_server.url, java_script_enabled=False, locale="en-GB"
    )
    context.add_cookies([session_cookie(fitter, live_server.url)])
    page = context.new_page()
    page.goto(f"/tests/add/?vehicle={vehicle.pk}&procedure={procedure.code}")
    page.fill("[name=on_day]", "2026-03-05")
    page.fill("[name=line_1_value]", "0.1")
    page.fill("[name=line_2_value]", "18")
    page.check("[name=line_3_answer][value=met]")

    page.click("text=Record the test")

    assert "Passed" in page.text_content(".result")
    context.close()


def test_a_mistake_is_listed_first_and_its_link_leads_to_the_line(sheet):
    page = sheet(PHONE)
    type_into(page, 2, "eighteen", "s")

    page.click("text=Record the test")

    mistakes = page.locator("#mistakes")
    assert "is not a number" in mistakes.text_content()
    mistakes.get_by_role("link", name="2. Release time").click()
    assert page.url.endswith("#line-2")
    assert page.input_value("[name=line_2_value]") == "eighteen"


def test_on_a_phone_every_target_of_the_form_is_big_and_nothing_runs_off(sheet):
    page = sheet(PHONE)
    page.click("#line-1 summary")

    small = page.evaluate(
        """() => [...document.querySelectorAll(
            "main button, main select, main textarea, main summary, main .answers label,"
            + "main input:not([type=hidden], [type=radio])"
        )].filter((e) => e.checkVisibility() && e.getBoundingClientRect().height < 44)
          .map((e) => e.outerHTML)"""
    )

    assert small == []
    width = page.evaluate("document.documentElement.scrollWidth")
    assert width <= PHONE
