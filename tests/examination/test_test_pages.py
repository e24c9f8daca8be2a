"""Pages of tests and procedures, from the address to what stands on them."""

import datetime as dt
import uuid

import pytest
from django.urls import reverse

from fleet.engineering.calendar import Moment
from fleet.examination.models import TestRecord
from fleet.examination.services import correct_test, retract_test, revise_procedure
from fleet.people.access import person_of
from fleet.records.clock import today
from fleet.register.vocabulary import Fitment
from tests.examination.factories import (
    TESTED,
    air_test_lines,
    good_readings,
    make_bench_test,
    make_item_test,
    make_person,
    make_procedure,
    make_test,
    measured,
)
from tests.register.factories import make_equipment, make_vehicle

pytestmark = pytest.mark.django_db

RECORDERS = {"fitter", "planner", "manager", "administrator"}
ADD = "/tests/add/"


def sheet_address(vehicle, procedure):
    """Where the form of a test is."""
    return f"{ADD}?vehicle={vehicle.pk}&procedure={procedure.code}"


def answers(procedure, **changes):
    """What a browser sends for a good air test, some fields changed."""
    revision = procedure.revisions.order_by("number").first()
    sent = {
        "submission": str(uuid.uuid4()),
        "revision": revision.pk,
        "on_day": "2026-03-05",
        "on_time": "14:30",
        "done_by": make_person().pk,
        "line_1_value": "0.1",
        "line_1_unit": "bar/min",
        "line_2_value": "18",
        "line_2_unit": "s",
        "line_3_answer": "met",
        "line_4_value": "",
        "line_4_unit": "mm",
    }
    return {key: value for key, value in (sent | changes).items() if value is not None}


def text_of(response):
    """The words of a page."""
    return response.content.decode()


@pytest.fixture
def page(client, fitter):
    """A fitter's browser."""
    client.force_login(fitter)
    return client


def test_everyone_signed_in_may_look_and_these_roles_may_record(client, people):
    test = make_test().test
    looking = ["/tests/", f"/tests/{test.pk}/", "/procedures/", "/procedures/svt-air/"]
    recording = [ADD, f"/tests/{test.pk}/correct/", f"/tests/{test.pk}/retract/"]

    answers = {}
    for role, user in people.items():
        client.force_login(user)
        answers[role] = (
            {client.get(address).status_code for address in looking},
            {client.get(address).status_code for address in recording},
        )

    assert answers == {
        role: ({200}, {200} if role in RECORDERS else {403}) for role in people
    }


def test_train_crew_is_offered_no_recording(client, train_crew):
    test = make_test().test
    client.force_login(train_crew)

    assert "Record a test" not in text_of(client.get("/tests/"))
    assert "Correct this test" not in text_of(client.get(f"/tests/{test.pk}/"))


def test_a_form_sent_by_train_crew_records_nothing(client, train_crew):
    vehicle, procedure = make_vehicle(), make_procedure()
    client.force_login(train_crew)

    sent = client.post(sheet_address(vehicle, procedure), answers(procedure))

    assert sent.status_code == 403
    assert not TestRecord.objects.exists()


@pytest.mark.parametrize("tests", [1, 7])
def test_the_list_of_tests_costs_the_same_for_few_and_many(
    page, django_assert_num_queries, tests
):
    for _ in range(tests):
        make_test()
        make_item_test()

    with django_assert_num_queries(
        8
    ):  # account 2, rights 2, choices, count, rows, cited
        page.get("/tests/")


@pytest.mark.parametrize("procedures", [1, 7])
def test_the_list_of_procedures_costs_the_same_for_few_and_many(
    page, django_assert_num_queries, procedures
):
    for number in range(procedures):
        make_procedure(f"svt-{number}")

    with django_assert_num_queries(4):  # session, account, count, rows
        page.get("/procedures/")


@pytest.mark.parametrize("lines", [1, 7])
def test_the_page_and_the_form_of_a_test_cost_the_same_for_few_and_many_lines(
    page, fitter, django_assert_num_queries, lines
):
    person_of(fitter)
    asked = [measured(f"Stroke {n}", "length", "mm", 85) for n in range(lines)]
    procedure = make_procedure("strokes", lines=asked)
    record = make_test(procedure=procedure)
    correct_test(
        by=None, record=record, reason="misread", readings=good_readings(procedure)
    )

    with django_assert_num_queries(11):
        page.get(f"/tests/{record.test_id}/")
    with django_assert_num_queries(15):
        page.get(sheet_address(record.vehicle, procedure))


def numbers_on(response):
    """The vehicles and items a list shows."""
    return {
        row.record.vehicle_number or row.record.item_serial
        for row in response.context["table"].rows
    }


def test_the_list_is_narrowed_by_vehicle_item_procedure_result_and_days(page):
    coach = make_test(vehicle=make_vehicle(number="T 901"))
    slow = [{"line": 2, "value": "28", "unit": "s"}]
    make_test(vehicle=make_vehicle(number="T 902"), readings=slow)
    make_item_test(
        equipment=make_equipment(serial="D-33"), on=Moment.on(dt.date(2024, 5, 1))
    )
    found = {
        query: numbers_on(page.get(f"/tests/?{query}"))
        for query in (
            "",
            "vehicle=901",
            "equipment=d-33",
            f"procedure={coach.procedure_revision.procedure_id}",
            "result=passed",
            "result=failed",
            "result=incomplete",
            "last=2025-01-01",
            "first=2025-01-01",
        )
    }

    assert list(found.values()) == [
        {"T 901", "T 902", "D-33"},
        {"T 901"},
        {"D-33"},
        {"T 901", "T 902"},
        {"T 901", "D-33"},
        {"T 902"},
        set(),
        {"D-33"},
        {"T 901", "T 902"},
    ]


def test_a_page_of_a_test_shows_reading_limit_verdict_and_source(page):
    readings = good_readings(make_procedure())
    readings[1] |= {"value": "28.0", "note": "second try"}
    record = make_test(readings=readings, done_by=make_person("Robin Ashdown"))

    shown = text_of(page.get(f"/tests/{record.test_id}/"))

    assert "Failed: 1 line not met" in shown
    assert "28.0 s, limit 15 to 20 s" in shown
    assert "second try" in shown
    assert "Air brake: brake to be isolated" in shown
    assert "operator&#x27;s own" in shown
    assert "Robin Ashdown" in shown
    assert "No criterion set" in shown
    assert "Before anyone goes on or under the vehicle" in shown


def test_a_page_of_a_test_shows_a_line_nobody_answered(page):
    record = make_test(readings=[])

    shown = text_of(page.get(f"/tests/{record.test_id}/"))

    assert "Not complete: 3 unanswered" in shown
    assert shown.count("Not answered") == 3


def test_both_versions_of_a_corrected_test_are_shown(page):
    slow = [{"line": 2, "value": "28", "unit": "s"}]
    record = make_test(readings=slow)
    right = good_readings(make_procedure())
    correct_test(by=None, record=record, reason="misread the watch", readings=right)

    shown = text_of(page.get(f"/tests/{record.test_id}/"))

    assert "28 s, limit 15 to 20 s" in shown
    assert "15.0000 s" not in shown
    assert "15 s, limit 15 to 20 s" in shown
    assert "misread the watch" in shown
    assert "superseded by entry" in shown


def test_a_retracted_test_says_so_and_offers_nothing_more(page):
    record = make_test()
    retract_test(by=None, record=record, reason="wrong vehicle")

    shown = text_of(page.get(f"/tests/{record.test_id}/"))

    assert "Retracted: wrong vehicle. It counts no more." in shown
    assert "Correct this test" not in shown
    assert page.get(f"/tests/{record.test_id}/correct/").status_code == 302


def test_one_looks_for_what_was_tested_by_its_number(page):
    vehicle, item = make_vehicle(number="T 107"), make_equipment(serial="D-1071")

    shown = text_of(page.get(f"{ADD}?q=107"))

    assert f"{ADD}?vehicle={vehicle.pk}" in shown
    assert f"{ADD}?equipment={item.pk}" in shown
    assert "Nothing bears a number" in text_of(page.get(f"{ADD}?q=999"))


def test_only_procedures_for_what_the_vehicle_has_are_offered(page):
    make_procedure("air")
    make_procedure("vacuum", title="Vacuum brake test", scopes=["vacuum_brake"])
    make_procedure("handbrake", title="Handbrake test", scopes=["hand_brake"])
    make_bench_test()
    vehicle = make_vehicle(
        air=Fitment.NONE, vacuum=Fitment.BRAKED, main_reservoir_pipe="none"
    )

    offered = page.get(f"{ADD}?vehicle={vehicle.pk}").context["suited"]

    assert [r.procedure.code for r in offered] == ["handbrake", "vacuum"]


def test_only_procedures_for_its_kind_are_offered_for_an_item(page):
    make_procedure()
    make_bench_test()
    make_bench_test("bench-any", kind="", title="Visual examination")
    make_bench_test("bench-hose", kind="bp_hose", title="Hose test")
    item = make_equipment("distributor")

    offered = page.get(f"{ADD}?equipment={item.pk}").context["suited"]

    assert [r.procedure.code for r in offered] == ["bench-dv", "bench-any"]


@pytest.mark.parametrize(
    "query",
    ["vehicle=987654", "vehicle=x", "equipment=987654", "vehicle={pk}&procedure=none"],
)
def test_an_address_that_names_nothing_is_not_found(page, query):
    vehicle = make_vehicle()

    assert page.get(f"{ADD}?{query.format(pk=vehicle.pk)}").status_code == 404


def test_the_form_shows_limits_cautions_and_what_was_found_before(page, fitter):
    procedure = make_procedure()
    readings = good_readings(procedure)
    readings[1] |= {"value": "17.5"}
    vehicle = make_test(readings=readings).vehicle

    response = page.get(sheet_address(vehicle, procedure))

    shown = text_of(response)
    assert "Limit: <strong>15 to 20 s</strong>" in shown
    assert "Last time: 17.5 s, met" in shown
    assert "the reading is recorded, not judged" in shown
    assert "The local maintenance instruction governs" in shown
    assert "Before anyone goes on or under the vehicle" in shown
    assert "does not count as following it" in shown
    assert response.context["form"].initial["done_by"] == person_of(fitter)


def test_the_form_records_the_test_and_leads_to_its_page(page, fitter):
    vehicle, procedure = make_vehicle(), make_procedure()

    response = page.post(
        sheet_address(vehicle, procedure),
        answers(procedure, instruments="G 14", ambient_c="-2.5", remarks="windy"),
    )

    record = TestRecord.objects.get()
    assert response["Location"] == f"/tests/{record.test_id}/"
    assert (record.passed, record.vehicle) == (True, vehicle)
    assert record.on == Moment.on(dt.date(2026, 3, 5), dt.time(14, 30))
    assert (record.instruments, str(record.ambient_c)) == ("G 14", "-2.5")
    assert record.opened_by.user == fitter


def test_the_form_sent_twice_is_one_test(page):
    vehicle, procedure = make_vehicle(), make_procedure()
    sent = answers(procedure)

    first = page.post(sheet_address(vehicle, procedure), sent)
    second = page.post(sheet_address(vehicle, procedure), sent)

    assert TestRecord.objects.count() == 1
    assert first["Location"] == second["Location"]


def mistakes_of(page, vehicle, procedure, **changes):
    """What the page says when these answers are sent; nothing may be stored."""
    response = page.post(
        sheet_address(vehicle, procedure), answers(procedure, **changes)
    )
    assert response.status_code == 200
    assert not TestRecord.objects.exists()
    return response, {m.anchor: m.sentence for m in response.context["form"].mistakes()}


@pytest.mark.parametrize(
    ("changes", "anchor", "said"),
    [
        pytest.param(
            {"line_2_unit": "bar"}, "line-2", "bar is not a unit of time", id="unit"
        ),
        pytest.param({"line_2_value": "3,5"}, "line-2", "with a point", id="comma"),
        pytest.param({"line_2_value": ""}, "line-2", "Answer this line", id="blank"),
        pytest.param({"line_3_answer": None}, "line-3", "Answer this", id="no answer"),
        pytest.param(
            {"line_3_answer": "not_done"}, "line-3", "why it was not done", id="reason"
        ),
        pytest.param(
            {"line_3_answer": "nearly"}, "line-3", "valid choice", id="made up"
        ),
        pytest.param({"on_day": "2090-01-01"}, "at-on", "has been", id="future"),
        pytest.param({"on_day": ""}, "at-on", "Enter", id="no day"),
        pytest.param({"on_day": "2001-05-01"}, "at-on", "not yet in force", id="early"),
        pytest.param({"done_by": ""}, "at-done_by", "required", id="nobody"),
    ],
)
def test_what_is_wrong_is_said_at_its_place_and_nothing_is_stored(
    page, changes, anchor, said
):
    response, mistakes = mistakes_of(page, make_vehicle(), make_procedure(), **changes)

    assert said in mistakes[anchor]
    assert f'href="#{anchor}"' in text_of(response)
    assert f'id="{anchor}"' in text_of(response)


def test_a_mistake_loses_nothing_that_was_typed(page):
    response, _ = mistakes_of(
        page,
        make_vehicle(),
        make_procedure(),
        line_1_value="0.15",
        line_2_value="eighteen",
        line_3_answer="not_met",
        line_3_note="second step missing",
        remarks="in the rain",
    )

    shown = text_of(response)
    for typed in ("0.15", "eighteen", "second step missing", "in the rain", "14:30"):
        assert typed in shown


def test_a_test_for_a_vehicle_by_a_bench_procedure_is_refused_on_the_page(page):
    procedure = make_bench_test()
    changes = dict.fromkeys(("line_2_value", "line_3_answer"))

    response, _ = mistakes_of(
        page, make_vehicle(), procedure, line_1_value="18", line_1_unit="s", **changes
    )

    assert "is carried out on an item of equipment" in text_of(response)


def revised(procedure, lines):
    """The procedure with other lines from tomorrow on."""
    return revise_procedure(
        by=None,
        procedure=procedure,
        title="Single-vehicle air brake test",
        source="operator's own",
        effective_from=today() + dt.timedelta(days=1),
        lines=lines,
        reason="one line more",
    )


def test_a_day_under_another_revision_brings_its_lines_and_keeps_what_was_typed(
    page, time_machine
):
    time_machine.move_to("2026-02-01 12:00Z")
    procedure, vehicle = make_procedure(), make_vehicle()
    new = measured("Brake cylinder pressure", "pressure", "bar", "3.7", "3.9")
    revision = revised(procedure, [new, *air_test_lines()])
    time_machine.move_to("2026-11-20 12:00Z")

    response = page.post(sheet_address(vehicle, procedure), answers(procedure))

    form = response.context["form"]
    assert form.of == revision
    assert "revision 2 of the procedure was in force" in form.errors["on"][0]
    assert form["line_3_value"].value() == "18"
    assert not TestRecord.objects.exists()

    again = answers(
        procedure, revision=revision.pk, line_1_value="3.8", line_1_unit="bar"
    )
    again |= {"line_2_value": "0.1", "line_2_unit": "bar/min", "line_4_answer": "met"}
    again |= {"line_3_value": "18", "line_3_unit": "s", "line_3_answer": ""}
    page.post(sheet_address(vehicle, procedure), again)

    assert TestRecord.objects.get().procedure_revision == revision


def test_a_correction_starts_from_what_was_recorded(page):
    record = make_test()

    form = page.get(f"/tests/{record.test_id}/correct/").context["form"]

    assert form["line_2_value"].value() == "15"
    assert form["on"].value() == TESTED
    assert form["done_by"].value() == record.done_by_id


def correction(record, **changes):
    """What a browser sends to correct a test."""
    procedure = record.procedure_revision.procedure
    return answers(
        procedure,
        record=record.pk,
        reason="misread",
        done_by=record.done_by_id,
        **changes,
    )


def test_a_correction_is_recorded_with_its_reason(page):
    record = make_test()

    response = page.post(
        f"/tests/{record.test_id}/correct/", correction(record, line_2_value="28")
    )

    assert response["Location"] == f"/tests/{record.test_id}/"
    newest = TestRecord.objects.current().get()
    assert (newest.reason, newest.passed) == ("misread", False)
    assert newest.replaces == record


def test_a_correction_without_a_reason_is_refused_on_the_page(page):
    record = make_test()
    sent = correction(record) | {"reason": ""}

    response = page.post(f"/tests/{record.test_id}/correct/", sent)

    assert "reason" in response.context["form"].errors
    assert TestRecord.objects.count() == 1


def test_a_correction_of_what_was_corrected_meanwhile_is_refused_on_the_page(page):
    record = make_test()
    page.post(f"/tests/{record.test_id}/correct/", correction(record))

    response = page.post(f"/tests/{record.test_id}/correct/", correction(record))

    assert "superseded meanwhile" in text_of(response)
    assert TestRecord.objects.count() == 2


def test_a_test_dated_by_its_month_can_be_corrected(page):
    record = make_test(on=Moment.parse("2026-03"))
    address = f"/tests/{record.test_id}/correct/"
    assert page.get(address).context["form"]["on"].value() == record.on

    page.post(address, correction(record, on_day="2026-03", on_time=""))

    assert TestRecord.objects.current().get().on == record.on


def test_a_test_is_retracted_with_its_reason(page):
    record = make_test()
    address = reverse("examination:test-retract", args=[record.test_id])
    sent = {"record": record.pk, "submission": str(uuid.uuid4())}
    assert "reason" in page.post(address, sent).context["form"].errors

    page.post(address, sent | {"reason": "wrong vehicle"})

    assert not TestRecord.objects.current().exists()
    assert record.test.records.order_by("pk").last().reason == "wrong vehicle"


def test_the_list_of_procedures_counts_lines_without_a_criterion(page):
    make_procedure()

    (row,) = page.get("/procedures/").context["table"].rows

    assert row.get_cell("line_count") == 4
    assert "1 line" in row.get_cell("without_criterion")


def test_a_procedure_shows_what_a_revision_took_out_and_altered(page):
    procedure = make_procedure()
    lines = air_test_lines()[1:]
    lines[0] |= {"high": "25"}
    revised(procedure, lines)

    shown = page.get(f"/procedures/{procedure.code}/?revision=2")

    changes = shown.context["changes"]
    assert changes.removed == ("Brake pipe leakage (at most 0.2 bar/min)",)
    assert changes.weakened == ("Release time: limit was 15 to 20 s, now 15 to 25 s",)
    assert "Comes into force on" in text_of(shown)


def test_a_procedure_opens_on_the_revision_in_force(page):
    procedure = make_procedure()
    revised(procedure, air_test_lines())

    assert page.get("/procedures/svt-air/").context["shown"].number == 1
    assert page.get("/procedures/svt-air/?revision=9").status_code == 404
