"""Instruments, doubt and counter-signatures, from the address to what stands there."""

import datetime as dt
import uuid

import pytest
from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment
from fleet.examination.models import Calibration, Instrument, TestRecord
from fleet.examination.services import correct_test
from fleet.examination.signing import counter_sign, retract_signature
from fleet.people.access import person_of
from fleet.people.models import Skill
from fleet.records.refusing import codes_of
from tests.examination.factories import (
    good_readings,
    make_calibration,
    make_instrument,
    make_person,
    make_procedure,
    make_test,
)
from tests.people.factories import make_competence
from tests.register.factories import make_vehicle

pytestmark = pytest.mark.django_db

SIGNED_ON = Moment.on(dt.date(2026, 4, 1))


def text_of(response):
    """The words of a page."""
    return response.content.decode()


@pytest.fixture
def wrong_gauge():
    """A gauge found wrong after a test of T 77."""
    gauge = make_instrument(calibrated="2026-01-05")
    make_test(vehicle=make_vehicle(number="T 77"), instrument=gauge)
    make_calibration(gauge, "2026-04-01", found="0.4")
    return gauge


@pytest.fixture
def skilled():
    """The air brake test, asking for a competence."""
    return make_procedure(skill=Skill.AIR)


def test_everyone_may_look_and_roles_decide_who_calibrates_and_who_alters(
    client, people, wrong_gauge
):
    base = f"/instruments/{wrong_gauge.pk}/"
    looking = ["/instruments/", base, f"{base}leaning/", "/competences/"]
    doors = {
        "calibrate": [f"{base}calibrate/"],
        "alter": ["/instruments/add/", f"{base}alter/"],
        "policy": ["/competences/grant/"],
    }
    may = {
        "calibrate": {"fitter", "planner", "manager", "administrator"},
        "alter": {"planner", "manager", "administrator"},
        "policy": {"manager", "administrator"},
    }

    for role, user in people.items():
        client.force_login(user)
        assert {client.get(page).status_code for page in looking} == {200}
        for door, addresses in doors.items():
            wanted = 200 if role in may[door] else 403
            assert {client.get(page).status_code for page in addresses} == {wanted}


def test_a_gauge_found_wrong_shows_the_tests_it_puts_in_question(
    client, train_crew, wrong_gauge
):
    client.force_login(train_crew)
    page = text_of(client.get(f"/instruments/{wrong_gauge.pk}/"))

    assert "1 test in question" in page
    assert "T 77" in page
    assert "0.4 bar, outside its class" in page
    assert "Record a calibration" not in page


@pytest.mark.parametrize("tests", [1, 6])
def test_the_pages_of_instruments_cost_the_same_for_few_and_many(
    client, train_crew, django_assert_num_queries, tests
):
    gauge = make_instrument(calibrated="2026-01-05")
    for number in range(tests):
        make_instrument(f"X-{number}", calibrated="2026-01-05")
        make_test(instrument=gauge)
    make_calibration(gauge, "2026-04-01", found="0.4")
    client.force_login(train_crew)

    with django_assert_num_queries(6):  # session, account, rights 2, count, rows
        client.get("/instruments/")
    with django_assert_num_queries(11):
        client.get(f"/instruments/{gauge.pk}/")


def test_a_calibration_is_sent_once_and_judged(client, fitter):
    gauge = make_instrument()
    client.force_login(fitter)
    sent = {
        "submission": str(uuid.uuid4()),
        "on_day": "2026-01-31",
        "on_time": "",
        "as_found_error": "0.12",
        "as_left_error": "0.02",
        "unit": "bar",
        "good_until": "",
    }
    for _ in range(2):
        answer = client.post(f"/instruments/{gauge.pk}/calibrate/", sent)
        assert answer.status_code == 302

    made = Calibration.objects.get()
    assert (made.as_found_good, made.good_until) == (False, dt.date(2027, 1, 31))


def test_an_instrument_is_added_on_its_page_and_a_wrong_range_said_at_its_field(
    client, planner
):
    client.force_login(planner)
    sent = {
        "number": "TG-9",
        "what": "Test gauge",
        "quantity": "pressure",
        "unit": "bar",
        "range_low": "10",
        "range_high": "0",
        "accuracy_class": "1",
        "calibration_months": "12",
        "state": "in_use",
        "since_day": "2026-01-01",
        "since_time": "",
    }
    refused = client.post("/instruments/add/", sent)
    assert "The range ends below where it begins." in text_of(refused)
    assert not Instrument.objects.exists()

    sent |= {"range_low": "0", "range_high": "10"}
    assert client.post("/instruments/add/", sent).status_code == 302
    assert Instrument.objects.count() == 1


def test_the_form_of_a_test_takes_a_gauge_for_all_and_another_for_a_line(
    client, fitter
):
    gauge, watch = make_instrument("TG-4"), make_instrument("SW-1")
    vehicle, procedure = make_vehicle(), make_procedure()
    client.force_login(fitter)
    address = f"/tests/add/?vehicle={vehicle.pk}&procedure={procedure.code}"
    assert "TG-4, Test gauge (never calibrated)" in text_of(client.get(address))

    sent = {
        "submission": str(uuid.uuid4()),
        "revision": procedure.revisions.get().pk,
        "on_day": "2026-03-05",
        "on_time": "14:30",
        "done_by": person_of(fitter).pk,
        "instrument": gauge.pk,
        "line_1_value": "0.1",
        "line_1_unit": "bar/min",
        "line_2_value": "18",
        "line_2_unit": "s",
        "line_2_instrument": watch.pk,
        "line_3_answer": "met",
        "line_4_value": "",
        "line_4_unit": "mm",
    }
    assert client.post(address, sent).status_code == 302

    record = TestRecord.objects.get()
    cited = {r.line.order: r.instrument for r in record.readings.all()}
    assert cited == {1: gauge, 2: watch, 3: None}
    page = text_of(client.get(f"/tests/{record.test_id}/"))
    assert "Does not count as passed." in page
    assert "does not count: TG-4, SW-1 in doubt" in text_of(client.get("/tests/"))
    form = client.get(f"/tests/{record.test_id}/correct/").context["form"]
    assert form.initial["line_1_instrument"] == gauge.pk


def test_a_record_keeps_the_competence_of_its_day(skilled):
    person = make_person()
    held = make_competence(person, since="2025-01-01", last_day="2026-03-05")
    within = make_test(procedure=skilled, done_by=person)
    after = make_test(
        procedure=skilled, done_by=person, on=Moment.on(dt.date(2026, 3, 6))
    )

    assert (within.competence, after.competence) == (held, None)


def test_where_no_competence_is_asked_for_none_is_kept():
    person = make_person()
    make_competence(person)

    assert make_test(done_by=person).competence is None


def unsigned_test(skilled):
    """A test by somebody not competent."""
    return make_test(procedure=skilled, vehicle=make_vehicle(number="T 78"))


def competent_person(**values):
    """Somebody competent for air brake tests."""
    person = make_person()
    make_competence(person, **values)
    return person


def test_a_test_without_competence_is_flagged_until_it_is_counter_signed(
    client, fitter, skilled
):
    record = unsigned_test(skilled)
    make_competence(person_of(fitter))
    client.force_login(fitter)
    address = f"/tests/{record.test_id}/"
    assert "to be counter-signed" in text_of(client.get("/tests/"))
    assert "Counter-sign it" in text_of(client.get(address))

    sent = {"on_day": "2026-04-01", "on_time": "", "remark": "repeated it"}
    assert client.post(f"{address}counter-sign/", sent).status_code == 302
    assert "to be counter-signed" not in text_of(client.get("/tests/"))
    page = text_of(client.get(address))
    assert "Counter-signed by" in page
    assert "Counter-sign it" not in page


def test_train_crew_signs_nothing(client, train_crew, skilled):
    record = unsigned_test(skilled)
    client.force_login(train_crew)

    answer = client.post(f"/tests/{record.test_id}/counter-sign/", {})
    assert answer.status_code == 403


@pytest.mark.parametrize(
    ("signer", "on", "code"),
    [
        ("nobody", "2026-04-01", "not_competent"),
        ("doer", "2026-04-01", "somebody_else_needed"),
        ("competent", "2026-03-01", "before_the_test"),
        ("competent", "2190-01-01", "in_the_future"),
        ("lapsed", "2026-04-01", "not_competent"),
    ],
)
def test_a_signature_that_is_worth_nothing_is_refused(skilled, signer, on, code):
    record = unsigned_test(skilled)
    person = {
        "nobody": make_person,
        "doer": lambda: record.done_by,
        "competent": competent_person,
        "lapsed": lambda: competent_person(last_day="2026-03-31"),
    }[signer]()

    with pytest.raises(ValidationError) as refusal:
        counter_sign(by=None, record=record, person=person, on=Moment.parse(on))
    assert codes_of(refusal.value) == {code}
    assert not record.test.counter_signatures.exists()


def test_it_is_signed_once_and_only_where_needed(skilled):
    record, person = unsigned_test(skilled), competent_person()
    counter_sign(by=None, record=record, person=person, on=SIGNED_ON)
    able = make_test(procedure=skilled, done_by=competent_person())

    for again, code in ((record, "already_signed"), (able, "not_needed")):
        with pytest.raises(ValidationError) as refusal:
            counter_sign(by=None, record=again, person=person, on=SIGNED_ON)
        assert codes_of(refusal.value) == {code}


def test_a_correction_wants_another_signature_and_so_does_one_taken_back(skilled):
    record, person = unsigned_test(skilled), competent_person()
    counter_sign(by=None, record=record, person=person, on=SIGNED_ON)
    corrected = correct_test(
        by=None, record=record, reason="misread", readings=good_readings(skilled)
    )
    signature = counter_sign(by=None, record=corrected, person=person, on=SIGNED_ON)
    retract_signature(by=None, signature=signature, record=corrected, reason="in error")

    counter_sign(by=None, record=corrected, person=person, on=SIGNED_ON)
