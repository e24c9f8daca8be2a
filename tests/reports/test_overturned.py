"""Statements whose own records were found wrong: withdrawn, whatever their levels."""

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.examination.models import TestRecord
from fleet.examination.services import correct_test, retract_test
from fleet.fitness.models import Stale, StatementStatus, StatusSpan
from fleet.fitness.services import on_deed
from fleet.fitness.statements import digest_of, standing_of
from fleet.fitness.status import current_verdict
from fleet.people.models import CompetenceVersion, Skill
from fleet.people.services import retract_competence
from fleet.records import deeds
from fleet.records.deeds import announce, deed
from fleet.records.refusing import refusing
from fleet.records.verifying import prove
from fleet.records.versions import retract_version
from fleet.register.models import Fitting, VehicleVersion
from fleet.register.services.fittings import correct_fitting, exchange
from fleet.register.services.vehicles import alter_vehicle, correct_vehicle
from fleet.register.vocabulary import EquipmentKind, VehicleStatus
from fleet.reports.issuing import issue
from tests.defects.factories import person
from tests.examination.factories import good_readings, make_test
from tests.people.factories import make_competence
from tests.register.factories import make_depot, make_equipment
from tests.web.scenes import TODAY, coach, make_practice, on, standing_at_today

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


@pytest.fixture
def vehicle():
    make_practice()
    return coach("T 1")


def issued(vehicle, **values):
    """A statement of a vehicle for today."""
    signer = values.pop("by_person", None) or person("Edda Quill")
    return issue(by=None, person=signer, vehicle=vehicle, on=TODAY)


def stands(statement):
    """How a statement stands, and why."""
    version = standing_of(statement)
    return version.status, version.words


def the_test(vehicle):
    """The newest record of a test of a vehicle."""
    return TestRecord.objects.current().filter(vehicle=vehicle).latest("pk")


def put_right(record, reason="Gauge number misread"):
    """A test record corrected in its remarks, which bear on no level."""
    procedure = record.procedure_revision.procedure
    return correct_test(
        by=None,
        record=record,
        reason=reason,
        readings=good_readings(procedure, record.on),
        remarks="Gauge TG-4",
    )


def spans(vehicle):
    """The spans of a vehicle as they are worked out."""
    return current_verdict(vehicle.pk).spans


def test_a_test_on_its_paper_that_was_corrected_withdraws_it_though_no_level_changed(
    vehicle,
):
    statement, before = issued(vehicle), spans(vehicle)

    put_right(the_test(vehicle))

    assert [(s.since, s.level) for s in spans(vehicle)] == [
        (s.since, s.level) for s in before
    ]
    status, words = stands(statement)
    assert status == StatementStatus.WITHDRAWN
    assert words == (
        "A record it rests on, test Single-vehicle air brake test, 5 Mar 2026, "
        "was corrected: Gauge number misread"
    )
    assert digest_of(statement) == statement.digest
    assert prove().faults == []


def test_a_test_it_does_not_name_may_be_retracted_without_touching_it(vehicle):
    older = the_test(vehicle)
    make_test(vehicle=vehicle, on=on("2026-04-20"))
    statement = issued(vehicle)

    retract_test(by=None, record=older, reason="Entered twice")

    assert stands(statement)[0] == StatementStatus.VALID


def test_what_merely_goes_on_contradicts_nothing(vehicle):
    statement = issued(vehicle)

    exchange(
        by=None,
        vehicle=vehicle,
        position="bp-hose-1",
        equipment=make_equipment(kind=EquipmentKind.BP_HOSE),
        at=on("2026-05-10", "10:00"),
        to=make_depot(),
    )

    assert stands(statement)[0] == StatementStatus.VALID


def test_a_fitting_and_the_particulars_of_its_day_are_among_what_it_rests_on(vehicle):
    first = issued(vehicle)
    fitting = Fitting.objects.current().get(vehicle=vehicle, position="bp-hose-1")
    correct_fitting(
        by=None, fitting=fitting, reason="Card found", since=on("2020-03-01")
    )
    assert "fitting of" in stands(first)[1]
    assert "corrected: Card found" in stands(first)[1]

    second = issued(vehicle)
    held = VehicleVersion.objects.current().get(vehicle=vehicle)
    correct_vehicle(by=None, version=held, reason="Plate read", tare_t=31)
    assert stands(second)[1] == (
        "A record it rests on, particulars of T 1, was corrected: Plate read"
    )


def test_the_competence_it_was_signed_under_being_retracted_withdraws_it(vehicle):
    able = person("Able Keene")
    make_competence(able, skill=Skill.RELEASE)
    statement = issued(vehicle, by_person=able)

    held = CompetenceVersion.objects.get(competence__person=able)
    retract_competence(by=None, version=held, reason="Never assessed")

    status, words = stands(statement)
    assert status == StatementStatus.WITHDRAWN
    assert "Competence of Able Keene, was retracted: Never assessed" in words


def test_it_is_withdrawn_at_once_even_where_the_vehicle_is_reassessed_later(
    vehicle, settings
):
    statement = issued(vehicle)
    settings.FLEET_REASSESS_AT_ONCE = 0

    put_right(the_test(vehicle))

    assert Stale.objects.filter(vehicle=vehicle).exists()
    assert stands(statement)[0] == StatementStatus.WITHDRAWN


def test_a_correction_that_was_refused_after_all_withdraws_nothing(vehicle):
    statement = issued(vehicle)

    def refused_within():
        with deed("test.within", by=None):
            put_right(the_test(vehicle))
            raise refusing("No.", code="no")

    with deed("test.outer", by=None):
        with pytest.raises(ValidationError):
            refused_within()
        assert deeds.overturned() == {}

    assert statement.versions.count() >= 1


def test_a_vehicle_of_which_nothing_is_known_any_more_keeps_no_statement(
    vehicle, monkeypatch
):
    monkeypatch.setattr("fleet.reports.loading.cited", lambda *_: [])  # as once issued
    statement = issued(vehicle)
    held = VehicleVersion.objects.current().get(vehicle=vehicle)

    with deed("test.never_was", by=None) as entry:
        retract_version(held, entry=entry, reason="Entered by mistake")
        announce(vehicle)

    assert not StatusSpan.objects.current().filter(vehicle=vehicle).exists()
    status, words = stands(statement)
    assert status == StatementStatus.WITHDRAWN
    assert words == "Air: nothing is known of these days any more."


def test_a_vehicle_withdrawn_from_the_register_keeps_no_statement(vehicle):
    statement = issued(vehicle)

    alter_vehicle(
        by=None,
        vehicle=vehicle,
        since=on("2026-05-10"),
        status=VehicleStatus.WITHDRAWN,
    )

    assert stands(statement)[0] == StatementStatus.WITHDRAWN


def test_withdrawing_for_a_record_found_wrong_stays_within_20_queries(
    vehicle, monkeypatch
):
    issued(vehicle)
    asked = []

    def counted(subjects, entry):
        with CaptureQueriesContext(connection) as queries:
            on_deed(subjects, entry)
        asked.append(len(queries))

    monkeypatch.setattr(deeds, "_listeners", [counted])
    record = put_right(the_test(vehicle))
    retract_test(by=None, record=record, reason="Another vehicle's")  # levels change

    assert max(asked) <= 20
