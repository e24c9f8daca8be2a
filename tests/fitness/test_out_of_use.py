"""Vehicles out of use: what stands still meanwhile, and what their return asks for."""

import datetime as dt
from dataclasses import replace

import pytest
from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment
from fleet.fitness import examples
from fleet.fitness.facts import StorageFact
from fleet.fitness.models import DueDate
from fleet.fitness.rules import BOOK
from fleet.fitness.verdict import verdict
from fleet.register.services.usage import return_vehicle, store_vehicle
from fleet.register.vocabulary import EquipmentKind, Scope
from fleet.upkeep.vocabulary import Subject
from tests.examination.factories import make_bench_test, make_procedure, make_test
from tests.fitness.files import day, on, passed_air, sound_air
from tests.register.factories import (
    make_equipment,
    make_fitting,
    make_type,
    make_vehicle,
)
from tests.upkeep.factories import make_conditions, make_requirement

STILL = replace(examples.AIR_YEARLY, storage_credit_days=30)
DONE = Moment.on(examples.DAY.replace(year=2025))  # a year ago: today is the last day


def stored(since, until):
    """Out of use between two days counted from the day of the examples."""
    return StorageFact(on(since), on(until) if until is not None else None)


def overrun_from(requirement, *periods):
    """From when the yearly test is overrun."""
    file = replace(sound_air(), tests=(passed_air(DONE),), storage=periods)
    found = BOOK.findings(file, examples.policy(requirement))
    (since,) = [f.since for f in found if f.code == "R02"]
    return since


@pytest.mark.parametrize(
    ("requirement", "periods", "expected"),
    [
        pytest.param(STILL, [stored(-100, -60)], 41, id="forty days, credited"),
        pytest.param(examples.AIR_YEARLY, [stored(-100, -60)], 1, id="runs on"),
        pytest.param(STILL, [stored(-100, None)], 1, id="not back: nothing yet"),
    ],
)
def test_a_requirement_stands_still_only_where_the_operator_says_so(
    requirement, periods, expected
):
    assert overrun_from(requirement, *periods) == day(expected)


def test_of_imprecise_dates_only_the_days_surely_out_of_use_count():
    since = Moment(day(-120), day(-90))  # some time in those 30 days
    until = Moment(day(-50), day(-20))

    # Surely from 90 to 50 days ago: 40 days.
    assert overrun_from(STILL, StorageFact(since, until)) == day(41)


def test_an_item_is_credited_for_the_days_it_stood_on_the_vehicle():
    overhaul = replace(examples.DISTRIBUTOR_OVERHAUL, storage_credit_days=30)
    file = sound_air(storage=(stored(-100, -60),))

    (due,) = verdict(file, examples.policy(overhaul), BOOK).due

    # Made 4 Nov 2019, 96 months: 4 Nov 2027; forty days more: 14 Dec 2027.
    assert due.due_on == dt.date(2027, 12, 14)
    assert "extended by 40 days out of use" in due.basis


@pytest.mark.parametrize(
    ("limit", "days", "asked"),
    [
        pytest.param(0, 3, True, id="no limit: always"),
        pytest.param(30, 30, False, id="thirty days"),
        pytest.param(30, 31, True, id="a day longer"),
    ],
)
def test_back_from_long_storage_it_wants_its_tests(limit, days, asked):
    policy = examples.policy(
        conditions=(replace(examples.CONDITIONS, storage_days_needing_tests=limit),),
        matrix=examples.MATRIX,
    )
    file = replace(sound_air(storage=(stored(-2 - days, -2),)), tests=())

    found = [f for f in BOOK["M01"].findings(file, policy) if f.holds_on(examples.DAY)]

    assert any("returned from storage" in f.text for f in found) is asked


def test_storage_of_unknown_length_is_taken_as_long():
    policy = examples.policy(
        conditions=(replace(examples.CONDITIONS, storage_days_needing_tests=30),),
        matrix=examples.MATRIX,
    )
    since_unknown = StorageFact(Moment.unknown(), on(-2))
    file = replace(sound_air(storage=(since_unknown,)), tests=())

    found = [f for f in BOOK["M01"].findings(file, policy) if f.holds_on(examples.DAY)]

    assert any("returned from storage" in f.text for f in found)


@pytest.mark.django_db
def test_the_stored_due_date_moves_when_the_vehicle_comes_back():
    make_conditions()
    make_requirement(code="annual", storage_credit_days=30)
    vehicle = make_vehicle()
    make_test(vehicle=vehicle, on=Moment.on(dt.date(2025, 3, 5)))

    store_vehicle(by=None, vehicle=vehicle, since=Moment.on(dt.date(2025, 11, 1)))
    away = DueDate.objects.get(vehicle=vehicle)
    assert (away.due_on, away.forecast) == (dt.date(2026, 3, 5), True)
    assert "credited once it is back" in away.basis

    # November to February: 30 + 31 + 31 + 28 = 120 days; 5 Mar 2026 + 120 = 3 Jul 2026.
    return_vehicle(by=None, vehicle=vehicle, at=Moment.on(dt.date(2026, 3, 1)))
    back = DueDate.objects.get(vehicle=vehicle)
    assert (back.due_on, back.forecast) == (dt.date(2026, 7, 3), False)


@pytest.mark.django_db
def test_usage_alone_cannot_stand_still():
    with pytest.raises(ValidationError, match="months or days can stand still"):
        make_requirement(miles=5000, storage_credit_days=30)


# Published intervals in calendar days, each from work done on 5 March 2023. Counted by
# hand: 5 Mar 2024 is day 366 (29 Feb 2024 lies between), 5 Mar 2025 day 731, 5 Mar 2026
# day 1096, 5 Mar 2027 day 1461, 5 Mar 2028 day 1827, 5 Mar 2029 day 2192.
PUBLISHED = [
    # 49 CFR 238.309(b), current text as read.
    pytest.param(736, "2025-03-10", id="238.309(b)(1), MU without air dryers"),
    pytest.param(1104, "2026-03-13", id="238.309(b)(2), MU, dryers, 26-type"),
    pytest.param(1840, "2028-03-18", id="238.309(b)(3), MU, dryers, electronic"),
    pytest.param(736, "2025-03-10", id="238.309(b)(4), other MU"),
    # 49 CFR 238.309(d) and (e), from memory.
    pytest.param(2208, "2029-03-21", id="238.309(d), AB-type valves, from memory"),
    pytest.param(1476, "2027-03-20", id="238.309(d), 26-C, from memory"),
    pytest.param(1104, "2026-03-13", id="238.309(d), others, from memory"),
    pytest.param(732, "2025-03-06", id="238.309(e), cab car, from memory"),
]


@pytest.mark.django_db
@pytest.mark.parametrize(("days", "last"), PUBLISHED)
def test_published_intervals_of_brake_maintenance_end_on_the_day_counted(days, last):
    make_conditions()
    make_requirement(calendar_days=days, procedure=make_procedure())
    vehicle = make_vehicle()
    make_test(vehicle=vehicle, on=Moment.on(dt.date(2023, 3, 5)))

    due = DueDate.objects.get(vehicle=vehicle)

    assert due.last_good_day.isoformat() == last
    assert f"{days:,} days".replace(",", " ") in due.basis


@pytest.mark.django_db
def test_a_main_reservoir_is_due_after_the_736_days_of_49_cfr_229_31():
    # 49 CFR 229.31(a) and (b), texts of 1 Oct 2004 and 2007: 736 calendar days.
    make_conditions()
    kind = EquipmentKind.MAIN_RESERVOIR
    hammer_test = make_bench_test("hammer-test", kind)
    make_requirement(
        subject=Subject.EQUIPMENT,
        kind=kind,
        procedure=hammer_test,
        calendar_days=736,
        scope=Scope.VEHICLE,
    )
    place = {
        "code": "main-res",
        "label": "main reservoir",
        "kind": kind,
        "scope": Scope.VEHICLE,
        "group": "",
    }
    vehicle = make_vehicle(type=make_type("loco", positions=[place]))
    item = make_equipment(kind)
    make_fitting(vehicle=vehicle, position="main-res", equipment=item)
    make_test(equipment=item, procedure=hammer_test, on=Moment.on(dt.date(2023, 3, 5)))

    due = DueDate.objects.get(vehicle=vehicle, equipment=item)

    assert due.last_good_day == dt.date(2025, 3, 10)
