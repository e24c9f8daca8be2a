"""Blank sheets: what they ask, what stood there before, and where their code leads."""

import datetime as dt
from io import BytesIO
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from pypdf import PdfReader
from reportlab.graphics.barcode.qr import QrCodeWidget

from fleet.engineering.calendar import Moment
from fleet.examination.models import Procedure
from fleet.examination.services import revise_procedure
from fleet.examination.subjects import item_tested, vehicle_tested
from fleet.examination.vocabulary import Found, LineKind
from fleet.people.models import Skill
from fleet.register.vocabulary import EquipmentKind
from fleet.reports.asked import NotAsked
from fleet.reports.blank import BlankLine, Box
from fleet.reports.blank_loading import blank_sheet_of
from fleet.reports.blank_paper import draw_blank_sheet
from fleet.reports.loading import printed_at
from fleet.reports.square_code import QUIET, square_code
from fleet.ui.cautions import caution
from tests.examination.factories import (
    air_test_lines,
    make_bench_test,
    make_person,
    make_procedure,
    make_test,
    measured,
)
from tests.register.factories import make_equipment
from tests.reports.examined import (
    TESTED,
    attach,
    line,
    made_thicknesses,
    make_coach,
    make_full_procedure,
    make_vessel_procedure,
    readings_of,
)

pytestmark = pytest.mark.django_db

ON = dt.date(2026, 11, 25)
AT = dt.datetime(2026, 11, 25, 14, 2, tzinfo=ZoneInfo("Europe/London"))
HOME = "https://register.example/"
TICKS = ("Met", "Not met")
STROKE = "Piston stroke"
HANDLE = "Pull the handle: the brake applies and the indicator shows"


def sheet_of(procedure, tested=None, on=ON):
    return blank_sheet_of(procedure, tested, on=on, printed=printed_at(AT), home=HOME)


def page(client, code, **query):
    return client.get(reverse("reports:blank-sheet", args=[code]), query)


def pages_of(pdf):
    pages = PdfReader(BytesIO(pdf)).pages
    return [" ".join(page.extract_text().split()) for page in pages]


@pytest.fixture
def procedure():
    return make_full_procedure(skill=Skill.AIR)


@pytest.fixture
def coach():
    return make_coach(2)


def test_a_sheet_for_a_vehicle_asks_each_line_at_each_of_its_places(procedure, coach):
    sheet = sheet_of(procedure, vehicle_tested(coach.pk))

    place = "Passenger communication, compartment"
    cylinder = (Box("Brake cylinder, No. 1 end", "mm"),)
    assert sheet.lines == (
        BlankLine(
            "1", "Brake pipe leakage", "at most 0.2 bar/min", (Box(unit="bar/min"),)
        ),
        BlankLine(
            "2",
            "Release time",
            "15 to 20 s",
            (Box(unit="s"),),
            "Read off the trace: time to release to the threshold.",
        ),
        BlankLine("3", f"As found: {STROKE}", "85 to 130 mm", cylinder),
        BlankLine("4", f"As left: {STROKE}", "85 to 130 mm", cylinder),
        BlankLine(
            "5",
            HANDLE,
            "Applies, shows, and resets",
            (Box(f"{place} 1", ticks=TICKS), Box(f"{place} 2", ticks=TICKS)),
        ),
        BlankLine(
            "6",
            "Blocks",
            "Sound; or Worn unevenly",
            (Box(ticks=("Sound", "Worn unevenly", "Cracked")),),
        ),
        BlankLine(
            "7",
            "Trace of a full application and release (may be left out)",
            "No criterion set",
            (Box(),),
            "Write the name of the logger's file; it is uploaded with the form.",
        ),
        BlankLine(
            "8",
            "Gauge left at (may be left out)",
            "No criterion set",
            (Box(unit="bar"),),
        ),
    )
    assert sheet.particulars == (
        ("Vehicle", "T 901, Open coach"),
        ("Procedure", "full-air, revision 1, in force from 1 Jan 2015"),
        ("Source", "operator's own"),
        ("Competence needed", "Air brake tests"),
    )
    assert sheet.before == ""


def test_a_sheet_for_any_vehicle_leaves_room_to_write_each_place(procedure):
    lines = {line.number: line for line in sheet_of(procedure).lines}

    assert lines["5"].boxes == (Box(ticks=TICKS),) * 4
    assert lines["5"].hint == "Each passenger communication handle: write which."
    assert lines["5"].open_places
    assert not lines["1"].open_places


def test_a_value_is_read_off_a_trace_only_where_the_procedure_asks_for_one():
    maximum = measured("Maximum", "pressure", "bar", "3.7", "3.9", finds=Found.MAXIMUM)
    trace = line("Trace of an application", LineKind.TRACE)
    alone = make_procedure("alone", lines=[maximum])
    traced = make_procedure("traced", lines=[maximum, trace])

    hints = [sheet_of(procedure).lines[0].hint for procedure in (alone, traced)]

    assert hints == ["", "Read off the trace: maximum pressure."]


def test_a_line_with_no_place_on_the_vehicle_says_so(procedure):
    plain = make_coach(0)

    lines = {
        line.number: line
        for line in sheet_of(procedure, vehicle_tested(plain.pk)).lines
    }

    assert lines["5"].boxes == ()
    assert lines["5"].hint == "None on this vehicle's type."


def test_the_last_values_stand_beside_their_boxes(procedure, coach):
    make_test(
        procedure=procedure,
        vehicle=coach,
        on=TESTED,
        done_by=make_person("Ida Brook"),
        readings=readings_of(
            procedure,
            coach,
            line_2={"value": "28.0", "unit": "s"},
            line_5__handle_2={"answer": "not_met", "note": "indicator stuck"},
        ),
    )

    sheet = sheet_of(procedure, vehicle_tested(coach.pk))

    test = coach.tests.get().test_id
    assert sheet.before == (
        f"“Last” is test {test} of 5 Mar 2026, 14:20 by Ida Brook: failed."
    )
    lines = {line.number: line for line in sheet.lines}
    assert lines["2"].boxes[0].before == "28.0 s, not met"
    assert [box.before for box in lines["5"].boxes] == ["Met", "Not met"]
    assert lines["6"].boxes[0].before == "Sound: met"


def test_a_sheet_for_a_past_day_knows_no_later_values(procedure, coach):
    readings = readings_of(procedure, coach)
    make_test(procedure=procedure, vehicle=coach, on=TESTED, readings=readings)

    before = sheet_of(procedure, vehicle_tested(coach.pk), on=dt.date(2026, 3, 4))

    assert before.before == ""
    assert {box.before for line in before.lines for box in line.boxes} == {""}


def test_a_survey_names_the_points_measured_before_and_leaves_room_for_more():
    item = make_equipment(EquipmentKind.AUXILIARY_RESERVOIR, serial="R 0457")
    procedure = make_vessel_procedure()
    record = make_test(
        procedure=procedure, equipment=item, on=TESTED, readings=readings_of(procedure)
    )
    attach(made_thicknesses(record, points=(("Shell, top", "5.8"), ("End 1", "6.3"))))

    again = sheet_of(procedure, item_tested(item.pk)).lines[1]
    first = sheet_of(procedure).lines[1]

    assert again.boxes == (
        Box("Shell, top", "mm", before="5.8 mm"),
        Box("End 1", "mm", before="6.3 mm"),
        Box(unit="mm"),
        Box(unit="mm"),
    )
    assert first.boxes == (Box(unit="mm"),) * 8
    assert first.hint == "Name each point so that it is found again."


def test_the_revision_is_the_one_in_force_on_the_day(time_machine):
    procedure = make_procedure()
    time_machine.move_to("2026-06-01")
    revise_procedure(
        by=None,
        procedure=procedure,
        title="Single-vehicle air brake test",
        source="operator's own, rev. 2",
        effective_from=dt.date(2026, 7, 1),
        lines=air_test_lines()[:2],
        reason="Shorter",
    )

    old, new = (
        sheet_of(procedure, on=dt.date(2026, *day)) for day in ((6, 30), (7, 1))
    )

    assert (len(old.lines), len(new.lines)) == (4, 2)
    assert old.head.status_on == "Revision 1, as in force on 30 Jun 2026"
    assert new.head.status_on == "Revision 2, as in force on 1 Jul 2026"


@pytest.mark.parametrize(
    ("tested", "query"),
    [
        pytest.param(lambda: None, "procedure=full-air", id="any vehicle"),
        pytest.param(
            lambda: vehicle_tested(make_coach(1).pk),
            "vehicle={}&procedure=full-air",
            id="a vehicle",
        ),
    ],
)
def test_the_code_holds_the_whole_address_of_the_form(procedure, tested, query):
    subject = tested()
    key = subject.vehicle.pk if subject else ""

    address = sheet_of(procedure, subject).address

    assert address == f"https://register.example/tests/add/?{query.format(key)}"
    assert address in " ".join(pages_of(draw_blank_sheet(sheet_of(procedure, subject))))


def test_the_code_opens_the_form_for_that_vehicle_and_procedure(
    client, fitter, procedure, coach
):
    client.force_login(fitter)
    home = "http://testserver/"
    sheet = blank_sheet_of(
        procedure,
        vehicle_tested(coach.pk),
        on=ON,
        printed=printed_at(AT),
        home=home,
    )

    answer = client.get(sheet.address.removeprefix("http://testserver"))

    assert answer.status_code == 200
    assert "T 901" in answer.content.decode()
    assert HANDLE in answer.content.decode()


def test_a_code_for_any_vehicle_keeps_the_procedure_while_the_number_is_asked(
    client, fitter, procedure, coach
):
    client.force_login(fitter)
    address = sheet_of(procedure).address.removeprefix("https://register.example")

    asking = client.get(address).content.decode()
    found = client.get(address, {"procedure": "full-air", "q": "T 901"})

    assert '<input type="hidden" name="procedure" value="full-air">' in asking
    form = f"?vehicle={coach.pk}&amp;procedure=full-air"
    assert form in found.content.decode()


def test_the_square_code_is_dark_exactly_where_the_address_makes_it():
    address = "https://register.example/tests/add/?vehicle=12&procedure=full-air"
    code = QrCodeWidget(address, barLevel="M").qr
    code.make()
    count = code.getModuleCount()
    dark = {(r, c) for r in range(count) for c in range(count) if code.isDark(r, c)}

    paper, *bars = square_code(address).items

    assert (paper.width, paper.height) == (count + 2 * QUIET, count + 2 * QUIET)
    drawn = {
        (int(bar.y) - QUIET, int(bar.x) - QUIET + at)
        for bar in bars
        for at in range(int(bar.width))
    }
    assert drawn == dark
    assert {bar.fill for bar in bars} == {"#000000"}


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"on": "yesterday"}, "Write the date as 2019-05-03"),
        ({"on": "2014-12-31"}, "is not in force on that day"),
        ({"vehicle": "404"}, "There is no such vehicle."),
        ({"vehicle": "x"}, "There is no such vehicle."),
        ({"vehicle": "9" * 30}, "There is no such vehicle."),
        ({"equipment": "404"}, "There is no such item of equipment."),
        ({"vehicle": "1", "equipment": "1"}, "Name one of them."),
    ],
)
def test_a_sheet_that_cannot_be_is_answered_with_what_to_do(
    client, fitter, procedure, query, words
):
    client.force_login(fitter)

    answer = page(client, "full-air", **query)

    assert answer.status_code == 400
    assert words in answer.content.decode()


def test_a_procedure_for_something_else_is_refused(procedure, coach):
    bench = make_bench_test()
    hose = make_equipment(EquipmentKind.BP_HOSE)

    for wrong, tested in (
        (procedure, item_tested(hose.pk)),
        (bench, item_tested(hose.pk)),
        (bench, vehicle_tested(coach.pk)),
    ):
        with pytest.raises(NotAsked, match="Choose another procedure"):
            sheet_of(wrong, tested)


def test_a_procedure_there_is_not_has_no_sheet(client, fitter):
    client.force_login(fitter)

    assert page(client, "nothing").status_code == 404


def test_who_may_print_a_blank_sheet(client, people, procedure, coach):
    answers = {}
    for role, user in people.items():
        client.force_login(user)
        answers[role] = page(client, "full-air", vehicle=coach.pk).status_code

    assert answers == {
        "fitter": 200,
        "planner": 200,
        "manager": 200,
        "administrator": 200,
        "train_crew": 403,
    }


def test_a_sheet_is_a_pdf_named_for_procedure_vehicle_and_day(
    client, fitter, procedure, coach
):
    client.force_login(fitter)

    answer = page(client, "full-air", vehicle=coach.pk, on="2026-11-25")

    name = "sheet-full-air-t-901-2026-11-25.pdf"
    assert answer["Content-Disposition"] == f'inline; filename="{name}"'
    assert "http://testserver/tests/add/" in pages_of(answer.content)[0]


def test_every_page_says_that_it_is_no_record_and_which_revision_it_is(procedure):
    coach = make_coach(30, number="T 930")

    pages = pages_of(draw_blank_sheet(sheet_of(procedure, vehicle_tested(coach.pk))))

    assert len(pages) > 2
    for number, text in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in text
        assert "not a record until it is entered in the register" in text
        assert "Revision 1, as in force on 25 Nov 2026" in text
        assert "Blank sheet: full-air, T 930" in text
        assert "local maintenance instruction governs" in text


def test_a_sheet_carries_its_cautions_and_places_for_all_a_test_needs(procedure):
    text = " ".join(pages_of(draw_blank_sheet(sheet_of(procedure))))

    for key in ("movement", "drain_and_vent", "after_work", "local_instruction"):
        assert caution(key).text in text
    for words in (
        "Date",
        "Time",
        "Place",
        "Air temperature",
        "Gauge or rig numbers",
        "Tested by",
        "Counter-signed by",
        "Signature",
    ):
        assert words in text


def test_the_same_sheet_gives_the_same_bytes(procedure, coach):
    sheet = sheet_of(procedure, vehicle_tested(coach.pk))

    assert draw_blank_sheet(sheet) == draw_blank_sheet(sheet)


def test_the_pages_of_procedure_and_vehicle_lead_to_the_sheet(
    client, fitter, train_crew, procedure, coach
):
    address = reverse("reports:blank-sheet", args=["full-air"])
    shown = {}
    for user in (fitter, train_crew):
        client.force_login(user)
        answer = client.get(reverse("examination:procedure", args=["full-air"]))
        shown[user] = f'href="{address}"' in answer.content.decode()
    client.force_login(fitter)
    choosing = client.get(reverse("examination:test-add"), {"vehicle": coach.pk})

    assert shown == {fitter: True, train_crew: False}
    assert f'href="{address}?vehicle={coach.pk}"' in choosing.content.decode()


@pytest.mark.parametrize("handles", [1, 12])
def test_a_sheet_asks_as_many_questions_of_any_vehicle(
    django_assert_num_queries, procedure, handles
):
    coach = make_coach(handles)
    readings = readings_of(procedure, coach)
    for day in range(1, handles + 1):
        on = Moment.on(dt.date(2026, 3, day))
        make_test(procedure=procedure, vehicle=coach, on=on, readings=readings)
    tested, printed = vehicle_tested(coach.pk), printed_at(AT)

    # procedure, revision in force, its lines, particulars and type (4), positions, the name
    # of the type (2), last record, its readings, their lines, thicknesses
    with django_assert_num_queries(13):
        sheet = blank_sheet_of(
            Procedure.objects.get(code="full-air"),
            tested,
            on=ON,
            printed=printed,
            home=HOME,
        )

    assert len(sheet.lines[4].boxes) == handles
