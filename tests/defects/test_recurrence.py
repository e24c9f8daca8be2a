"""A defect that comes back: shown, counted, and at the third time looked at higher up."""

import datetime as dt
import uuid

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from fleet.defects import services
from fleet.defects.models import DefectStep
from fleet.defects.recurrence import recurrence_of
from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment
from fleet.people.access import person_of
from fleet.people.models import Skill
from fleet.records.clock import today
from fleet.records.refusing import codes_of
from fleet.register.vocabulary import Effect, Scope
from tests.defects.factories import DAY, at, make_defect, make_policy, person
from tests.examination.factories import make_test
from tests.people.factories import make_competence
from tests.register.factories import make_fitting, make_vehicle

pytestmark = pytest.mark.django_db

JANUARY, MARCH = dt.date(2026, 1, 12), dt.date(2026, 3, 9)


@pytest.fixture
def wagon():
    """A wagon with a distributor."""
    vehicle = make_vehicle()
    make_fitting(vehicle=vehicle, position="distributor")
    return vehicle


def reported(wagon, day, *, by=None, **values):
    """The distributor slow to release, assessed the day it was found."""
    said = {"vehicle": wagon, "position": "distributor", "on": at(8, day=day)}
    return make_defect(person=by or person(), **said, **values)


def not_found(defect, day, by):
    """Nothing found, later that day."""
    return services.no_fault_found(
        by=None, person=by, defect=defect, on=at(10, day=day), note="Tried ten times"
    )


def twice_before(wagon, by):
    """The same in January and in March; no fault was found either time."""
    for day in (JANUARY, MARCH):
        not_found(reported(wagon, day, by=by), day, by)


def refusal(act, *args, **values):
    """What is answered to somebody who may not."""
    with pytest.raises(ValidationError) as refused:
        act(*args, **values)
    return refused.value


def higher(defect, by, hour=9, **values):
    """Assess a defect at a higher level."""
    said = {"scope": Scope.AIR_BRAKE, "effect": Effect.ISOLATE, "note": "Water in it"}
    return services.assess_higher(
        by=None, person=by, defect=defect, on=at(hour), **said | values
    )


def text_of(client, address):
    """The words of a page."""
    return " ".join(client.get(address).content.decode().split())


def test_the_second_time_says_so_with_the_earlier_ticket(client, manager, wagon):
    spring, later = (today() - dt.timedelta(days=days) for days in (70, 9))
    first = reported(wagon, spring)
    not_found(first, spring, person())
    client.force_login(manager)
    raising = reverse("defects:defect-add")
    page = text_of(client, f"{raising}?vehicle={wagon.pk}&position=distributor")
    assert "Reported here before" in page

    second = reported(wagon, later)
    page = text_of(client, second.get_absolute_url())
    assert "Second time in 180 days." in page
    assert "No fault found: 1 of 1 before." in page
    assert first.get_absolute_url() in page
    assert "at a higher level" not in page
    assert "Second time" not in text_of(client, first.get_absolute_url())


def test_the_third_time_is_cleared_only_after_somebody_else_assessed_it_higher_up(
    client, manager, wagon
):
    fitter, chief = person("Edda Quill"), person_of(manager)
    make_competence(chief, skill=Skill.RELEASE, since="2025-06-02")
    make_competence(fitter, skill=Skill.RELEASE, since="2025-06-02")
    twice_before(wagon, fitter)
    third = reported(wagon, DAY, by=fitter)

    refused = refusal(not_found, third, DAY, fitter)
    assert "higher_assessment_needed" in codes_of(refused)
    assert f"by {chief}: somebody" in str(refused)
    assert "Edda Quill" not in str(refused)

    client.force_login(manager)
    page = text_of(client, third.get_absolute_url())
    assert "This is the third time in 180 days." in page
    address = reverse("defects:assess-higher", args=[third.pk])
    assert address in page
    sent = {
        "submission": uuid.uuid4(),
        "scope": Scope.AIR_BRAKE,
        "effect": Effect.ISOLATE,
        "on_day": DAY.isoformat(),
        "on_time": "09:00",
        "note": "Water freezes in the bracket; drain it each turn.",
    }
    answer = client.post(address, sent, follow=True).content.decode()
    assert "Assessed at a higher level" in answer
    assert address not in answer
    assert not_found(third, DAY, fitter).step == Step.NO_FAULT


def test_a_third_time_is_not_released_before_it_either(wagon):
    fitter, chief = person(), person()
    make_competence(chief, skill=Skill.RELEASE, since="2025-06-02")
    twice_before(wagon, fitter)
    third = reported(wagon, DAY, by=fitter)
    services.work_done(by=None, person=fitter, defect=third, on=at(9))
    said = {"by": None, "person": chief, "defect": third}
    refused = refusal(services.release, on=at(10), **said)
    assert "higher_assessment_needed" in codes_of(refused)

    higher(third, chief, hour=11)
    assert services.release(on=at(13), **said).step == Step.RELEASED


def test_work_done_and_tested_stands_when_it_is_assessed_higher_up_afterwards(
    client, manager, wagon
):
    make_policy()
    fitter, chief = person(), person_of(manager)
    make_competence(chief, skill=Skill.RELEASE, since="2025-06-02")
    twice_before(wagon, fitter)  # 12 January and 9 March 2026
    third = reported(wagon, DAY, by=fitter)  # 4 May, assessed at eight
    services.work_done(by=None, person=fitter, defect=third, on=at(9))
    proof = make_test(vehicle=wagon, on=at(10)).test
    client.force_login(manager)
    page = text_of(client, third.get_absolute_url())
    assert "Assess at a higher level" in page
    assert "No fault found</a>" not in page

    higher(third, chief, hour=11)
    page = text_of(client, third.get_absolute_url())
    for deed in ("Record it tested", "Release", "Take in hand"):
        assert f">{deed}</a>" in page

    services.record_tested(by=None, person=fitter, defect=third, on=at(12), test=proof)
    released = services.release(by=None, person=chief, defect=third, on=at(13))
    assert released.step == Step.RELEASED
    steps = DefectStep.objects.current().filter(defect=third).order_by("number")
    assert [step.step for step in steps] == [
        Step.RAISED,
        Step.ASSESSED,
        Step.DONE,
        Step.ASSESSED,
        Step.TESTED,
        Step.RELEASED,
    ]


def test_an_ordinary_assessment_after_the_work_still_asks_for_the_work_again(wagon):
    fitter = person()
    defect = reported(wagon, DAY, by=fitter)
    services.work_done(by=None, person=fitter, defect=defect, on=at(9))
    services.assess(
        by=None,
        person=fitter,
        defect=defect,
        on=at(10),
        scope=Scope.AIR_BRAKE,
        effect=Effect.ISOLATE,
    )
    said = {"by": None, "person": person(), "defect": defect, "on": at(11)}
    assert "work_not_done" in codes_of(refusal(services.release, **said))


@pytest.mark.parametrize(
    ("first", "second", "earlier"),
    [
        pytest.param(at(9), at(11), 0, id="by the time of day"),
        pytest.param(at(11), at(9), 1, id="recorded the other way round"),
        pytest.param(Moment.on(DAY, None, 1), Moment.on(DAY, None, 2), 0, id="order"),
        pytest.param(
            Moment.on(DAY, None, 2), Moment.on(DAY, None, 1), 1, id="reversed"
        ),
        pytest.param(Moment.on(DAY), Moment.on(DAY), 0, id="as recorded"),
    ],
)
def test_of_two_reports_on_one_day_the_recorded_order_says_which_is_the_second(
    wagon, first, second, earlier
):
    said = {"vehicle": wagon, "position": "distributor", "person": person()}
    one, other = (make_defect(on=on, **said) for on in (first, second))
    assert len(recurrence_of(one).earlier) == earlier
    assert len(recurrence_of(other).earlier) == 1 - earlier


def test_light_work_does_not_clear_a_third_time_by_itself(wagon):
    make_policy()
    make_competence(person(), skill=Skill.RELEASE, since="2025-06-02")
    fitter = person()
    twice_before(wagon, fitter)
    light = {"by": fitter, "effect": Effect.ADVISE}
    third = reported(wagon, DAY, **light)
    done = services.work_done(by=None, person=fitter, defect=third, on=at(9))
    assert done.step == Step.DONE


def test_who_assessed_before_or_is_not_competent_cannot_assess_it_higher_up(wagon):
    fitter, chief = person(), person()
    for someone in (fitter, chief):
        make_competence(someone, skill=Skill.RELEASE, since="2025-06-02")
    twice_before(wagon, fitter)
    third = reported(wagon, DAY)
    assert "somebody_else_needed" in codes_of(refusal(higher, third, fitter))
    assert "not_competent" in codes_of(refusal(higher, third, person()))
    assert "no_note" in codes_of(refusal(higher, third, chief, note=" "))
    higher(third, chief)
    assert "not_needed" in codes_of(refusal(higher, third, chief))


def test_a_lower_assessment_afterwards_asks_for_the_higher_one_again(wagon):
    fitter, chief = person(), person()
    make_competence(chief, skill=Skill.RELEASE, since="2025-06-02")
    twice_before(wagon, fitter)
    third = reported(wagon, DAY, by=fitter)
    higher(third, chief)
    services.assess(
        by=None,
        person=fitter,
        defect=third,
        on=at(9, 30),
        scope=Scope.AIR_BRAKE,
        effect=Effect.ADVISE,
    )
    refused = refusal(not_found, third, DAY, fitter)
    assert "higher_assessment_needed" in codes_of(refused)


def test_a_date_put_right_keeps_the_higher_assessment(wagon):
    fitter, chief = person(), person()
    make_competence(chief, skill=Skill.RELEASE, since="2025-06-02")
    twice_before(wagon, fitter)
    third = reported(wagon, DAY, by=fitter)
    step = higher(third, chief)
    services.correct_step(by=None, step=step, reason="Clock wrong", on=at(9, 15))
    assert not_found(third, DAY, fitter).step == Step.NO_FAULT


def test_the_operator_sets_the_period_and_the_count(wagon):
    make_competence(person(), skill=Skill.RELEASE, since="2025-06-02")
    make_policy(recurrence_days=60, recurrence_count=2)
    fitter = person()
    not_found(reported(wagon, JANUARY, by=fitter), JANUARY, fitter)
    second = reported(wagon, MARCH, by=fitter)  # 56 days later
    refused = refusal(not_found, second, MARCH, fitter)
    assert "This is the second time in 60 days" in str(refused)

    services.retract_step(
        by=None, step=DefectStep.objects.get(defect=second, number=2), reason="Twice"
    )
    services.retract_step(
        by=None, step=DefectStep.objects.get(defect=second, number=1), reason="Twice"
    )
    later = dt.date(2026, 3, 14)  # 61 days after
    assert not_found(reported(wagon, later, by=fitter), later, fitter).step


def test_the_first_time_cannot_count_as_come_back():
    refused = refusal(make_policy, recurrence_count=1)
    assert "first_time_is_no_recurrence" in codes_of(refused)


def test_another_place_or_another_symptom_is_not_the_same_again(client, manager):
    vehicle = make_vehicle()
    said = {"vehicle": vehicle, "scope": Scope.AIR_BRAKE}
    make_defect(title="Brake drags", on=Moment.on(MARCH), **said)
    other = make_defect(title="Does not apply", **said)
    again = make_defect(title="Brake drags, uphill", **said)
    client.force_login(manager)
    assert "time in 180 days" not in text_of(client, other.get_absolute_url())
    assert "Second time in 180 days" in text_of(client, again.get_absolute_url())


def test_the_page_asks_no_more_for_many_earlier_tickets(
    client, manager, wagon, django_assert_max_num_queries
):
    client.force_login(manager)
    reported(wagon, JANUARY)
    address = reported(wagon, DAY).get_absolute_url()
    client.get(address)
    with django_assert_max_num_queries(100) as few:
        client.get(address)
    for day in range(1, 6):
        reported(wagon, dt.date(2026, 3, day))
    with django_assert_max_num_queries(len(few)):
        client.get(address)
