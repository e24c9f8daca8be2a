"""Who assessed or released was competent that day, or another signs for it."""

import datetime as dt
import uuid

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from fleet.defects import services
from fleet.defects.models import DefectStep, WorkInHand
from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment
from fleet.fitness import gather
from fleet.fitness.rules import BOOK
from fleet.people.access import person_of
from fleet.people.models import Skill
from fleet.people.services import correct_competence
from fleet.records.refusing import codes_of
from fleet.register.vocabulary import Scope
from tests.defects.factories import DAY, at, make_defect, person, stood_at
from tests.examination.factories import (
    make_calibration,
    make_instrument,
    make_test,
)
from tests.people.factories import make_competence
from tests.register.factories import make_vehicle

pytestmark = pytest.mark.django_db


@pytest.fixture
def lapsed():
    """Somebody who could assess and release until the day before."""
    someone = person("Edda Quill")
    for skill in (Skill.ASSESS, Skill.RELEASE):
        make_competence(someone, skill=skill, last_day="2026-05-03")
    return someone


def assessment(defect):
    """The step a defect was assessed by."""
    return DefectStep.objects.current().get(defect=defect, step=Step.ASSESSED)


def unsigned(vehicle, day=DAY):
    """What the rules say of competence to assess and release on a day, in words."""
    file = next(gather.vehicle_files([vehicle.pk]))
    return [
        finding.text
        for finding in BOOK["C02"].findings(file, gather.policy())
        if finding.holds_on(day)
    ]


def sign(row, by, hour=12):
    """Sign for a step or a release."""
    return services.counter_sign(by=None, row=row, person=by, on=at(hour))


def test_an_assessment_by_somebody_lapsed_is_recorded_flagged_and_signed_for(
    client, manager, lapsed
):
    make_competence(person_of(manager), skill=Skill.ASSESS)
    defect = make_defect(person=lapsed)
    client.force_login(manager)

    page = client.get(defect.get_absolute_url()).content.decode()
    assert "Edda Quill held no competence for assessment of defects that day" in page
    assert len(unsigned(defect.vehicle)) == 1

    address = reverse("defects:step-sign", args=[assessment(defect).pk])
    assert address in page
    sent = {"submission": uuid.uuid4(), "on_day": "2026-05-04", "on_time": "12:00"}
    answer = client.post(address, {**sent, "remark": "Tried it myself."}, follow=True)
    page = answer.content.decode()
    assert "Counter-signed by" in page
    assert "Tried it myself." in page
    assert unsigned(defect.vehicle, DAY + dt.timedelta(days=1)) == []


def test_where_nobodys_competence_is_recorded_none_is_asked_for():
    defect = make_defect()
    assert assessment(defect).skill == ""
    assert unsigned(defect.vehicle) == []


def test_a_competent_release_ends_the_doubt_about_the_assessment(lapsed):
    able = person()
    make_competence(able, skill=Skill.RELEASE)
    defect = make_defect(person=lapsed)
    services.take_in_hand(by=None, person=able, defect=defect, on=at(9))
    services.work_done(by=None, person=able, defect=defect, on=at(10))
    services.release(by=None, person=able, defect=defect, on=at(11))
    assert unsigned(defect.vehicle, DAY + dt.timedelta(days=1)) == []


def test_work_signed_off_by_somebody_lapsed_wants_a_signature(lapsed):
    vehicle = make_vehicle()
    work = services.start_work(
        by=None, person=person(), vehicle=vehicle, what="Step board", since=at(8)
    )
    services.release_to_traffic(by=None, person=lapsed, work=work, at=at(10))
    assert "no competence for release to traffic" in unsigned(vehicle)[0]

    able = person()
    make_competence(able, skill=Skill.RELEASE)
    sign(WorkInHand.objects.current().get(), able)
    assert unsigned(vehicle, DAY + dt.timedelta(days=1)) == []


def test_a_competence_put_right_later_takes_the_doubt_away(lapsed):
    defect = make_defect(person=lapsed)
    version = assessment(defect).competence
    assert version is None  # none held that day, so none is named
    make_competence(lapsed, skill=Skill.ASSESS, since="2026-05-04")
    assert len(unsigned(defect.vehicle)) == 1  # the step names none: it is signed for
    step = assessment(defect)
    services.correct_step(
        by=None, step=step, reason="Assessed anew that day", on=at(8), person=lapsed
    )
    assert unsigned(defect.vehicle) == []


def test_a_competence_that_turns_out_not_to_have_held_puts_the_step_in_doubt():
    someone = person()
    held = make_competence(someone, skill=Skill.ASSESS)
    defect = make_defect(person=someone)
    assert unsigned(defect.vehicle) == []
    correct_competence(
        by=None,
        version=held,
        reason="Certificate was another's",
        last_day=DAY - dt.timedelta(days=1),
    )
    assert len(unsigned(defect.vehicle)) == 1


def test_a_signature_that_cannot_be_is_refused(lapsed):
    able = person()
    make_competence(able, skill=Skill.ASSESS)
    step = assessment(make_defect(person=lapsed))
    sound = assessment(make_defect(person=able))
    cases = (
        (step, lapsed, 12, "somebody_else_needed"),
        (step, person(), 12, "not_competent"),
        (step, able, 7, "before_the_last_step"),
        (sound, able, 12, "not_needed"),
    )
    for row, who, hour, code in cases:
        with pytest.raises(ValidationError) as refused:
            sign(row, who, hour)
        assert code in codes_of(refused.value)
    sign(step, able)
    with pytest.raises(ValidationError) as refused:
        sign(step, able)
    assert "already_signed" in codes_of(refused.value)


def test_a_correction_wants_another_signature(lapsed):
    able = person()
    make_competence(able, skill=Skill.ASSESS)
    defect = make_defect(person=lapsed)
    sign(assessment(defect), able)
    services.correct_step(
        by=None, step=assessment(defect), reason="Wrong part", scope=Scope.SHARED_GEAR
    )
    assert len(unsigned(defect.vehicle)) == 1


def test_a_test_with_a_gauge_not_to_be_trusted_does_not_show_the_work_good():
    defect = stood_at(Step.DONE)
    gauge = make_instrument("TG-9", calibrated="2024-01-05")
    on = Moment.on(DAY, dt.time(11))
    record = make_test(vehicle=defect.vehicle, on=on, instrument=gauge)
    said = {"by": None, "person": person(), "defect": defect, "on": at(12)}
    with pytest.raises(ValidationError, match="TG-9") as refused:
        services.record_tested(test=record.test, **said)
    assert "test_in_doubt" in codes_of(refused.value)

    make_calibration(gauge, "2026-05-03")
    assert services.record_tested(test=record.test, **said).step == Step.TESTED
