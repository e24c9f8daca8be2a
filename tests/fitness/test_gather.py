"""Gathering: every kind of fact arrives, as known at any entry, in so many queries."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import transaction

from fleet.defects.vocabulary import Brake
from fleet.engineering.calendar import Moment
from fleet.fitness.gather import policy, vehicle_files
from fleet.records.clock import today
from fleet.records.models import Entry
from fleet.register.services.equipment import alter_equipment
from fleet.register.services.fittings import exchange, retract_fitting, take_off
from fleet.register.services.types import revise_type
from fleet.register.services.usage import log_usage
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import (
    Effect,
    EquipmentKind,
    EquipmentState,
    Fitment,
    Scope,
    VehicleStatus,
)
from fleet.upkeep.models import Requirement
from fleet.upkeep.services import revise_requirement, take_back_revision
from tests.fitness.histories import day, make_history, make_policy, on
from tests.register.factories import (
    FIRST_DAY,
    air_places,
    make_depot,
    make_equipment,
    make_fitting,
    make_type,
    make_vehicle,
    place,
)
from tests.upkeep.factories import make_conditions, make_requirement

pytestmark = pytest.mark.django_db


def file_of(vehicle, **values):
    """The file of one vehicle."""
    files = list(vehicle_files([vehicle.pk], **values))
    assert len(files) == 1
    return files[0]


def newest():
    """The number of the newest entry."""
    return Entry.objects.latest("number").number


@pytest.fixture
def history():
    """A vehicle with everything, under a policy."""
    make_policy()
    return make_history(number="T 901", depot=make_depot())


def test_particulars_arrive_in_order_with_status_and_depot(history):
    particulars = file_of(history.vehicle).particulars

    assert [p.status for p in particulars] == [
        VehicleStatus.IN_TRAFFIC,
        VehicleStatus.STORED,
        VehicleStatus.IN_TRAFFIC,
    ]
    first, _, last = particulars
    assert (first.number, first.type_code, first.depot) == (
        "T 901",
        "coach-air",
        "Wenlow works",
    )
    assert (first.air, first.vacuum) == (Fitment.BRAKED, Fitment.NONE)
    assert (first.since, first.until) == (Moment.on(FIRST_DAY), on("2025-11-01"))
    assert last.until is None


def test_positions_of_the_type_arrive_with_every_revision():
    type_ = make_type()
    vehicle = make_vehicle(type=type_)
    gauge = place("gauge", "Gauge", EquipmentKind.GAUGE, Scope.AIR_BRAKE)
    revise_type(
        by=None,
        type=type_,
        name="Open coach",
        effective_from=day("2024-02-01"),
        positions=[*air_places(), gauge],
        reason="Gauge fitted",
    )

    first, second = file_of(vehicle).types["coach-air"]

    assert first.until == second.since == day("2024-02-01")
    assert second.until is None
    assert {p.code for p in second.positions} - {p.code for p in first.positions} == {
        "gauge"
    }
    hose = next(p for p in first.positions if p.code == "bp-hose-1")
    assert (hose.kind, hose.scope, hose.effect_missing) == (
        EquipmentKind.BP_HOSE,
        Scope.BRAKE_PIPE,
        Effect.STOP,
    )


def test_fittings_arrive_with_the_items_that_came_and_went(history):
    file = file_of(history.vehicle)

    there = [f for f in file.fitted if f.position == "distributor"]
    there.sort(key=lambda fitting: fitting.since.key)
    old = history.fitted["distributor"].equipment
    assert [f.equipment for f in there] == [old.pk, history.spare.pk]
    assert there[0].until == there[1].since == on("2025-03-04", "09:30")
    assert there[1].until is None
    spare = file.equipment[history.spare.pk]
    assert (spare.kind, spare.designation, spare.group) == (
        EquipmentKind.DISTRIBUTOR,
        "D2",
        "dv",
    )
    assert spare.made == Moment.parse("2014-05")
    assert len(file.equipment) == len(history.fitted) + 1


def test_the_standing_of_an_item_arrives_with_its_intervals(history):
    old = history.fitted["distributor"].equipment

    states = file_of(history.vehicle).equipment[old.pk].states

    assert [s.state for s in states] == [
        EquipmentState.SERVICEABLE,
        EquipmentState.UNSERVICEABLE,
    ]
    assert states[0].until == states[1].since == on("2025-03-04", "09:30")


def test_an_item_takes_its_newest_particulars():
    vehicle = make_vehicle()
    hose = make_fitting(vehicle=vehicle, position="bp-hose-1").equipment
    alter_equipment(by=None, equipment=hose, since=on("2024-01-01"), bore_mm=28)

    assert file_of(vehicle).equipment[hose.pk].bore_mm == 28


def test_tests_of_the_vehicle_and_of_its_items_arrive_in_order(history):
    tests = file_of(history.vehicle).tests

    old = history.fitted["distributor"].equipment
    assert [(t.procedure, t.on.latest.isoformat(), t.equipment) for t in tests] == [
        ("bench-dv", "2024-06-01", old.pk),
        ("svt-air", "2025-02-03", None),
        ("svt-air", "2025-03-05", None),
    ]
    assert [t.passed for t in tests] == [True, False, True]
    assert tests[2].id == history.test.test_id


def test_a_failed_line_says_what_was_found_and_what_that_does(history):
    failed = next(t for t in file_of(history.vehicle).tests if not t.passed)

    (line,) = failed.failed
    assert (line.text, line.scope, line.effect) == (
        "Release time",
        Scope.AIR_BRAKE,
        Effect.ISOLATE,
    )
    assert line.found == "28 s, limit 15 to 20 s"


def test_a_defect_arrives_with_its_steps_in_order(history):
    (defect,) = file_of(history.vehicle).defects

    assert (defect.id, defect.title) == (history.defect.pk, "Slack adjuster seized")
    assert [step.step for step in defect.steps] == [
        "raised",
        "assessed",
        "in_hand",
        "done",
        "released",
    ]
    assert defect.steps[1].effect == Effect.ISOLATE
    assert defect.steps[1].scope == Scope.SHARED_GEAR


def test_an_isolation_arrives_state_by_state_and_only_the_last_ends_it(history):
    isolations = file_of(history.vehicle).isolations

    assert [(i.complete, i.ends) for i in isolations] == [(False, False), (True, True)]
    assert isolations[0].until == isolations[1].since == on("2025-06-02", "09:00")
    assert isolations[1].until == on("2025-06-10", "12:00")
    assert {i.id for i in isolations} == {history.isolation.isolation_id}
    assert all(i.whole and i.brake is Brake.AIR for i in isolations)


def test_work_storage_and_usage_arrive(history):
    file = file_of(history.vehicle)

    (work,) = file.work
    assert (work.since, work.until) == (
        on("2025-05-04", "09:00"),
        on("2025-05-05", "11:00"),
    )
    (storage,) = file.storage
    assert (storage.since, storage.until) == (on("2025-11-01"), on("2026-03-01"))
    (usage,) = file.usage
    assert (usage.first, usage.last) == (day("2025-01-01"), day("2025-01-31"))
    assert (usage.miles, usage.days) == (120.5, 9)


def test_an_imprecise_or_unknown_date_arrives_as_it_was_given():
    vehicle = make_vehicle()
    vague = make_equipment(EquipmentKind.BP_HOSE, made=Moment.unknown())
    make_fitting(vehicle=vehicle, position="bp-hose-1", equipment=vague)
    dated = make_equipment(EquipmentKind.BP_HOSE, made=Moment.parse("2014-Q2"))
    make_fitting(vehicle=vehicle, position="bp-hose-2", equipment=dated)

    equipment = file_of(vehicle).equipment

    assert not equipment[vague.pk].made.known
    assert equipment[dated.pk].made == Moment.parse("2014-Q2")


def test_an_items_tests_and_defects_follow_it_to_the_next_vehicle(history):
    other = make_vehicle()
    old = history.fitted["distributor"].equipment
    make_fitting(
        vehicle=other, position="distributor", equipment=old, since=on("2025-04-01")
    )

    file = file_of(other)

    assert [t.equipment for t in file.tests] == [old.pk]
    assert file.defects == ()


def test_a_fitting_that_was_retracted_is_not_there():
    vehicle = make_vehicle()
    fitting = make_fitting(vehicle=vehicle, position="distributor")
    retract_fitting(by=None, fitting=fitting, reason="Another coach")

    file = file_of(vehicle)

    assert file.fitted == ()
    assert file.equipment == {}


def test_an_item_fitted_twice_counts_once():
    vehicle = make_vehicle()
    fitting = make_fitting(
        vehicle=vehicle, position="distributor", since=on("2024-01-01")
    )
    take_off(by=None, fitting=fitting, at=on("2024-02-01"), to=make_depot())
    item = fitting.equipment
    make_fitting(
        vehicle=vehicle, position="distributor", equipment=item, since=on("2024-03-01")
    )

    file = file_of(vehicle)

    assert len(file.fitted) == 2
    assert [len(item.states) for item in file.equipment.values()] == [1]


@pytest.mark.parametrize("counted", [False, True], ids=["by date", "by miles"])
def test_an_item_brings_the_usage_it_saw_only_where_it_is_counted(counted):
    make_policy(miles=5000 if counted else None)
    first, second = make_vehicle(), make_vehicle()
    fitting = make_fitting(
        vehicle=first, position="slack-adjuster", since=on("2024-01-01")
    )
    for vehicle in (first, second):
        log_usage(
            by=None,
            vehicle=vehicle,
            first=day("2024-01-01"),
            last=day("2024-03-30"),
            miles=Decimal(900),
            days=90,
        )
    take_off(by=None, fitting=fitting, at=on("2024-01-31"), to=make_depot())
    item = fitting.equipment
    make_fitting(
        vehicle=second,
        position="slack-adjuster",
        equipment=item,
        since=on("2024-03-01"),
    )

    usage = file_of(second).equipment[item.pk].usage

    # 900 miles in 90 days: 30 days on the first vehicle, then 30 on the second.
    expected = [
        (day("2024-01-01"), day("2024-01-30"), 300.0, 30),
        (day("2024-03-01"), day("2024-03-30"), 300.0, 30),
    ]
    seen = [(u.first, u.last, round(u.miles, 6), u.days) for u in usage]
    assert seen == (expected if counted else [])


def test_nothing_recorded_after_an_entry_is_known_at_it(history):
    vehicle = history.vehicle
    before, known = file_of(vehicle), newest()
    make_history()
    exchange(
        by=None,
        vehicle=vehicle,
        position="distributor",
        equipment=make_equipment(EquipmentKind.DISTRIBUTOR),
        at=on("2026-04-01"),
        to=make_depot(),
    )
    alter_vehicle(by=None, vehicle=vehicle, since=on("2026-05-01"), number="T 902")
    log_usage(
        by=None,
        vehicle=vehicle,
        first=day("2026-05-01"),
        last=day("2026-05-31"),
        miles=Decimal(10),
        days=2,
    )

    assert file_of(vehicle, known_at=known) == before
    assert file_of(vehicle) != before


def test_a_vehicle_not_known_yet_has_no_file(history):
    known = newest()
    later = make_vehicle()

    assert list(vehicle_files([later.pk], known_at=known)) == []
    assert [f.id for f in vehicle_files(None, known_at=known)] == [history.vehicle.pk]


def test_files_come_for_the_vehicles_asked_for_in_order_of_their_ids():
    one, _two, three = (make_vehicle() for _ in range(3))

    asked = [f.id for f in vehicle_files([three.pk, one.pk, three.pk])]

    assert asked == [one.pk, three.pk]


def test_each_row_reaches_the_file_of_its_own_vehicle_however_small_the_batches():
    make_policy(miles=5000)
    histories = [make_history() for _ in range(3)]
    bare = make_vehicle()

    one_by_one = {h.vehicle.pk: file_of(h.vehicle) for h in histories}
    one_by_one[bare.pk] = file_of(bare)
    together = {file.id: file for file in vehicle_files(None, chunk=2)}

    assert together == one_by_one
    assert together[bare.pk].fitted == ()


@pytest.mark.parametrize("counted", [False, True], ids=["by date", "by miles"])
@pytest.mark.parametrize("vehicles", [1, 6])
def test_the_number_of_queries_does_not_depend_on_that_of_the_vehicles(
    django_assert_num_queries, vehicles, counted
):
    make_policy(miles=5000 if counted else None)
    for _ in range(vehicles):
        make_history()
    policy()

    with django_assert_num_queries(11 if counted else 10):
        assert len(list(vehicle_files(None, chunk=3))) == vehicles


@pytest.mark.parametrize("vehicles", [1, 4])
def test_the_number_of_queries_as_known_earlier_does_not_either(
    django_assert_num_queries, vehicles
):
    make_policy()
    for _ in range(vehicles):
        make_history()
    known = newest()

    with django_assert_num_queries(23):
        assert len(list(vehicle_files(None, known_at=known))) == vehicles


def test_files_share_what_never_differs():
    make_policy()
    first, second = make_history(), make_history()

    one, two = vehicle_files([first.vehicle.pk, second.vehicle.pk])

    assert one.types is two.types
    assert one.storage[0].since is two.storage[0].since


# Policy -----------------------------------------------------------------------------


def test_policy_holds_every_requirement_with_the_days_it_rules():
    make_policy()
    requirement = Requirement.objects.get(code="annual")
    tomorrow = today() + dt.timedelta(days=1)
    revise_requirement(
        by=None,
        requirement=requirement,
        effective_from=tomorrow,
        months=9,
        reason="Wear",
    )

    held = [r for r in policy().requirements if r.code == "annual"]

    assert [(r.revision, r.months, r.since, r.until) for r in held] == [
        (1, 12, day("2015-01-01"), tomorrow),
        (2, 9, tomorrow, None),
    ]
    assert (held[0].procedure, held[0].kind) == ("svt-air", None)
    assert policy().procedures["svt-air"] == "Single-vehicle air brake test"


def test_policy_holds_matrix_and_conditions():
    make_policy()

    (line,) = policy().matrix
    (conditions,) = policy().conditions

    assert (line.procedures, line.scope) == (("svt-air",), None)
    assert conditions.air_dead_words == "air brake vented and released"


def test_policy_costs_one_query_until_something_touches_it(django_assert_num_queries):
    make_policy()
    held = policy()

    with django_assert_num_queries(1):
        assert policy() is held
    make_requirement(code="another")
    assert {r.code for r in policy().requirements} == {"annual", "hoses", "another"}


def test_a_revision_taken_back_is_gone_from_the_policy():
    make_policy()
    requirement = Requirement.objects.get(code="annual")
    revision = revise_requirement(
        by=None,
        requirement=requirement,
        effective_from=today() + dt.timedelta(days=1),
        months=9,
        reason="Wear",
    )
    assert len(policy().requirements) == 3

    take_back_revision(by=None, revision=revision, reason="Meant another")

    assert [r.until for r in policy().requirements] == [None, None]


def test_policy_as_known_earlier_has_nothing_of_later():
    make_policy()
    before, known = policy(), newest()
    make_requirement(code="another")
    make_conditions(effective_from=today() + dt.timedelta(days=1))

    assert policy(known) == before
    assert policy().revision > before.revision


def test_a_policy_rolled_back_is_not_remembered():
    make_requirement(code="kept")

    def lose():
        with transaction.atomic():
            make_requirement(code="lost")
            assert len(policy().requirements) == 2
            raise RuntimeError

    with pytest.raises(RuntimeError):
        lose()
    make_requirement(code="other")

    assert {r.code for r in policy().requirements} == {"kept", "other"}
