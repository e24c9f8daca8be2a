"""Defects as people bring them through: the order of steps, who clears, what is kept."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError

from fleet.defects import services
from fleet.defects.models import Defect, DefectStep, WorkInHand
from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment
from fleet.records.models import Entry, Mention
from fleet.records.refusing import codes_of
from fleet.register.services.fittings import exchange, fit, take_off
from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from tests.defects.factories import (
    DAY,
    at,
    make_defect,
    make_policy,
    person,
    refused,
    stood_at,
)
from tests.examination.factories import make_test
from tests.register.factories import (
    make_depot,
    make_equipment,
    make_fitting,
    make_vehicle,
)

pytestmark = pytest.mark.django_db


def steps_of(defect):
    """The steps held true, in order."""
    held = DefectStep.objects.current().filter(defect=defect).order_by("number")
    return [Step(step.step) for step in held]


def newest(defect):
    return DefectStep.objects.newest().get(defect=defect)


def test_a_defect_at_a_position_takes_in_the_item_that_sat_there_at_that_moment():
    vehicle = make_vehicle()
    first = make_fitting(vehicle=vehicle, position="distributor").equipment
    second = make_equipment(EquipmentKind.DISTRIBUTOR)
    exchange(
        by=None,
        vehicle=vehicle,
        position="distributor",
        equipment=second,
        at=at(12),
        to=make_depot(),
    )
    told = {"vehicle": vehicle, "position": "distributor"}

    assert make_defect(on=at(11), **told).equipment == first
    assert make_defect(on=at(13), **told).equipment == second
    assert make_defect(on=Moment.on(DAY), **told).equipment == second


def test_a_defect_at_an_empty_position_is_one_of_the_vehicle():
    defect = make_defect(vehicle=make_vehicle(), position="distributor")

    assert defect.equipment is None
    assert newest(defect).scope == Scope.AIR_BRAKE


def test_a_defect_of_an_item_remembers_the_vehicle_it_was_found_on():
    fitting = make_fitting(vehicle=make_vehicle(), position="distributor")

    defect = make_defect(equipment=fitting.equipment)

    assert (defect.vehicle, defect.position) == (fitting.vehicle, "distributor")


def test_an_item_in_a_store_can_be_defective_once_its_scope_is_said():
    item = make_equipment(EquipmentKind.DISTRIBUTOR)

    with refused("scope_needed"):
        make_defect(equipment=item)

    assert make_defect(equipment=item, scope=Scope.AIR_BRAKE).vehicle is None


def test_a_defect_raised_without_an_effect_waits_for_its_assessment():
    defect = make_defect(effect=None)

    assert steps_of(defect) == [Step.RAISED]
    with refused("step_out_of_order"):
        services.take_in_hand(by=None, person=person(), defect=defect, on=at(9))


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"vehicle": None, "equipment": None}, "no_subject"),
        ({"position": "boiler"}, "no_such_position"),
        ({"on": Moment.on(dt.date(2999, 1, 1))}, "in_the_future"),
        ({"on": Moment.unknown()}, "unknown_date"),
        ({"position": "bp-hose-1", "effect": Effect.ISOLATE}, "through_pipe_stops"),
        ({"position": "bp-hose-1", "effect": Effect.DISCOUNT}, "through_pipe_stops"),
        ({"effect": Effect.CONDITION, "scope": Scope.AIR_BRAKE}, "no_condition"),
        ({"effect": Effect.STOP}, "scope_needed"),
    ],
)
def test_a_report_that_cannot_be_is_refused_and_nothing_is_kept(values, code):
    vehicle = make_vehicle()

    with refused(code):
        make_defect(**{"vehicle": vehicle} | values)

    assert not Defect.objects.exists()


def test_a_main_reservoir_pipe_fault_may_be_a_condition_in_words_but_nothing_less():
    told = {"vehicle": make_vehicle(), "position": "mr-hose-1"}

    with refused("through_pipe_stops"):
        make_defect(effect=Effect.ADVISE, **told)
    defect = make_defect(
        effect=Effect.CONDITION, condition="One-pipe working only.", **told
    )

    assert newest(defect).condition == "One-pipe working only."


def test_a_defect_is_brought_from_report_to_release():
    make_policy()
    fitter, examiner = person(), person()
    defect = make_defect(effect=None)
    told = {"by": None, "defect": defect}

    services.assess(
        person=examiner,
        on=at(8, 30),
        scope=Scope.AIR_BRAKE,
        effect=Effect.ISOLATE,
        **told,
    )
    services.take_in_hand(person=fitter, on=at(9), **told)
    work = WorkInHand.objects.current().get()
    assert (work.vehicle, work.what, work.until) == (defect.vehicle, defect.title, None)
    services.work_done(person=fitter, on=at(10), **told)
    test = make_test(vehicle=defect.vehicle, on=at(11)).test
    services.record_tested(person=fitter, on=at(11), test=test, **told)
    services.release(person=examiner, on=at(12), **told)

    assert steps_of(defect) == [
        Step.RAISED,
        Step.ASSESSED,
        Step.IN_HAND,
        Step.DONE,
        Step.TESTED,
        Step.RELEASED,
    ]
    work = WorkInHand.objects.current().get()
    assert (work.until, work.done_by, work.released_by) == (at(12), fitter, examiner)
    assert not DefectStep.objects.newest().open().exists()


def test_every_step_names_the_vehicle_and_the_item_for_whoever_reassesses():
    defect = make_defect()

    entry = Entry.objects.get(deed="defects.raise")
    named = set(Mention.objects.filter(entry=entry).values_list("kind", "key"))

    assert named == {
        ("register.vehicle", defect.vehicle_id),
        ("register.equipment", defect.equipment_id),
        ("defects.defect", defect.pk),
    }


@pytest.mark.parametrize("step", [Step.ASSESSED, Step.IN_HAND])
def test_a_release_before_the_work_is_done_is_refused(step):
    defect = stood_at(step)

    with refused("work_not_done"):
        services.release(by=None, person=person(), defect=defect, on=at(12))


def test_who_did_work_on_shared_gear_cannot_release_it_himself():
    make_policy()
    doer = person("R. Dale")
    defect = stood_at(Step.DONE, doer=doer, vehicle=make_vehicle(), scope="shared_gear")

    with pytest.raises(ValidationError, match=r"R\. Dale did the work") as error:
        services.release(by=None, person=doer, defect=defect, on=at(11))

    assert "independent_person_needed" in codes_of(error.value)
    services.release(by=None, person=person(), defect=defect, on=at(11))
    assert newest(defect).step == Step.RELEASED


def test_outside_the_listed_scopes_the_doer_may_release():
    make_policy()
    doer = person()
    defect = stood_at(Step.DONE, doer=doer)

    services.release(by=None, person=doer, defect=defect, on=at(11))

    assert newest(defect).step == Step.RELEASED


def test_lighter_work_than_the_policy_names_is_cleared_by_the_work():
    make_policy()
    defect = make_defect(effect=Effect.ADVISE)
    services.take_in_hand(by=None, person=person(), defect=defect, on=at(9))

    stands = services.work_done(by=None, person=person(), defect=defect, on=at(10))

    assert stands.step == Step.CLEARED
    assert WorkInHand.objects.current().get().until == at(10)
    with refused("already_cleared"):
        services.release(by=None, person=person(), defect=defect, on=at(11))


def test_light_work_on_a_scope_that_wants_another_pair_of_eyes_still_needs_release():
    make_policy()
    defect = make_defect(
        vehicle=make_vehicle(), scope=Scope.SHARED_GEAR, effect=Effect.ADVISE
    )

    stands = services.work_done(by=None, person=person(), defect=defect, on=at(10))

    assert stands.step == Step.DONE


def test_without_a_policy_even_advice_needs_a_release():
    defect = make_defect(effect=Effect.ADVISE)

    stands = services.work_done(by=None, person=person(), defect=defect, on=at(10))

    assert stands.step == Step.DONE


def test_the_policy_of_the_day_of_the_work_counts():
    make_policy(effective_from=DAY + dt.timedelta(days=1))
    before = make_defect(effect=Effect.ADVISE)
    after = make_defect(effect=Effect.ADVISE)
    next_day = at(10, day=DAY + dt.timedelta(days=1))

    assert services.work_done(
        by=None, person=person(), defect=before, on=at(10)
    ).step == (Step.DONE)
    assert services.work_done(
        by=None, person=person(), defect=after, on=next_day
    ).step == (Step.CLEARED)


def test_a_second_policy_takes_effect_not_before_tomorrow():
    make_policy()

    with refused("takes_effect_too_soon"):
        make_policy(effective_from=DAY)


def test_a_policy_names_only_scopes_there_are():
    with refused("unknown_scope"):
        make_policy(independent_scopes=["boiler"])


def test_no_fault_found_says_what_was_tried():
    defect = make_defect()
    told = {"by": None, "person": person(), "defect": defect, "on": at(9)}

    with refused("no_note"):
        services.no_fault_found(note=" ", **told)
    services.no_fault_found(note="Applied and released ten times.", **told)

    assert steps_of(defect)[-1] == Step.NO_FAULT


def test_no_fault_in_a_brake_in_hand_still_needs_its_release_to_traffic():
    make_policy()
    defect = stood_at(Step.IN_HAND)
    services.no_fault_found(
        by=None, person=person(), defect=defect, on=at(10), note="Tried it."
    )
    work = WorkInHand.objects.current().get()
    assert work.until is None

    services.release_to_traffic(by=None, person=person(), work=work, at=at(11))

    assert WorkInHand.objects.current().get().until == at(11)


def test_a_step_is_never_before_the_one_before_it():
    defect = stood_at(Step.IN_HAND)

    with refused("before_the_last_step"):
        services.work_done(by=None, person=person(), defect=defect, on=at(8, 30))


def test_an_untimed_step_on_the_same_day_is_taken_as_it_comes():
    make_policy()
    day = Moment.on(DAY)
    defect = make_defect(on=day)

    services.take_in_hand(by=None, person=person(), defect=defect, on=day)
    services.work_done(by=None, person=person(), defect=defect, on=day)
    services.release(by=None, person=person(), defect=defect, on=day)

    assert WorkInHand.objects.current().get().until == day


def test_an_untimed_end_of_timed_work_asks_for_the_time():
    defect = stood_at(Step.DONE)

    with refused("time_needed"):
        services.release(by=None, person=person(), defect=defect, on=Moment.on(DAY))


def test_work_found_not_good_is_assessed_again_and_done_again():
    defect = stood_at(Step.DONE)
    told = {"by": None, "person": person(), "defect": defect}

    services.assess(on=at(11), scope=Scope.AIR_BRAKE, effect=Effect.STOP, **told)
    services.take_in_hand(on=at(12), **told)
    services.work_done(on=at(13), **told)
    services.release(on=at(14), **told)

    assert newest(defect).effect == Effect.STOP
    assert WorkInHand.objects.current().get().until == at(14)


def test_only_a_passed_test_of_the_same_vehicle_after_the_work_counts_as_tested():
    defect = stood_at(Step.DONE)
    told = {"by": None, "person": person(), "defect": defect, "on": at(12)}
    mine = {"vehicle": defect.vehicle}

    other = make_test(on=at(11)).test
    with refused("test_of_something_else"):
        services.record_tested(test=other, **told)
    early = make_test(on=at(9), **mine).test
    with refused("test_before_work"):
        services.record_tested(test=early, **told)
    failed = make_test(on=at(11), readings=[], **mine).test
    with refused("test_not_passed"):
        services.record_tested(test=failed, **told)
    services.record_tested(test=make_test(on=at(11), **mine).test, **told)

    assert newest(defect).step == Step.TESTED


def test_a_defect_goes_where_its_item_goes():
    make_policy()
    defect = make_defect()
    first, second = defect.vehicle, make_vehicle()
    fitting = defect.equipment.fittings.current().get(vehicle=first)
    take_off(by=None, fitting=fitting, at=at(9), to=make_depot())
    newest_steps = DefectStep.objects.newest().open()
    assert not newest_steps.of_vehicle(first, DAY).exists()
    fit(
        by=None,
        equipment=defect.equipment,
        vehicle=second,
        position="distributor",
        since=at(10),
    )

    assert newest_steps.of_vehicle(second, DAY).get().defect == defect
    services.take_in_hand(by=None, person=person(), defect=defect, on=at(11))
    assert WorkInHand.objects.current().get().vehicle == second


def test_work_whose_item_was_exchanged_is_released_while_the_item_stays_defective():
    make_policy()
    defect = stood_at(Step.IN_HAND)
    work = WorkInHand.objects.current().get()
    told = {"by": None, "person": person(), "work": work}
    with refused("work_not_done"):
        services.release_to_traffic(at=at(10), **told)
    exchange(
        by=None,
        vehicle=defect.vehicle,
        position="distributor",
        equipment=make_equipment(EquipmentKind.DISTRIBUTOR),
        at=at(11),
        to=make_depot(),
    )

    services.release_to_traffic(at=at(12), **told)

    assert WorkInHand.objects.current().get().until == at(12)
    assert DefectStep.objects.newest().open().of_equipment(defect.equipment).exists()


def test_work_without_a_defect_is_begun_and_signed_off_by_two_people():
    make_policy()
    doer = person()
    told = {"by": None, "person": doer}
    work = services.start_work(
        vehicle=make_vehicle(), what="Blocks changed", since=at(9), **told
    )

    with refused("independent_person_needed"):
        services.release_to_traffic(work=work, at=at(12), **told)
    with refused("before_the_last_step"):
        services.release_to_traffic(by=None, person=person(), work=work, at=at(8))
    done = services.release_to_traffic(by=None, person=person(), work=work, at=at(12))

    assert (done.done_by, done.until) == (doer, at(12))
    with refused("already_released"):
        services.release_to_traffic(by=None, person=person(), work=done, at=at(13))


def test_work_that_said_its_scope_asks_for_a_second_person_only_where_it_is_listed():
    make_policy()
    doer = person()
    work = services.start_work(
        by=None,
        person=doer,
        vehicle=make_vehicle(),
        what="Strainer cleaned",
        since=at(9),
        scope=Scope.AIR_BRAKE,
    )

    services.release_to_traffic(by=None, person=doer, work=work, at=at(10))

    assert WorkInHand.objects.current().get().released_by == doer


def test_a_corrected_assessment_stands_in_the_steps_that_carried_it_and_both_are_kept():
    defect = stood_at(Step.IN_HAND)
    assessed = DefectStep.objects.get(defect=defect, step=Step.ASSESSED)

    services.correct_step(
        by=None, step=assessed, reason="Wrong box", effect=Effect.STOP
    )

    held = DefectStep.objects.current().filter(defect=defect).order_by("number")
    assert [s.step for s in held] == ["raised", "assessed", "in_hand"]
    assert [s.effect for s in held][1:] == [Effect.STOP, Effect.STOP]
    assert DefectStep.objects.filter(defect=defect, step=Step.ASSESSED).count() == 2
    with refused("already_superseded"):
        services.correct_step(by=None, step=assessed, reason="Again", note="x")


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"on": at(7)}, "before_the_last_step"),
        ({"on": at(9, 30)}, "after_the_next_step"),
        ({"scope": Scope.BRAKE_PIPE}, "through_pipe_stops"),
        ({"number": 9}, "cannot_be_corrected"),
        ({"note": "x", "reason": " "}, "no_reason"),
    ],
)
def test_a_correction_that_cannot_be_is_refused(changes, code):
    defect = stood_at(Step.IN_HAND)
    assessed = DefectStep.objects.get(defect=defect, step=Step.ASSESSED)

    with refused(code):
        services.correct_step(
            **{"by": None, "step": assessed, "reason": "Misread"} | changes
        )


def test_a_wrong_release_is_taken_back_and_the_work_goes_on():
    make_policy()
    defect = stood_at(Step.RELEASED)

    services.retract_step(by=None, step=newest(defect), reason="Wrong vehicle")

    assert newest(defect).step == Step.DONE
    assert WorkInHand.objects.current().get().until is None
    services.release(by=None, person=person(), defect=defect, on=at(12))
    assert WorkInHand.objects.current().get().until == at(12)


def test_steps_are_taken_back_one_by_one_to_nothing():
    make_policy()
    defect = stood_at(Step.DONE)
    first = DefectStep.objects.get(defect=defect, step=Step.RAISED)
    with refused("not_the_newest_step"):
        services.retract_step(by=None, step=first, reason="Never was")

    for _ in range(4):
        services.retract_step(by=None, step=newest(defect), reason="Never was")

    assert not WorkInHand.objects.current().exists()
    assert DefectStep.objects.filter(defect=defect).count() == 8
    with refused("withdrawn"):
        services.release(by=None, person=person(), defect=defect, on=at(12))


def test_what_was_open_on_a_day_is_told_by_the_days_of_the_steps():
    make_policy()
    defect = make_defect(on=Moment.parse("2026-03"))
    services.work_done(by=None, person=person(), defect=defect, on=at(10))
    services.release(by=None, person=person(), defect=defect, on=at(11))

    def stood(day):
        return DefectStep.objects.newest(day).open().filter(defect=defect).exists()

    assert not stood(dt.date(2026, 2, 28))
    assert stood(dt.date(2026, 3, 1))
    assert stood(dt.date(2026, 5, 3))
    assert not stood(DAY)


@pytest.mark.parametrize("size", [2, 8])
def test_the_list_reads_once_whatever_its_length(size, django_assert_num_queries):
    for _ in range(size):
        make_defect()

    with django_assert_num_queries(1):
        rows = list(DefectStep.objects.newest().for_list())
        shown = [
            (str(r.defect), r.vehicle_number, r.serial, r.number_now, str(r.by))
            for r in rows
        ]

    assert len(shown) == size
    assert all(row[1] == row[3] for row in shown)


def test_earlier_tickets_of_the_same_item_or_place_are_found():
    first = make_defect()
    again = make_defect(vehicle=first.vehicle, position="distributor")
    make_defect()

    assert list(Defect.objects.like(again)) == [first]
