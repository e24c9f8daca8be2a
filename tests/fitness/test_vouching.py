"""Evidence in doubt, from the records to the brake status: gauges, and who tested."""

import datetime as dt

import pytest

from fleet.engineering.calendar import Moment
from fleet.examination.instruments import retract_calibration
from fleet.examination.signing import counter_sign
from fleet.fitness.gather import vehicle_files
from fleet.fitness.models import StatusSpan
from fleet.people.models import Skill
from fleet.people.services import retract_competence
from fleet.records.models import Entry
from fleet.register.vocabulary import Level
from fleet.web.leaning import leaning_page
from tests.examination.factories import (
    make_calibration,
    make_instrument,
    make_person,
    make_procedure,
    make_test,
)
from tests.people.factories import make_competence
from tests.register.factories import equip, make_vehicle
from tests.upkeep.factories import make_conditions, make_requirement

pytestmark = pytest.mark.django_db

ON = Moment.on(dt.date(2026, 3, 5))
DAY = dt.date(2026, 3, 20)


def test_of(vehicle, **values):
    """The one test in a vehicle's file."""
    (file,) = vehicle_files([vehicle.pk], **values)
    (test,) = file.tests
    return test


test_of.__test__ = False


@pytest.fixture
def vehicle():
    """A coach that needs an air brake test once a year, by somebody competent."""
    make_conditions()
    make_requirement(procedure=make_procedure(skill=Skill.AIR))
    coach = make_vehicle()
    equip(coach)
    return coach


@pytest.fixture
def able():
    """Somebody competent for air brake tests."""
    person = make_person()
    person.held = make_competence(person)
    return person


def level(vehicle):
    """The stored level of the air brake."""
    return StatusSpan.objects.on(DAY).get(vehicle=vehicle, system="air").level


def findings(vehicle, code):
    """Whether a rule has something to say of a vehicle's stored day."""
    from fleet.fitness.gather import policy
    from fleet.fitness.rules import BOOK

    (file,) = vehicle_files([vehicle.pk])
    found = BOOK.findings(file, policy())
    return [f.text for f in found if f.code == code and f.holds_on(DAY)]


def test_a_gauge_found_wrong_takes_the_vehicle_with_it_and_re_verified_gives_it_back(
    vehicle, able
):
    gauge = make_instrument(calibrated="2026-01-05")
    make_test(vehicle=vehicle, on=ON, done_by=able, instrument=gauge)
    assert level(vehicle) == Level.BRAKED

    wrong = make_calibration(gauge, "2026-04-01", found="0.4")
    assert level(vehicle) == Level.PIPED
    assert len(findings(vehicle, "G01")) == 1
    assert "found wrong when calibrated on 1 Apr 2026" in findings(vehicle, "G01")[0]

    retract_calibration(by=None, calibration=wrong, reason="another gauge's sheet")
    assert level(vehicle) == Level.BRAKED
    assert findings(vehicle, "G01") == []


def test_a_lapsed_gauge_found_good_afterwards_lifts_the_doubt(vehicle, able):
    gauge = make_instrument(calibrated="2024-01-05")
    make_test(vehicle=vehicle, on=ON, done_by=able, instrument=gauge)
    assert level(vehicle) == Level.PIPED

    make_calibration(gauge, "2026-03-10")
    assert level(vehicle) == Level.BRAKED


def test_what_was_known_before_the_gauge_was_found_wrong_can_still_be_asked(
    vehicle, able
):
    gauge = make_instrument(calibrated="2026-01-05")
    make_test(vehicle=vehicle, on=ON, done_by=able, instrument=gauge)
    before = Entry.objects.latest("number").number
    make_calibration(gauge, "2026-04-01", found="0.4")

    assert test_of(vehicle).doubts != ()
    assert test_of(vehicle, known_at=before).doubts == ()


def test_a_test_without_competence_counts_with_advice_until_signed(vehicle, able):
    record = make_test(vehicle=vehicle, on=ON, done_by=make_person())
    assert level(vehicle) == Level.BRAKED
    assert "air brake tests" in findings(vehicle, "C01")[0]

    signed = Moment.on(dt.date(2026, 3, 18))
    counter_sign(by=None, record=record, person=able, on=signed)
    assert findings(vehicle, "C01") == []
    assert test_of(vehicle).signed == signed


def test_a_competence_retracted_later_leaves_the_test_in_want_of_a_signature(
    vehicle, able
):
    make_test(vehicle=vehicle, on=ON, done_by=able)
    assert findings(vehicle, "C01") == []

    retract_competence(by=None, version=able.held, reason="another person's paper")
    assert len(findings(vehicle, "C01")) == 1


@pytest.mark.parametrize("vehicles", [1, 4])
def test_what_leans_on_a_gauge_is_shown_steepest_fall_first_in_so_many_queries(
    vehicle, able, django_assert_num_queries, vehicles
):
    gauge = make_instrument(calibrated="2026-01-05")
    for number in range(vehicles):
        other = make_vehicle(number=f"Z {number}")
        equip(other)
        make_test(vehicle=other, on=Moment.on(dt.date(2026, 1, 4)), done_by=able)
        make_test(vehicle=other, on=ON, done_by=able, instrument=gauge)
    make_test(vehicle=vehicle, on=ON, done_by=able, instrument=gauge)
    make_calibration(gauge, "2026-04-01", found="0.4")
    leaning_page(gauge, DAY)

    with django_assert_num_queries(13):
        page = leaning_page(gauge, DAY)
    assert [row.falls for row in page.rows] == [2] + [0] * vehicles
    assert page.rows[0].vehicle == vehicle.pk
    assert page.falling == 1
    assert list(page.rows[0].repeat) == ["Single-vehicle air brake test"]
