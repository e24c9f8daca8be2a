"""Recording, correcting and retracting tests, through the services."""

import datetime as dt
import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from fleet.engineering.calendar import Moment, Order, order_of
from fleet.examination.models import Reading, Test, TestRecord
from fleet.examination.services import (
    correct_test,
    record_test,
    retract_test,
    revise_procedure,
    revision_in_force,
)
from fleet.examination.vocabulary import Answer, Result
from fleet.records.clock import today
from fleet.records.deeds import AlreadyRecorded, submitted
from fleet.records.models import Kind, Mention
from fleet.records.refusing import codes_of
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
from tests.register.factories import make_equipment, make_fitting, make_vehicle

pytestmark = pytest.mark.django_db

LEAK, RELEASE, STEPS, STROKE = 1, 2, 3, 4


def readings(**changes):
    """Readings of the air test that meet every line, some changed by line number."""
    rows = {
        LEAK: {"value": "0.1", "unit": "bar/min"},
        RELEASE: {"value": "18", "unit": "s"},
        STEPS: {"answer": Answer.MET},
        STROKE: {"value": "87", "unit": "mm"},
    }
    for key, row in changes.items():
        rows[int(key.removeprefix("line_"))] = row
    return [{"line": order, **row} for order, row in rows.items() if row is not None]


def refused(**values):
    """The refusal of a test with these values; nothing of it is kept."""
    with pytest.raises(ValidationError) as caught:
        make_test(**values)
    assert not TestRecord.objects.exists()
    assert not Test.objects.exists()
    return caught.value


def test_a_reading_is_kept_as_it_was_written_with_its_unit():
    record = make_test(readings=readings(line_1={"value": "1.50", "unit": "PSI/min"}))

    reading = record.readings.get(line__order=LEAK)

    assert (reading.value, reading.unit) == (Decimal("1.5"), "psi/min")
    assert reading.given == "1.50 psi/min"
    assert reading.words.startswith("1.50 psi/min (0.103 bar/min), limit at most 0.2")


def test_the_result_is_computed_from_the_readings():
    slow = readings(line_2={"value": "28", "unit": "s"})

    record = make_test(readings=slow)

    assert not record.passed
    assert record.result == Result.FAILED
    assert record.readings.get(line__order=RELEASE).answer == Answer.NOT_MET
    assert record.readings.get(line__order=RELEASE).words == "28 s, limit 15 to 20 s"


def test_a_test_with_every_line_met_is_passed():
    record = make_test(readings=readings())

    assert record.passed
    assert (record.result, record.unanswered) == (Result.PASSED, 0)


def test_a_line_without_a_limit_is_recorded_and_does_not_fail_the_test():
    record = make_test(readings=readings(line_4={"value": "120", "unit": "mm"}))

    assert record.passed
    assert record.readings.get(line__order=STROKE).answer == Answer.RECORDED


def test_a_line_not_done_leaves_the_test_incomplete_and_not_passed():
    not_done = {"answer": Answer.NOT_DONE, "note": "gauge broken"}

    record = make_test(readings=readings(line_2=not_done))

    assert (record.passed, record.unanswered) == (False, 1)
    assert record.result == Result.INCOMPLETE


def test_a_line_left_blank_counts_as_unanswered():
    record = make_test(readings=readings(line_3=None))

    assert (record.passed, record.unanswered) == (False, 1)


def test_a_line_that_does_not_apply_needs_its_reason_and_then_counts_as_settled():
    why = {"answer": Answer.NOT_APPLICABLE, "note": "direct release valve fitted"}

    assert make_test(readings=readings(line_3=why)).passed


@pytest.mark.parametrize("answer", [Answer.NOT_DONE, Answer.NOT_APPLICABLE])
def test_a_line_left_out_without_a_reason_is_refused(answer):
    refusal = refused(readings=readings(line_2={"answer": answer, "note": " "}))

    assert codes_of(refusal) == {"no_reason"}
    assert set(refusal.error_dict) == {"line_2"}


@pytest.mark.parametrize(
    ("row", "code"),
    [
        pytest.param({"value": "3", "unit": "bar"}, "impossible_unit", id="bar"),
        pytest.param({"value": "3", "unit": ""}, "impossible_unit", id="no unit"),
        pytest.param({"value": "18s", "unit": "s"}, "not_a_number", id="words"),
        pytest.param({"value": "-3", "unit": "s"}, "impossible_value", id="below zero"),
        pytest.param({"answer": "met"}, "reading_needed", id="a tick for a reading"),
        pytest.param({"note": "fine"}, "answer_needed", id="only a note"),
        pytest.param(
            {"value": "18", "unit": "s", "answer": "not_done", "note": "?"},
            "value_and_reason",
            id="done and not done",
        ),
    ],
)
def test_a_wrong_line_is_refused_at_that_line_and_nothing_is_stored(row, code):
    refusal = refused(readings=readings(line_2=row))

    assert codes_of(refusal) == {code}
    assert set(refusal.error_dict) == {"line_2"}


def test_an_impossible_unit_is_refused_with_the_units_to_use():
    refusal = refused(readings=readings(line_2={"value": "3", "unit": "bar"}))

    assert refusal.messages == ["bar is not a unit of time; use s or min."]


def test_every_wrong_line_is_named_at_once():
    rows = readings(line_1={"value": "x"}, line_2={"value": "3", "unit": "bar"})

    assert set(refused(readings=rows).error_dict) == {"line_1", "line_2"}


def test_a_value_on_a_question_is_refused():
    refusal = refused(readings=readings(line_3={"value": "1", "unit": "s"}))

    assert codes_of(refusal) == {"no_value_asked"}


def test_a_line_answered_twice_is_refused():
    refusal = refused(readings=[*readings(), {"line": LEAK, "value": 0, "unit": "bar"}])

    assert codes_of(refusal) == {"line_twice"}


def test_a_line_the_procedure_does_not_have_is_refused():
    refusal = refused(readings=[*readings(), {"line": 9, "answer": "met"}])

    assert codes_of(refusal) == {"no_such_line"}


def test_a_test_dated_in_the_future_is_refused():
    tomorrow = Moment.on(today() + dt.timedelta(days=1))

    refusal = refused(on=tomorrow, readings=readings())

    assert codes_of(refusal) == {"in_the_future"}
    assert set(refusal.error_dict) == {"on"}


def test_a_test_nobody_can_date_is_refused():
    refusal = refused(on=Moment.unknown(), readings=readings())

    assert codes_of(refusal) == {"unknown_date"}


def test_a_test_before_the_procedure_was_brought_in_is_refused():
    long_ago = Moment.on(dt.date(2001, 5, 1))

    assert codes_of(refused(on=long_ago, readings=readings())) == {"not_in_force"}


def test_a_reading_is_judged_by_the_revision_in_force_on_that_day(time_machine):
    time_machine.move_to("2025-06-01 12:00Z")
    procedure = make_procedure()
    lines = air_test_lines()
    lines[1] = measured("Release time", "time", "s", "15", "30")
    effective = dt.date(2025, 6, 10)
    revise_procedure(
        by=None,
        procedure=procedure,
        title="Single-vehicle air brake test",
        source="operator's own",
        effective_from=effective,
        lines=lines,
        reason="longer trains",
    )
    time_machine.move_to("2026-11-20 12:00Z")
    vehicle, slow = make_vehicle(), readings(line_2={"value": "28", "unit": "s"})

    before, after = (
        make_test(
            procedure=procedure, vehicle=vehicle, on=Moment.on(day), readings=slow
        )
        for day in (effective - dt.timedelta(days=1), effective)
    )

    assert (before.procedure_revision.number, before.passed) == (1, False)
    assert (after.procedure_revision.number, after.passed) == (2, True)


def test_lines_of_a_revision_not_in_force_that_day_are_refused(time_machine):
    time_machine.move_to("2025-06-01 12:00Z")
    procedure = make_procedure()
    old = list(revision_in_force(procedure, today()).lines.all())
    revise_procedure(
        by=None,
        procedure=procedure,
        title="Single-vehicle air brake test",
        source="operator's own",
        effective_from=dt.date(2025, 6, 10),
        lines=air_test_lines(),
        reason="clearer words",
    )
    time_machine.move_to("2026-11-20 12:00Z")

    answered = [{"line": old[2], "answer": Answer.MET}]
    refusal = refused(procedure=procedure, readings=answered)

    assert codes_of(refusal) == {"other_revision"}


def test_a_vehicle_tested_by_a_procedure_for_equipment_is_refused():
    refusal = refused(procedure=make_bench_test(), vehicle=make_vehicle(), readings=[])

    assert codes_of(refusal) == {"wrong_subject"}
    assert set(refusal.error_dict) == {"procedure"}


def test_an_item_tested_by_a_procedure_for_vehicles_is_refused():
    item = make_equipment()

    refusal = refused(procedure=make_procedure(), equipment=item, readings=[])

    assert codes_of(refusal) == {"wrong_subject"}


def test_an_item_of_another_kind_than_the_procedure_is_for_is_refused():
    refusal = refused(
        procedure=make_bench_test(), equipment=make_equipment("bp_hose"), readings=[]
    )

    assert codes_of(refusal) == {"wrong_kind"}


def test_a_test_of_nothing_is_refused():
    with pytest.raises(ValidationError) as caught:
        record_test(
            by=None,
            procedure=make_procedure(),
            on=TESTED,
            done_by=make_person(),
            readings=[],
        )

    assert codes_of(caught.value) == {"one_subject"}


def test_a_test_names_the_person_who_did_it():
    doer = make_person("Robin Ashdown")

    assert make_test(done_by=doer).done_by == doer


def test_a_test_of_an_item_is_found_with_the_item():
    item = make_equipment()

    record = make_item_test(equipment=item)

    assert list(TestRecord.objects.current().of(equipment=item)) == [record]


def test_a_correction_supersedes_and_both_can_be_seen():
    wrong = make_test(readings=readings(line_2={"value": "28", "unit": "s"}))

    right = correct_test(
        by=None, record=wrong, reason="misread the watch", readings=readings()
    )

    versions = list(wrong.test.records.order_by("pk"))
    assert versions == [wrong, right]
    assert [v.passed for v in versions] == [False, True]
    assert list(TestRecord.objects.current()) == [right]
    assert right.reason == "misread the watch"
    assert wrong.readings.get(line__order=RELEASE).given == "28 s"


def test_a_correction_may_put_the_date_right():
    record, day = make_test(), Moment.on(dt.date(2026, 3, 4), dt.time(9, 30))

    right = correct_test(
        by=None, record=record, reason="day before", readings=readings(), on=day
    )

    assert right.on == day


def test_a_correction_needs_a_reason():
    record = make_test()

    with pytest.raises(ValidationError) as caught:
        correct_test(by=None, record=record, reason=" ", readings=readings())

    assert codes_of(caught.value) == {"no_reason"}
    assert TestRecord.objects.current().get() == record


def test_a_superseded_record_cannot_be_superseded_again():
    record = make_test()
    correct_test(by=None, record=record, reason="misread", readings=readings())

    with pytest.raises(ValidationError) as caught:
        correct_test(by=None, record=record, reason="again", readings=readings())

    assert codes_of(caught.value) == {"already_superseded"}
    assert record.test.records.count() == 2


def test_a_retracted_test_counts_no_more_but_stays():
    record = make_test()

    retracted = retract_test(by=None, record=record, reason="wrong vehicle")

    assert retracted.change == Kind.RETRACTED
    assert not TestRecord.objects.current().exists()
    assert record.test.records.count() == 2


def test_a_retracted_test_cannot_be_corrected():
    retracted = retract_test(by=None, record=make_test(), reason="wrong vehicle")

    with pytest.raises(ValidationError) as caught:
        correct_test(by=None, record=retracted, reason="after all", readings=[])

    assert codes_of(caught.value) == {"already_superseded"}


def test_the_vehicle_of_a_test_cannot_be_corrected():
    with pytest.raises(TypeError, match="vehicle"):
        correct_test(
            by=None,
            record=make_test(),
            reason="other one",
            readings=[],
            vehicle=make_vehicle(),
        )


def test_what_was_known_before_a_correction_is_known_of_that_time_still():
    wrong = make_test(readings=readings(line_2={"value": "28", "unit": "s"}))
    then = wrong.opened_by.number
    correct_test(by=None, record=wrong, reason="misread", readings=readings())

    assert list(TestRecord.objects.known_at(then)) == [wrong]


def test_the_order_within_a_day_decides_whether_a_test_follows_a_fitting():
    vehicle, day = make_vehicle(), dt.date(2026, 3, 5)
    fitted = make_fitting(
        vehicle=vehicle, position="distributor", since=Moment.on(day, order=1)
    )

    after = make_test(vehicle=vehicle, on=Moment.on(day, order=2))
    unsaid = make_test(vehicle=vehicle, on=Moment.on(day))

    stored = TestRecord.objects.get(pk=after.pk)
    assert order_of(stored.on, fitted.since) is Order.AFTER
    assert order_of(unsaid.on, fitted.since) is Order.UNKNOWN


def test_the_same_submission_twice_is_one_test():
    sent = uuid.uuid4()
    values = {"vehicle": make_vehicle(), "procedure": make_procedure()}
    with submitted(uuid=sent):
        first = make_test(**values)

    with submitted(uuid=sent), pytest.raises(AlreadyRecorded) as caught:
        make_test(**values)

    assert TestRecord.objects.count() == 1
    assert caught.value.entry == first.opened_by


def test_a_test_is_in_the_log_of_its_vehicle():
    record = make_test()

    mention = Mention.objects.filter(entry=record.opened_by).get()

    assert (mention.kind, mention.key) == ("register.vehicle", record.vehicle_id)


def test_a_reading_once_recorded_cannot_be_changed():
    reading = make_test().readings.first()

    with pytest.raises(IntegrityError), transaction.atomic():
        Reading.objects.filter(pk=reading.pk).update(answer=Answer.MET, note="eased")


def test_a_reading_without_reason_is_refused_by_the_database_too():
    record = make_test(readings=[])
    line = record.procedure_revision.lines.first()

    with pytest.raises(IntegrityError), transaction.atomic():
        Reading.objects.create(record=record, line=line, answer=Answer.NOT_DONE)


def test_recording_a_test_costs_the_same_for_few_and_many_lines():
    def queries(lines):
        asked = [
            line | {"text": f"{line['text']}, cylinder {cylinder}"}
            for cylinder in range(lines)
            for line in air_test_lines()
        ]
        procedure = make_procedure(f"lines-{lines}", lines=asked)
        values = {
            "procedure": procedure,
            "vehicle": make_vehicle(),
            "done_by": make_person(),
            "readings": good_readings(procedure),
        }
        with CaptureQueriesContext(connection) as captured:
            make_test(**values)
        return len(captured)

    assert queries(1) == queries(7)
