"""Papers asked for by address: who may, which day, which depot, how many queries."""

import datetime as dt
import os
import subprocess
import sys
from io import BytesIO
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from pypdf import PdfReader

from fleet.engineering.calendar import Moment
from fleet.fitness.models import Stale
from fleet.fitness.status import current_verdict
from fleet.records.models import Entry
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import EquipmentKind, Fitment, System
from fleet.reports.loading import fleet_report_of, printed_at, statement_of
from tests.defects.factories import make_defect
from tests.examination.factories import TESTED, make_person, make_procedure, make_test
from tests.register.factories import equip, make_depot, make_vehicle
from tests.upkeep.factories import make_age_limit, make_conditions, make_requirement

pytestmark = pytest.mark.django_db

ON = dt.date(2026, 11, 25)
AT = dt.datetime(2026, 11, 25, 14, 2, tzinfo=ZoneInfo("Europe/London"))


@pytest.fixture
def coach():
    """An air-braked coach, equipped, tested, with a defect."""
    make_conditions()
    make_requirement(procedure=make_procedure(), months=12)
    vehicle = make_vehicle(number="T 901", depot=make_depot(), tare_t="34.50")
    equip(vehicle)
    make_test(vehicle=vehicle, done_by=make_person("Željko Ősz"))
    make_defect(vehicle=vehicle, position="distributor", title="Slow to release")
    return vehicle


def statement_page(client, vehicle, **query):
    return client.get(reverse("reports:statement", args=[vehicle.pk]), query)


def fleet_page(client, **query):
    return client.get(reverse("reports:fleet-report"), query)


def text_of(response):
    pages = PdfReader(BytesIO(response.content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def sheet_of(vehicle, on=ON):
    return statement_of(vehicle.pk, on=on, printed=printed_at(AT))


def test_who_may_print_papers(client, people, coach):
    answers = {}
    for role, user in people.items():
        client.force_login(user)
        answers[role] = {
            statement_page(client, coach).status_code,
            fleet_page(client).status_code,
        }

    assert answers == {
        "fitter": {200},
        "planner": {200},
        "manager": {200},
        "administrator": {200},
        "train_crew": {403},
    }


def test_nobody_prints_without_signing_in(client, coach):
    for answer in (statement_page(client, coach), fleet_page(client)):
        assert answer.status_code == 302
        assert answer.url.startswith(reverse("people:sign-in"))


def test_a_paper_is_a_pdf_named_for_its_subject_and_day(client, fitter, coach):
    client.force_login(fitter)

    answer = statement_page(client, coach, on="2026-11-25")

    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == (
        'inline; filename="statement-t-901-2026-11-25.pdf"'
    )
    assert "no-store" in answer["Cache-Control"]
    assert answer.content.startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"on": "yesterday"}, "Write the date as 2019-05-03"),
        ({"on": "2026-02-30"}, "There is no such date as 2026-02-30."),
        ({"on": "2026-05"}, "A paper is about one day. Write it as 2026-05-03."),
        ({"on": "9999-01-01"}, "9999-01-01 is outside 1850 to 2199."),
        ({"on": "unknown"}, "A paper is about one day. Write it as 2026-05-03."),
    ],
)
def test_a_day_that_cannot_be_read_is_answered_with_what_to_do(
    client, fitter, coach, query, words
):
    client.force_login(fitter)

    for answer in (statement_page(client, coach, **query), fleet_page(client, **query)):
        assert answer.status_code == 400
        assert words in answer.content.decode()


def test_a_depot_there_is_not_is_answered_with_what_to_do(client, fitter):
    client.force_login(fitter)

    answer = fleet_page(client, depot="nowhere")

    assert answer.status_code == 400
    assert "There is no depot nowhere." in answer.content.decode()


def test_a_vehicle_there_is_not_has_no_statement(client, fitter):
    client.force_login(fitter)

    assert client.get(reverse("reports:statement", args=[404])).status_code == 404


@pytest.mark.parametrize("on", ["1850-01-01", "2199-12-31", ""])
def test_the_ends_of_the_calendar_can_be_printed(client, fitter, coach, on):
    client.force_login(fitter)

    assert statement_page(client, coach, on=on).status_code == 200
    assert fleet_page(client, on=on).status_code == 200


def test_an_empty_register_prints_an_empty_report(client, fitter):
    client.force_login(fitter)

    assert "No vehicles are recorded for this day." in text_of(fleet_page(client))


def test_a_statement_shows_the_plate_the_defect_and_who_signed_the_test(
    client, fitter, coach
):
    client.force_login(fitter)

    text = text_of(statement_page(client, coach, on="2026-11-25"))

    for words in (
        "T 901",
        "Open coach",
        "34.5 t",
        "Wenlow works",
        "Slow to release",
        "Not to run in an air train",
        "Single-vehicle air brake test",
        "Željko Ősz",
    ):
        assert words in text


def test_a_statement_says_what_the_rules_say_of_the_facts(coach):
    verdict = current_verdict(coach.pk)
    expected = {f.text for f in verdict.findings if f.holds_on(ON)}

    found = {
        line.text.removeprefix("A fact is missing: ")
        for line in sheet_of(coach).outstanding
    }

    assert found == expected
    assert expected


def test_a_statement_reads_nothing_that_was_written_after_the_entry_it_names(coach):
    before = printed_at(AT)
    sheet = statement_of(coach.pk, on=ON, printed=before)
    make_defect(vehicle=coach, position="distributor", title="Blows at the exhaust")

    again = statement_of(coach.pk, on=ON, printed=before)
    now = sheet_of(coach)

    assert again == sheet
    assert before.entry < printed_at(AT).entry
    assert "Blows at the exhaust" not in {d.title for d in sheet.defects}
    assert "Blows at the exhaust" in {d.title for d in now.defects}


def test_a_statement_of_a_past_day_shows_the_particulars_of_that_day(coach):
    alter_vehicle(
        by=None,
        vehicle=coach,
        since=Moment.on(dt.date(2026, 6, 1)),
        number="T 902",
        vacuum=Fitment.PIPED,
    )

    then, now = sheet_of(coach, dt.date(2026, 5, 31)), sheet_of(coach)

    assert (then.head.subject, now.head.subject) == ("T 901", "T 902")
    assert (
        dict(now.particulars)["Arrangement"] == "Two-pipe air brake, vacuum piped only"
    )
    assert dict(then.particulars)["Arrangement"] == "Two-pipe air brake"


def test_the_fleet_report_keeps_to_the_depot_asked_for(client, fitter, coach):
    shed = make_depot("shed", "Tarrow shed")
    make_vehicle(number="T 777", depot=shed)
    client.force_login(fitter)

    text = text_of(fleet_page(client, depot="shed", on="2026-11-25"))

    assert "Tarrow shed" in text
    assert "T 777" in text
    assert "T 901" not in text
    assert "1 vehicle" in text


def test_the_fleet_report_shows_the_level_each_statement_shows(coach):
    report = fleet_report_of(None, on=ON, printed=printed_at(AT))

    assert [(v.number, v.air, v.vacuum) for v in report.vehicles] == [
        ("T 901", *(line.mark for line in sheet_of(coach).systems))
    ]
    assert report.vehicles[0].air.words == "Not to run in an air train"
    assert [line.number for line in report.stopped] == ["T 901"]


def test_a_vehicle_not_yet_reassessed_is_never_shown_as_fit(coach):
    Stale.objects.create(vehicle=coach, entry=Entry.objects.latest("pk"))

    report = fleet_report_of(None, on=ON, printed=printed_at(AT))

    assert report.vehicles[0].air.words == "Not yet reassessed"
    assert report.waiting == ("T 901",)
    assert report.stopped == ()
    counted = {line.mark.words: line.air for line in report.counts}
    assert counted["Not yet reassessed"] == 1
    assert counted["Fit to run braked"] == 0
    assert all(row.basis.startswith("Not yet reassessed; ") for row in report.due)


def test_what_is_overdue_or_due_within_ninety_days_names_item_and_place(coach):
    make_age_limit(months=12 * 12 + 9)  # made in May 2014: due in February 2027

    report = fleet_report_of(None, on=ON, printed=printed_at(AT))

    hoses = [row for row in report.due if row.subject.startswith("Brake pipe hose")]
    assert len(hoses) == 2
    assert {row.number for row in hoses} == {"T 901"}
    assert hoses[0].subject.startswith("Brake pipe hose, No. ")
    later = fleet_report_of(None, on=dt.date(2026, 9, 1), printed=printed_at(AT))
    assert [r for r in later.due if r.subject.startswith("Brake pipe hose")] == []


@pytest.mark.parametrize("vehicles", [1, 4])
def test_the_fleet_report_asks_as_many_questions_of_any_fleet(
    django_assert_num_queries, coach, vehicles
):
    for _ in range(vehicles - 1):
        equip(make_vehicle(depot=make_depot()))
    printed = printed_at(AT)
    make_age_limit(kind=EquipmentKind.BP_HOSE, months=12)

    with django_assert_num_queries(6):  # board 4, positions, due
        report = fleet_report_of(None, on=ON, printed=printed)

    assert len(report.vehicles) == vehicles
    assert len(report.due) >= 2 * vehicles


def test_a_statement_asks_as_many_questions_of_any_history(
    django_assert_max_num_queries, coach
):
    with django_assert_max_num_queries(40) as short:
        sheet_of(coach)
    for on in (TESTED, Moment.on(ON)):
        make_test(vehicle=coach, on=on)
        make_test(equipment=coach.fittings.get(position="distributor").equipment, on=on)
        make_defect(vehicle=coach, position="distributor")

    with django_assert_max_num_queries(40) as long:
        sheet = sheet_of(coach)

    assert len(sheet.tests) == 2
    assert len(sheet.defects) == 3
    assert len(long.captured_queries) == len(short.captured_queries)


def test_systems_are_told_in_their_usual_order(coach):
    assert [line.name for line in sheet_of(coach).systems] == [
        f"{system.label} brake" for system in System
    ]


def test_the_library_that_draws_is_not_loaded_before_a_paper_is_asked_for():
    program = (
        "import sys, django; django.setup(); import fleet.config.urls; "
        "sys.exit('reportlab' in sys.modules)"
    )
    environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "fleet.config.settings"}

    run = subprocess.run([sys.executable, "-c", program], env=environment, check=False)

    assert run.returncode == 0
