"""Spans follow the facts: in the same transaction, or marked stale and worked through."""

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from fleet.defects import services as defects
from fleet.fitness import services
from fleet.fitness.models import DueDate, Stale, StatusSpan
from fleet.fitness.services import on_deed, reassess, rebuild
from fleet.fitness.status import current_verdict
from fleet.fitness.verifying import differences
from fleet.records import deeds
from fleet.records.clock import today
from fleet.records.deeds import announce, deed
from fleet.records.models import Channel, Entry
from fleet.register.services.fittings import exchange
from fleet.register.services.usage import log_usage
from fleet.register.vocabulary import Effect, EquipmentKind, Level, Scope, System
from fleet.upkeep.models import Requirement
from fleet.upkeep.services import revise_requirement, withdraw_requirement
from tests.defects.factories import person
from tests.examination.factories import make_bench_test, make_test
from tests.fitness.histories import (
    day,
    make_history,
    make_policy,
    make_slack_requirement,
    on,
)
from tests.register.factories import (
    equip,
    make_depot,
    make_equipment,
    make_fitting,
    make_type,
    make_vehicle,
)
from tests.upkeep.factories import make_conditions, make_requirement

pytestmark = pytest.mark.django_db

DEFECT_DAY = day("2026-05-04")


def stored(vehicle):
    """What is stored of a vehicle, as comparable rows."""
    spans = StatusSpan.objects.current().filter(vehicle=vehicle)
    return sorted(
        (s.system, s.since, s.until or dt.date.max, s.level, s.headline, s.change)
        for s in spans
    )


def recomputed(vehicle):
    """The same from the facts."""
    return sorted(
        (s.system, s.since, s.until or dt.date.max, s.level, s.headline, s.change)
        for s in current_verdict(vehicle.pk).spans
    )


def level(vehicle, on_day, system=System.AIR):
    """The stored level of a day."""
    span = StatusSpan.objects.on(on_day).get(vehicle=vehicle, system=system)
    return Level(span.level)


def stop(vehicle, on_day="2026-05-04"):
    """Raise a chafed hose on a vehicle."""
    return defects.raise_defect(
        by=None,
        person=person(),
        title="Brake pipe hose chafed",
        on=on(on_day, "08:00"),
        vehicle=vehicle,
        scope=Scope.BRAKE_PIPE,
        effect=Effect.STOP,
    )


@pytest.fixture
def tested():
    """A fully equipped coach, tested in March, under a policy of tests once a year."""
    make_conditions()
    make_requirement(code="annual")
    vehicle = make_vehicle()
    equip(vehicle)
    make_test(vehicle=vehicle, on=on("2026-03-05"))
    return vehicle


def test_a_tested_vehicle_is_fit_until_the_test_runs_out(tested):
    assert level(tested, day("2026-03-04")) is Level.PIPED
    assert level(tested, day("2026-03-05")) is Level.BRAKED
    assert level(tested, day("2027-03-05")) is Level.BRAKED
    assert level(tested, day("2027-03-06")) is Level.PIPED
    assert DueDate.objects.get(vehicle=tested).due_on == day("2027-03-05")


def test_a_defect_changes_the_spans_in_the_deed_that_records_it(tested):
    stop(tested)

    assert level(tested, DEFECT_DAY) is Level.STOPPED
    opened = StatusSpan.objects.on(DEFECT_DAY).get(vehicle=tested).opened_by
    assert opened == Entry.objects.latest("number")
    assert opened.deed == "defects.raise"


def test_a_span_that_still_holds_stays_as_it_is_and_another_is_closed(tested):
    kept = StatusSpan.objects.on(day("2026-03-04")).get(vehicle=tested)
    changed = StatusSpan.objects.on(DEFECT_DAY).get(vehicle=tested)

    stop(tested)

    kept.refresh_from_db()
    changed.refresh_from_db()
    assert kept.closed_by is None
    assert changed.closed_by == Entry.objects.latest("number")
    assert level(tested, DEFECT_DAY) is Level.STOPPED


def test_a_deed_that_fails_leaves_neither_fact_nor_span(tested):
    before = stored(tested)

    def fail():
        with transaction.atomic():
            stop(tested)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()

    assert stored(tested) == before == recomputed(tested)


def test_a_failing_assessment_takes_the_fact_back_with_it(tested, monkeypatch):
    def broken(*_args):
        raise RuntimeError("a rule is broken")

    monkeypatch.setattr(services, "verdict", broken)

    with pytest.raises(RuntimeError), transaction.atomic():
        stop(tested)

    assert not tested.defects.exists()


def test_an_item_bears_on_the_vehicle_that_carried_it_before():
    make_conditions()
    make_requirement(
        code="bench",
        subject="equipment",
        kind=EquipmentKind.DISTRIBUTOR,
        procedure=make_bench_test(),
        months=120,
    )
    first, second = make_vehicle(), make_vehicle()
    equip(first)
    equip(second, leaving=["distributor"])
    item = first.fittings.get(position="distributor", closed_by=None).equipment
    exchange(
        by=None,
        vehicle=first,
        position="distributor",
        equipment=make_equipment(),
        at=on("2026-02-01"),
        to=make_depot(),
    )
    make_fitting(
        vehicle=second, position="distributor", equipment=item, since=on("2026-02-02")
    )
    assert level(first, day("2026-01-15")) is not Level.BRAKED

    make_test(equipment=item, on=on("2016-06-01"))

    assert level(first, day("2026-01-15")) is Level.BRAKED
    assert stored(first) == recomputed(first)
    assert stored(second) == recomputed(second)


def test_due_dates_are_replaced_only_where_they_differ(tested):
    before = DueDate.objects.get(vehicle=tested).pk
    stop(tested)
    assert DueDate.objects.get(vehicle=tested).pk == before

    make_test(vehicle=tested, on=on("2026-06-10"))

    assert DueDate.objects.get(vehicle=tested).due_on == day("2027-06-10")


def test_a_vehicle_fitted_for_nothing_has_no_spans():
    make_conditions()
    bare = make_vehicle(air="none", main_reservoir_pipe="none")

    assert stored(bare) == []
    assert list(differences()) == []


# How many queries -------------------------------------------------------------------


def test_one_write_reassesses_one_vehicle_in_at_most_20_queries(tested, monkeypatch):
    make_slack_requirement(5000, effect=Effect.ADVISE)
    due = set(DueDate.objects.values_list("pk", flat=True))
    asked = []

    def counted(subjects, entry):
        with CaptureQueriesContext(connection) as queries:
            on_deed(subjects, entry)
        asked.append(len(queries))

    monkeypatch.setattr(deeds, "_listeners", [counted])
    make_test(vehicle=tested, on=on("2026-06-10"))

    # The most there can be: spans closed and opened, due dates replaced, usage of items.
    entry = Entry.objects.latest("number")
    assert StatusSpan.objects.filter(opened_by=entry).exists()
    assert StatusSpan.objects.filter(closed_by=entry).exists()
    assert not due & set(DueDate.objects.values_list("pk", flat=True))
    assert len(asked) == 1
    assert asked[0] <= 20


@pytest.mark.parametrize("vehicles", [1, 5])
def test_reassessing_takes_the_same_queries_however_many_vehicles(vehicles):
    make_policy()
    made = [make_history().vehicle for _ in range(vehicles)]
    with deed("test.touch", by=None) as entry:
        StatusSpan.objects.current().update(closed_by=entry)
        DueDate.objects.all().delete()
        with CaptureQueriesContext(connection) as queries:
            reassess([vehicle.pk for vehicle in made], entry)

    assert len(queries) == (18 if connection.vendor == "postgresql" else 17)


# Many at a time ---------------------------------------------------------------------


@pytest.fixture
def at_most_two(settings):
    """Reassess two vehicles at once at most."""
    settings.FLEET_REASSESS_AT_ONCE = 2


def revise(**values):
    """Ask for the annual test every nine months, from tomorrow."""
    return revise_requirement(
        by=None,
        requirement=Requirement.objects.get(code="annual"),
        effective_from=today() + dt.timedelta(days=1),
        reason="Wear",
        **({"months": 9} | values),
    )


def fleet(vehicles):
    """Equipped coaches under a policy, tested in March."""
    make_conditions()
    make_requirement(code="annual")
    made = [make_vehicle() for _ in range(vehicles)]
    for vehicle in made:
        equip(vehicle)
        make_test(vehicle=vehicle, on=on("2026-03-05"))
    return made


def test_a_change_of_policy_reassesses_a_small_fleet_at_once(at_most_two):
    made = fleet(2)

    revise()

    assert not Stale.objects.exists()
    for vehicle in made:
        assert stored(vehicle) == recomputed(vehicle)
        assert level(vehicle, day("2027-01-01")) is Level.PIPED


def test_a_change_of_policy_marks_a_bigger_fleet_stale(at_most_two):
    made = fleet(3)
    before = [stored(vehicle) for vehicle in made]

    revise()

    entry = Entry.objects.latest("number")
    assert {s.vehicle_id for s in Stale.objects.all()} == {v.pk for v in made}
    assert {s.entry_id for s in Stale.objects.all()} == {entry.pk}
    assert [stored(vehicle) for vehicle in made] == before


def test_marking_twice_keeps_the_first_mark(at_most_two):
    fleet(3)
    revise()
    first = Entry.objects.latest("number")

    withdraw_requirement(
        by=None,
        requirement=Requirement.objects.get(code="annual"),
        withdrawn_from=today() + dt.timedelta(days=9),
        reason="Covered by another",
    )

    assert {s.entry_id for s in Stale.objects.all()} == {first.pk}


def test_rebuilding_works_through_the_stale_in_chunks_each_its_own_deed(at_most_two):
    made = fleet(3)
    revise()
    entries, seen = Entry.objects.count(), []

    done = rebuild(chunk=2, progress=lambda done, total: seen.append((done, total)))

    assert done == 3
    assert seen == [(2, 3), (3, 3)]
    assert not Stale.objects.exists()
    assert list(differences()) == []
    assert level(made[2], day("2027-01-01")) is Level.PIPED
    new = Entry.objects.order_by("-number")[: Entry.objects.count() - entries]
    assert {e.channel for e in new} == {Channel.COMMAND}
    assert len(new) == 2


def test_rebuilding_goes_on_where_it_was_stopped(at_most_two):
    made = fleet(3)
    revise()

    def stop_after_first(_done, _total):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        rebuild(chunk=2, progress=stop_after_first)
    assert [s.vehicle_id for s in Stale.objects.all()] == [made[2].pk]

    assert rebuild(chunk=2) == 1
    assert not Stale.objects.exists()


def test_chosen_vehicles_are_rebuilt_and_no_others(at_most_two):
    made = fleet(3)
    revise()
    Stale.objects.exclude(vehicle=made[0]).delete()

    assert rebuild(vehicle_ids=[made[1].pk]) == 2

    assert [d.vehicle for d in differences()] == [made[2].pk]


def test_a_fact_about_a_stale_vehicle_reassesses_it_under_the_policy_of_now(
    at_most_two,
):
    made = fleet(3)
    revise()

    stop(made[0])

    assert {s.vehicle_id for s in Stale.objects.all()} == {v.pk for v in made[1:]}
    assert stored(made[0]) == recomputed(made[0])


def test_a_type_that_is_touched_bears_on_every_vehicle_of_it(at_most_two):
    fleet(3)
    other = make_vehicle(type=make_type("van-air"))
    with deed("test.touch", by=None):
        announce(make_type("coach-air"))

    assert Stale.objects.count() == 3
    assert not Stale.objects.filter(vehicle=other).exists()


def test_spans_name_the_rules_and_the_policy_they_follow_from(tested):
    span = StatusSpan.objects.current().filter(vehicle=tested).first()

    assert span.rulebook == services.BOOK.version
    requirement = Requirement.objects.get(code="annual").created_by
    assert span.policy == requirement.number


# Held against the facts -------------------------------------------------------------


def slipped_in(vehicle, monkeypatch):
    """Record usage that nobody listens to."""
    monkeypatch.setattr(deeds, "_listeners", [])
    log_usage(
        by=None,
        vehicle=vehicle,
        first=day("2020-01-01"),
        last=day("2020-01-31"),
        miles=Decimal(100),
        days=10,
    )


def test_verifying_finds_nothing_where_the_facts_are_followed():
    make_policy(miles=5000)
    make_history()
    make_history()

    assert list(differences(chunk=1)) == []


def test_verifying_finds_a_vehicle_whose_spans_missed_a_fact(tested, monkeypatch):
    other = make_vehicle()
    monkeypatch.setattr(deeds, "_listeners", [])
    stop(tested)

    (difference,) = differences()

    assert difference.vehicle == tested.pk != other.pk
    assert difference.missing
    assert difference.surplus


def test_verifying_finds_due_dates_that_missed_a_fact(tested, monkeypatch):
    DueDate.objects.filter(vehicle=tested).delete()

    (difference,) = differences()

    assert (difference.vehicle, difference.due_differs) == (tested.pk, True)
    assert not difference.missing


def test_verifying_leaves_out_what_is_not_yet_reassessed(at_most_two):
    fleet(3)
    revise()

    assert list(differences()) == []


def test_stored_spans_cannot_be_rewritten_by_hand(tested):
    span = StatusSpan.objects.current().filter(vehicle=tested).first()

    with pytest.raises(ValidationError), deed("test.touch", by=None):
        StatusSpan.objects.filter(pk=span.pk).update(level=Level.BRAKED, headline="x")
