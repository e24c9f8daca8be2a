"""Test certificates: what they say of a record, and who may print them."""

import datetime as dt
from decimal import Decimal
from io import BytesIO
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from pypdf import PdfReader

from fleet.engineering.calendar import Moment
from fleet.examination.instruments import add_instrument, record_calibration
from fleet.examination.services import correct_test, retract_test
from fleet.examination.signing import counter_sign
from fleet.people.models import Person, Skill
from fleet.people.services import grant_competence, retract_competence
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import EquipmentKind
from fleet.reports.answers import Answered
from fleet.reports.certificate import Loaded, certificate_sheet
from fleet.reports.certificate_loading import certificate_of
from fleet.reports.certificate_paper import draw_certificate
from fleet.reports.instrument_part import InstrumentLine
from fleet.reports.loading import printed_at
from fleet.reports.sheet import DASH, Said
from fleet.reports.subject import Subject
from fleet.ui.cautions import caution
from tests.examination.factories import (
    make_person,
    make_procedure,
    make_test,
    measured,
)
from tests.register.factories import (
    make_depot,
    make_equipment,
    make_fitting,
    make_vehicle,
)
from tests.reports.examined import (
    LONG,
    TESTED,
    attach,
    made_thicknesses,
    made_trace,
    make_coach,
    make_full_procedure,
    make_vessel_procedure,
    readings_of,
)

# records, readings, their lines, lines of the procedure, traces, their lines, thicknesses;
# particulars and type revision for the head (2) and for the positions (4); positions;
# counter-signatures, instruments cited
QUERIES = 15
pytestmark = pytest.mark.django_db

AT = dt.datetime(2026, 11, 25, 14, 2, tzinfo=ZoneInfo("Europe/London"))
WRONG = {
    "line_1": {"value": "2.50", "unit": "psi/min"},
    "line_2": {"value": "28.0", "unit": "s"},
    "line_3__cylinder_1": {"value": "140", "unit": "mm"},
    "line_5__handle_2": {"answer": "not_met", "note": "indicator stuck"},
    "line_5__handle_3": None,
    "line_8": {"answer": "not_done", "note": "gauge dropped"},
}


def sheet_of(record):
    return certificate_of(record.test_id, printed=printed_at(AT))


def page(client, test):
    return client.get(reverse("reports:certificate", args=[test]))


def text_of(sheet):
    pages = PdfReader(BytesIO(draw_certificate(sheet))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


@pytest.fixture
def coach():
    return make_coach(3)


@pytest.fixture
def failed(coach):
    """A test with something of everything in it, most of it wrong."""
    procedure = make_full_procedure()
    return make_test(
        procedure=procedure,
        vehicle=coach,
        on=TESTED,
        done_by=make_person(LONG),
        place=make_depot(),
        ambient_c="4.5",
        instruments="G 14, rig 2",
        remarks="Wet day.",
        readings=readings_of(procedure, coach, **WRONG),
    )


@pytest.fixture
def surveyed():
    """The examination of a reservoir with its thicknesses."""
    item = make_equipment(
        EquipmentKind.AUXILIARY_RESERVOIR,
        serial="R 0457",
        designation="AR 100",
        particulars={"minimum_thickness_mm": "4.50"},
    )
    procedure = make_vessel_procedure()
    record = make_test(
        procedure=procedure, equipment=item, on=TESTED, readings=readings_of(procedure)
    )
    attach(made_thicknesses(record))
    return record


def test_every_line_is_told_as_typed_with_its_limit_and_verdict(failed):
    asks = "Pull the handle: the brake applies and the indicator shows"
    place = "Passenger communication, compartment"
    stroke = "Piston stroke"
    isolated = "Air brake: brake to be isolated"

    assert sheet_of(failed).rows == (
        Answered(
            "1",
            "Brake pipe leakage",
            "at most 0.2 bar/min",
            "",
            "2.50 psi/min (0.172 bar/min)",
            "Met",
        ),
        Answered("2", "Release time", "15 to 20 s", "", "28.0 s", "NOT MET", isolated),
        Answered("3", f"As found: {stroke}", "85 to 130 mm"),
        Answered(
            "3", "", "", "Brake cylinder, No. 1 end", "140 mm", "Not met, put right"
        ),
        Answered("4", f"As left: {stroke}", "85 to 130 mm"),
        Answered("4", "", "", "Brake cylinder, No. 1 end", "85 mm", "Met"),
        Answered("5", asks, "Applies, shows, and resets"),
        Answered("5", "", "", f"{place} 1", DASH, "Met"),
        Answered(
            "5", "", "", f"{place} 2", DASH, "NOT MET", f"indicator stuck; {isolated}"
        ),
        Answered("5", "", "", f"{place} 3", DASH, "NOT ANSWERED"),
        Answered("6", "Blocks", "Sound; or Worn unevenly", "", "Sound", "Met"),
        Answered(
            "7",
            "Trace of a full application and release (may be left out)",
            "No criterion set",
            "",
            DASH,
            "Left out",
        ),
        Answered(
            "8",
            "Gauge left at (may be left out)",
            "No criterion set",
            "",
            DASH,
            "Not done",
            "gauge dropped",
        ),
    )


def test_the_particulars_are_those_of_the_day_of_the_test(failed, coach):
    alter_vehicle(
        by=None, vehicle=coach, since=Moment.on(dt.date(2026, 9, 1)), number="T 999"
    )

    sheet = sheet_of(failed)

    assert sheet.head.title == "Test certificate"
    assert sheet.head.subject == "T 901"
    assert sheet.head.status_on == "Tested 5 Mar 2026, 14:20"
    assert sheet.particulars[:-1] == (
        ("Vehicle", "Open coach"),
        (
            "Procedure",
            "Annual air brake test (full-air), revision 1, in force from 1 Jan 2015",
        ),
        ("Source", "operator's own"),
        ("Test", f"No. {failed.test_id}, done 5 Mar 2026, 14:20"),
        ("Done by", LONG),
        ("Place", "Wenlow works"),
        ("Air temperature", "4.5 °C"),
        ("Gauges as noted", "G 14, rig 2"),
    )
    assert sheet.particulars[-1][0] == "Recorded"
    assert sheet.result == Said("Failed: 2 lines not met, 1 unanswered", True)
    assert sheet.remarks == "Wet day."


def test_a_test_of_an_item_says_where_the_item_was(coach):
    item = make_equipment(serial="D 2291", designation="DV 4")
    make_fitting(
        vehicle=coach,
        position="distributor",
        equipment=item,
        since=Moment.on(dt.date(2026, 2, 1)),
    )
    before, after = (
        sheet_of(make_test(equipment=item, on=Moment.on(day)))
        for day in (dt.date(2026, 1, 15), dt.date(2026, 3, 5))
    )

    assert after.head.subject == "D 2291"
    assert after.particulars[:2] == (
        ("Item", "Distributor, DV 4, made May 2014"),
        ("Where", "On T 901, Distributor"),
    )
    assert before.particulars[1] == ("Where", "In store, Wenlow works")


def test_a_correction_stands_beside_what_it_replaced_and_says_what_differs(failed):
    procedure = failed.procedure_revision.procedure
    good = readings_of(procedure, failed.vehicle)
    corrected = correct_test(
        by=None, record=failed, reason="Read off another coach", readings=good
    )

    sheet = sheet_of(corrected)

    assert sheet.result == Said("Passed")
    assert sheet.corrected == (
        "Corrected: Read off another coach. This record counts; the one before it is "
        "printed below, marked as superseded."
    )
    [old] = sheet.superseded
    assert old.title == (
        f"SUPERSEDED by entry {corrected.opened_by.number}: Read off another coach"
    )
    assert "Failed: 2 lines not met, 1 unanswered" in old.facts
    told = {(row.number, row.place): row for row in old.rows}
    release = told["2", ""]
    assert (release.found, release.verdict) == ("28.0 s", "NOT MET")
    assert release.remark.startswith("Altered; ")
    assert told["6", ""].remark == ""


def test_a_retracted_test_says_so_and_shows_what_it_was(failed):
    retract_test(by=None, record=failed, reason="Recorded for the wrong coach")

    sheet = sheet_of(failed)
    text = text_of(sheet)

    assert sheet.retracted.startswith("Recorded for the wrong coach (")
    assert sheet.superseded == ()
    assert "28.0 s" in {row.found for row in sheet.rows}
    assert "RETRACTED: this test counts no more." in text
    assert "Result as it stood: Failed" in text


def test_a_record_corrected_twice_shows_every_version_the_newest_first(failed):
    procedure = failed.procedure_revision.procedure
    readings = readings_of(procedure, failed.vehicle)
    once = correct_test(by=None, record=failed, reason="First", readings=readings)
    correct_test(by=None, record=once, reason="Second", readings=readings)

    reasons = [old.title.split(": ")[1] for old in sheet_of(failed).superseded]

    assert reasons == ["Second", "First"]


def test_a_certificate_reads_nothing_written_after_the_entry_it_names(failed):
    before = printed_at(AT)
    sheet = certificate_of(failed.test_id, printed=before)
    retract_test(by=None, record=failed, reason="Recorded for the wrong coach")

    assert certificate_of(failed.test_id, printed=before) == sheet


def test_a_trace_is_drawn_with_its_points_and_what_lines_take_from_it(failed):
    attach([made_trace(failed)])

    sheet = sheet_of(failed)

    [trace] = sheet.traces
    line = sheet.rows[-2]
    assert (line.found, line.verdict) == ("Trace 1, below", "Recorded")
    assert trace.title == (
        "Trace 1: line 7, Trace of a full application and release (may be left out)"
    )
    assert trace.origin == (
        "logger 7.csv; 300 samples; typed in, s and bar; SHA-256 abababababababab."
    )
    [(name, value, _within)] = trace.found
    assert name == "2. Release time"
    # 6 s x ln(3.8 / 0.4) is 13.5 s from the start of the release to 0.4 bar.
    assert float(value.removesuffix(" s")) == pytest.approx(13.5, abs=0.3)
    text = text_of(sheet)
    for words in ("start of release: ", "released: ", "maximum: ", "limit 15 to 20 s"):
        assert words in text


def test_thicknesses_are_sketched_and_listed_with_the_worst_in_words(surveyed):
    sheet = sheet_of(surveyed)

    [survey] = sheet.surveys
    assert survey.title == "2. Thickness of the wall"
    assert survey.worst == Said(
        "Thinnest: Shell, bottom at the drain, 4.61 mm; least allowed, 4.5 mm by "
        "drawing or plate."
    )
    assert survey.points[2] == (
        "3",
        "Shell, bottom at the drain",
        "4.61 mm",
        "± 0.1 mm",
    )
    assert len(survey.points) == 8
    text = text_of(sheet)
    assert "ringed: thinnest" in text
    assert "Not to scale" in text
    assert sheet.rows[1].found == "8 points, below"


@pytest.mark.parametrize(
    ("thickness", "below"),
    [pytest.param("4.5", False, id="at it"), pytest.param("4.49", True, id="below")],
)
def test_a_wall_below_the_least_allowed_stands_out(thickness, below):
    item = make_equipment(
        EquipmentKind.AUXILIARY_RESERVOIR, particulars={"minimum_thickness_mm": "4.50"}
    )
    procedure = make_vessel_procedure()
    record = make_test(procedure=procedure, equipment=item, readings=[])
    attach(made_thicknesses(record, points=(("Shell, bottom", thickness),)))

    worst = sheet_of(record).surveys[0].worst

    assert worst.grave is below
    assert ("BELOW the least allowed" in worst.words) is below


def fresh(record):
    """The record as a certificate loads it, to be set as services would leave it."""
    return type(record).objects.for_page().get(pk=record.pk)


def sheet_from(record, **loaded):
    subject = Subject("T 901", "Open coach", True)
    return certificate_sheet(
        Loaded(records=[record], subject=subject, **loaded), printed=printed_at(AT)
    )


@pytest.fixture
def skilled(coach):
    """A test by a procedure that needs a competence, done by Ida Brook, who has none."""
    procedure = make_procedure(skill=Skill.AIR)
    person = make_person("Ida Brook")
    record = make_test(procedure=procedure, vehicle=coach, on=TESTED, done_by=person)
    return fresh(record)


def competence(name, skill=Skill.AIR):
    person, _ = Person.objects.get_or_create(name=name)
    return grant_competence(
        by=None,
        person=person,
        skill=skill,
        since=Moment.on(dt.date(2025, 1, 1)),
        last_day=dt.date(2026, 12, 31),
        assessed_by="R. Vane",
    )


NONE_HELD = Said(
    "No competence of Ida Brook in Air brake tests is recorded for that day."
)
NEEDED = Said(
    "COUNTER-SIGNATURE NEEDED by somebody competent in Air brake tests.", True
)
BY_ASH = (
    "9 Mar 2026 by Ash Lowe, assessed on 1 Jan 2025 by R. Vane, good until 31 Dec 2026"
)


def sign(record):
    return counter_sign(
        by=None,
        record=record,
        person=competence("Ash Lowe").competence.person,
        on=Moment.on(dt.date(2026, 3, 9)),
        remark="Readings gone through.",
    )


def test_a_procedure_that_names_no_competence_asks_for_none(coach):
    sheet = sheet_of(make_test(vehicle=coach))

    assert sheet.signing == (Said("The procedure names no competence."),)
    assert not sheet.to_counter_sign


def test_the_competence_of_that_day_stands_on_the_certificate(coach):
    person = competence("Ida Brook").competence.person
    procedure = make_procedure(skill=Skill.AIR)
    record = make_test(procedure=procedure, vehicle=coach, on=TESTED, done_by=person)

    assert sheet_of(record).signing == (
        Said(
            "Competent on that day: Ida Brook, Air brake tests, assessed on 1 Jan 2025 "
            "by R. Vane, good until 31 Dec 2026."
        ),
    )


def test_a_competence_retracted_since_is_told_and_a_signature_asked_for(coach):
    version = competence("Ida Brook")
    person = version.competence.person
    procedure = make_procedure(skill=Skill.AIR)
    record = make_test(procedure=procedure, vehicle=coach, on=TESTED, done_by=person)
    retract_competence(by=None, version=version, reason="Never assessed")

    assert sheet_of(record).signing == (
        Said(
            "The competence of Ida Brook in Air brake tests that was recorded then has "
            "been corrected or retracted since; it does not cover that day."
        ),
        NEEDED,
    )


def test_without_a_competence_a_counter_signature_is_asked_for(skilled):
    sheet = sheet_of(skilled)

    assert sheet.signing == (NONE_HELD, NEEDED)
    assert sheet.to_counter_sign
    assert "Counter-signed by" in text_of(sheet)


def test_a_counter_signature_takes_the_place_of_the_competence(skilled):
    sign(skilled)

    sheet = sheet_of(skilled)

    assert sheet.signing == (
        NONE_HELD,
        Said(f"Counter-signed {BY_ASH}. Readings gone through."),
    )
    assert not sheet.to_counter_sign


def test_a_corrected_test_wants_another_counter_signature(skilled):
    sign(skilled)
    correct_test(by=None, record=skilled, reason="Misread", readings=[])

    assert sheet_of(skilled).signing == (
        NONE_HELD,
        Said(f"The record before this correction was counter-signed {BY_ASH}."),
        NEEDED,
    )


def gauge(number="G 14"):
    return add_instrument(
        by=None,
        number=number,
        what="Test gauge 0 to 10 bar",
        since=Moment.on(dt.date(2020, 1, 1)),
        quantity="pressure",
        unit="bar",
        range_low=Decimal(0),
        range_high=Decimal(10),
        accuracy_class=Decimal("1.0"),
    )


def calibrated(instrument, on, error="0.02"):
    return record_calibration(
        by=None,
        instrument=instrument,
        on=Moment.on(on),
        as_found_error=Decimal(error),
        as_left_error=Decimal("0.02"),
        certificate="C 88",
    )


def cited(record, instrument):
    """The record with every reading citing an instrument; where a value was read."""
    for reading in record.readings.all():
        if reading.value is not None:
            reading.instrument = instrument
    return record


def instruments_of(record, instrument):
    [line] = sheet_from(
        cited(record, instrument),
        instruments=list(instrument.versions.current()),
        calibrations=list(instrument.calibrations.current()),
    ).instruments
    return line


def test_an_instrument_is_named_with_its_calibration_and_last_good_day(skilled):
    instrument = gauge()
    calibrated(instrument, dt.date(2025, 9, 1))

    assert instruments_of(skilled, instrument) == InstrumentLine(
        number="G 14",
        what="Test gauge 0 to 10 bar, class 1",
        lines="1, 2, 4",
        calibrated="1 Sep 2025, C 88",
        good_until="1 Sep 2026",
        standing=Said("In calibration"),
    )


@pytest.mark.parametrize(
    ("calibrations", "words"),
    [
        pytest.param([], "not calibrated before", id="never"),
        pytest.param(
            [(dt.date(2024, 9, 1), "0.02")],
            "out of calibration, last good day 1 Sep 2025",
            id="lapsed",
        ),
        pytest.param(
            [(dt.date(2025, 9, 1), "0.02"), (dt.date(2026, 9, 1), "0.5")],
            "found wrong when calibrated on 1 Sep 2026",
            id="found wrong later",
        ),
    ],
)
def test_an_instrument_in_doubt_stands_out_with_the_reason(
    skilled, calibrations, words
):
    instrument = gauge()
    for on, error in calibrations:
        calibrated(instrument, on, error)

    standing = instruments_of(skilled, instrument).standing

    assert standing == Said(f"IN DOUBT: {words}", True)


def test_a_lapsed_gauge_found_good_at_the_next_calibration_is_told_so(skilled):
    instrument = gauge()
    calibrated(instrument, dt.date(2024, 9, 1))
    calibrated(instrument, dt.date(2026, 9, 1))

    standing = instruments_of(skilled, instrument).standing

    assert standing == Said("Calibration lapsed; found good at the next calibration")


def test_the_cautions_of_the_procedure_stand_on_the_certificate(failed):
    text = text_of(sheet_of(failed))

    for key in (
        "movement",
        "drain_and_vent",
        "after_work",
        "local_instruction",
        "statutory",
    ):
        assert caution(key).title in text
        assert caution(key).text in text
    assert "It is not permission to move." in text


def test_the_same_record_gives_the_same_bytes(failed, surveyed):
    attach([made_trace(failed)])

    for record in (failed, surveyed):
        sheet = sheet_of(record)
        assert draw_certificate(sheet) == draw_certificate(sheet)


def test_every_page_is_numbered_and_thirty_places_run_over(failed):
    coach = make_coach(30, number="T 930")
    procedure = failed.procedure_revision.procedure
    record = make_test(
        procedure=procedure, vehicle=coach, readings=readings_of(procedure, coach)
    )

    sheet = sheet_of(record)
    pages = PdfReader(BytesIO(draw_certificate(sheet))).pages

    assert sum(bool(row.place) for row in sheet.rows) == 32
    assert len(pages) > 1
    for number, shown in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in shown.extract_text()
    assert "compartment 30" in pages[-1].extract_text()


def test_no_words_however_odd_keep_a_certificate_from_being_printed(coach):
    odd = "<b>&amp;</font> 汉字 " + "x" * 150
    record = make_test(
        vehicle=coach,
        done_by=make_person(odd[:120]),
        instruments=odd,
        remarks="word " * 600 + odd * 10,
    )

    text = text_of(sheet_of(record))

    assert "<b>&amp;</font>" in text


def test_who_may_print_a_certificate(client, people, failed):
    answers = {}
    for role, user in people.items():
        client.force_login(user)
        answers[role] = page(client, failed.test_id).status_code

    assert answers == {
        "fitter": 200,
        "planner": 200,
        "manager": 200,
        "administrator": 200,
        "train_crew": 403,
    }


def test_a_certificate_is_a_pdf_named_for_its_test(client, fitter, failed):
    client.force_login(fitter)

    answer = page(client, failed.test_id)

    assert answer["Content-Type"] == "application/pdf"
    name = f"test-{failed.test_id}-t-901.pdf"
    assert answer["Content-Disposition"] == f'inline; filename="{name}"'
    assert "no-store" in answer["Cache-Control"]


def test_a_test_there_is_not_has_no_certificate(client, fitter):
    client.force_login(fitter)

    assert page(client, 404).status_code == 404


def test_the_page_of_a_test_leads_to_its_certificate(
    client, fitter, train_crew, failed
):
    address = reverse("reports:certificate", args=[failed.test_id])
    shown = {}
    for user in (fitter, train_crew):
        client.force_login(user)
        answer = client.get(reverse("examination:test", args=[failed.test_id]))
        shown[user] = f'href="{address}"' in answer.content.decode()

    assert shown == {fitter: True, train_crew: False}


@pytest.mark.parametrize("handles", [1, 12])
def test_a_certificate_asks_as_many_questions_of_any_record(
    django_assert_num_queries, handles
):
    procedure = make_full_procedure()
    coach = make_coach(handles)
    readings = readings_of(procedure, coach)
    record = make_test(procedure=procedure, vehicle=coach, readings=readings)
    for n in range(handles // 6):
        record = correct_test(
            by=None, record=record, reason=f"Again {n}", readings=readings
        )
    attach([made_trace(record) for _ in range(handles)])
    printed = printed_at(AT)

    with django_assert_num_queries(QUERIES):
        sheet = certificate_of(record.test_id, printed=printed)

    assert len(sheet.traces) == handles
    assert len(sheet.superseded) == handles // 6


def test_a_certificate_says_how_what_was_measured_wears_and_which_limit_is_passed():
    blocks = measured("Block thickness", "length", "mm", "15", condemned="10")
    procedure = make_procedure("rigging", title="Rigging", lines=[blocks])
    vehicle = make_vehicle()
    days = [dt.date(2024, 3, 5), dt.date(2025, 3, 5), dt.date(2026, 3, 5)]
    records = [
        make_test(
            procedure=procedure,
            vehicle=vehicle,
            on=Moment.on(day),
            readings=[{"line": 1, "value": value, "unit": "mm"}],
        )
        for day, value in zip(days, ("30", "25", "12"), strict=True)
    ]

    text = text_of(sheet_of(records[-1]))

    assert "Wear: Block thickness" in text
    assert "Not to be released" in text
    assert "not to be released, though not yet condemned below 10 mm" in text
    earlier = sheet_of(records[1]).wears[0]
    assert [day for day, _mm in earlier.readings] == ["5 Mar 2025", "5 Mar 2024"]
