"""A record nobody can quietly change: what was altered behind the application is found."""

import datetime as dt
import json
from io import StringIO

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.db import connection, transaction

from fleet.records.deeds import deed, import_days
from fleet.records.guards import lift, restore
from fleet.records.models import Seal
from fleet.records.verifying import prove, sealed_models
from fleet.records.versions import write_many
from fleet.register.models import Vehicle, VehicleVersion
from tests.defects.factories import make_defect
from tests.examination.factories import make_test
from tests.fitness.histories import make_history
from tests.register.factories import make_vehicle
from tests.upkeep.factories import make_requirement

pytestmark = pytest.mark.django_db


def tampered(*statements):
    """Do what somebody with the database in hand could do: guards off, change, guards on."""
    connection.check_constraints()
    lift()
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
    connection.check_constraints()
    restore()


def faults():
    """What the proof finds, as pairs of place and words."""
    return [(fault.where, fault.words) for fault in prove().faults]


def test_what_the_services_wrote_is_proved_whole():
    make_requirement()
    history = make_history()
    make_defect(vehicle=history.vehicle, position="distributor")
    proof = prove()
    assert proof.faults == []
    assert proof.rows > 100
    newest = Seal.objects.order_by("-entry__number").first()
    assert (proof.newest, proof.head) == (newest.entry.number, newest.digest)


def test_an_altered_reading_is_named_with_the_entry_that_wrote_it():
    record = make_test()
    reading = record.readings.exclude(value=None).first()
    tampered(
        f"UPDATE examination_reading SET value = value + 1 WHERE id = {reading.pk}"
    )
    number = record.opened_by.number
    assert faults() == [
        (f"reading {reading.pk}, entry {number}", "The row was altered.")
    ]


def test_a_deleted_row_is_missed():
    record = make_test()
    reading = record.readings.first()
    tampered(f"DELETE FROM examination_reading WHERE id = {reading.pk}")
    assert [words for _, words in faults()] == ["The row was deleted."]


def test_a_row_slipped_in_has_no_deed_behind_it():
    record = make_test()
    tampered(
        f"INSERT INTO examination_test (created_by_id) VALUES ({record.opened_by_id})"
    )
    assert [words for _, words in faults()] == ["No deed wrote this row."]


def test_a_version_closed_behind_the_application_is_found():
    step = make_defect().steps.get(number=2)
    entry = step.opened_by_id
    tampered(
        f"UPDATE defects_defectstep SET closed_by_id = {entry} WHERE id = {step.pk}"
    )
    assert faults() == [
        (
            f"defect step {step.pk}",
            "It was closed or opened again otherwise than by a deed.",
        )
    ]


def test_an_entry_put_back_to_another_day_breaks_its_seal():
    entry = make_test().opened_by
    tampered(
        f"UPDATE records_entry SET made_at = '2020-01-01 12:00:00+00' WHERE id = {entry.pk}"
        if connection.vendor == "postgresql"
        else f"UPDATE records_entry SET made_at = '2020-01-01 12:00:00' WHERE id = {entry.pk}"
    )
    assert [where for where, _ in faults()] == [f"entry {entry.number}"]


def test_a_seal_made_to_fit_an_altered_row_breaks_the_next_one():
    record = make_test()
    reading = record.readings.exclude(value=None).first()
    entry = record.opened_by
    make_vehicle()  # a later deed, whose seal leans on the one before
    tampered(
        f"UPDATE records_seal SET digest = '{'0' * 64}' WHERE entry_id = {entry.pk}"
    )
    found = [where for where, _ in faults()]
    assert found == [f"entry {entry.number}", f"entry {entry.number + 1}"]
    assert reading is not None


def test_an_entry_taken_out_leaves_a_gap_in_the_numbers():
    vehicle = make_vehicle()
    make_test(vehicle=vehicle)
    number = vehicle.created_by.number
    entry = vehicle.created_by_id
    tampered(f"DELETE FROM records_seal WHERE entry_id = {entry}")
    found = faults()
    assert (f"entry {number}", "It has no seal.") in found
    assert any("Missing" in words for _, words in found)


def test_what_a_refused_part_of_a_deed_wrote_is_not_sealed():
    def refused():
        with transaction.atomic(), deed("test.part", by=None):
            make_vehicle()
            raise ValidationError("No.")

    with deed("test.whole", by=None):
        kept = make_vehicle()
        with pytest.raises(ValidationError):
            refused()
    assert faults() == []
    assert list(Vehicle.objects.all()) == [kept]


def test_history_brought_in_is_sealed_with_the_deed_that_brought_it():
    day = dt.date(2020, 5, 1)
    (entry,) = import_days("test.sheets", [day], by=None).values()
    model = make_vehicle()
    copied = VehicleVersion.objects.get(vehicle=model)
    with deed("test.bring_in", by=None):
        vehicle = Vehicle(created_by=entry)
        list(write_many([vehicle]))
        copied.pk, copied.vehicle, copied.number = None, vehicle, "T 999"
        copied.opened_by, copied.closed_by = entry, entry
        list(write_many([copied]))
    assert faults() == []
    tampered(
        f"UPDATE register_vehicleversion SET closed_by_id = NULL WHERE id = {copied.pk}"
    )
    assert len(faults()) == 1


def test_every_table_of_records_is_sealed_but_what_follows_from_them():
    names = {model._meta.label for model in sealed_models()}
    assert {"examination.TestRecord", "defects.DefectStep", "records.Mention"} <= names
    assert {"examination.Reading", "defects.IsolationLine"} <= names
    assert "fitness.StatusSpan" not in names


def said(**options):
    """What the command prints, and how it ends."""
    out = StringIO()
    try:
        call_command("verify_records", stdout=out, **options)
    except SystemExit as end:
        return out.getvalue(), end.code
    return out.getvalue(), 0


def test_the_command_names_number_and_seal_and_exits_with_one_on_a_fault():
    record = make_test()
    words, code = said()
    head = prove().head
    assert code == 0
    assert f"seal {head}" in words
    assert "All as written" in words

    tampered(
        f"UPDATE examination_testrecord SET passed = (1 = 0) WHERE id = {record.pk}"
    )
    words, code = said()
    assert code == 1
    assert f"test record {record.pk}, entry {record.opened_by.number}" in words
    assert "Stop issuing papers" in words
    as_json, code = said(json=True)
    assert code == 1
    assert json.loads(as_json)["faults"][0]["words"] == "The row was altered."


def test_a_seal_noted_on_paper_finds_the_newest_entry_cut_off():
    make_vehicle()
    before = prove()
    noted = {"entry": before.newest, "seal": before.head}
    assert said(**noted)[1] == 0
    seal = Seal.objects.get(entry__number=before.newest)
    tampered(f"UPDATE records_seal SET digest = '{'1' * 64}' WHERE id = {seal.pk}")
    words, code = said(**noted)
    assert code == 1
    assert "not the one noted" in words
    words, code = said(entry=before.newest + 1, seal=before.head)
    assert "not there any more" in words
    with pytest.raises(CommandError, match="together"):
        call_command("verify_records", entry=1)


def test_a_seal_that_names_another_format_or_an_unknown_table_is_a_fault():
    make_vehicle()
    seal = Seal.objects.order_by("pk").last()
    tampered(
        f'UPDATE records_seal SET format = 9, rows = \'[["no.such", 1, "x"]]\' '
        f"WHERE id = {seal.pk}"
    )
    found = [words for _, words in faults()]
    assert any("altered" in words for words in found)
    assert "A seal names a table that is not there." in found
