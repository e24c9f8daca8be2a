"""Exchange units: the stock, what is away and when it is back, and what the register has."""

import datetime as dt

import pytest
import time_machine
from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment
from fleet.records.refusing import codes_of
from fleet.records.verifying import prove
from fleet.register.services.equipment import alter_equipment, newest_standing
from fleet.register.services.fittings import fit, take_off
from fleet.register.vocabulary import EquipmentKind, EquipmentState
from fleet.upkeep.vocabulary import Subject
from fleet.workshop.exchange import floats
from fleet.workshop.exchange_services import (
    correct_consignment,
    correct_return,
    describe_group,
    expect_on,
    retract_consignment,
    retract_group,
    retract_return,
    send_away,
    take_in,
)
from fleet.workshop.keeping import CONTRACTORS, revise
from fleet.workshop.models import Consignment, ExchangeGroup
from tests.examination.factories import make_bench_test
from tests.register.factories import make_depot, make_equipment, make_vehicle
from tests.upkeep.factories import make_requirement
from tests.workshop.kept import MONDAY, day, make_contractor

pytestmark = pytest.mark.django_db

CODE = "DV/P"  # people write groups as they like


@pytest.fixture(autouse=True)
def _today():
    with time_machine.travel("2026-05-10T12:00Z", tick=False):
        yield


def unit(**values):
    """A serviceable distributor of the group, in store."""
    return make_equipment(**{"group": CODE} | values)


def described(**values):
    """The group, described."""
    return describe_group(by=None, code=CODE, **{"label": "distributors"} | values)


def sent(*items, **values):
    """Units sent away on 1 May, expected on 15 June."""
    values = {
        "sent_on": day("2026-05-01"),
        "expected_on": day("2026-06-15"),
    } | values
    values.setdefault("group", ExchangeGroup.objects.filter(code=CODE).first())
    return send_away(by=None, items=items, **values)


def only_float(**values):
    """The one group's units over 26 weeks from Monday 4 May 2026."""
    (found,) = floats(MONDAY, 26, **values)
    return found


def state(item):
    """What the register has of an item now."""
    return newest_standing(item).state


def test_the_stock_is_what_lies_in_a_store_serviceable():
    on_vehicle, worn = unit(), unit(state=EquipmentState.UNSERVICEABLE)
    unit(), unit(), unit(group="other")
    described()

    fit(
        by=None,
        equipment=on_vehicle,
        vehicle=make_vehicle(),
        position="distributor",
        since=Moment.on(day("2026-03-01")),
    )

    found = only_float()
    assert (found.group, found.label, found.stock) == (CODE, "distributors", 2)
    assert state(worn) == EquipmentState.UNSERVICEABLE


def test_what_is_away_is_not_stock_and_comes_back_in_a_week():
    unit()
    described()
    away = unit(), unit()

    sent(*away)

    found = only_float()
    assert (found.stock, found.returns) == (1, ((6, 2),))  # Monday 15 June


@pytest.mark.parametrize(
    ("expected", "returns"),
    [
        pytest.param("2026-05-11", ((1, 1),), id="a Monday: that week"),
        pytest.param("2026-05-12", ((2, 1),), id="a Tuesday: the week after"),
        pytest.param("2026-05-17", ((2, 1),), id="a Sunday: the week after"),
        pytest.param("2026-05-09", (), id="before the day it is asked: overdue"),
        pytest.param("2026-05-10", ((1, 1),), id="on the day it is asked"),
        pytest.param("2027-01-01", (), id="after the last week"),
    ],
)
def test_a_unit_counts_from_the_first_week_that_begins_when_it_is_there(
    expected, returns
):
    item = unit()
    described()
    sent(item, expected_on=day(expected))

    assert only_float(on=day("2026-05-10")).returns == returns


def test_what_is_expected_before_the_first_week_is_there_when_it_begins():
    item = unit()
    described()
    sent(item, expected_on=day("2026-05-15"))

    (found,) = floats(day("2026-05-18"), 4, on=day("2026-05-10"))

    assert found.returns == ((0, 1),)


def test_a_unit_taken_off_takes_as_long_as_the_group_says_or_else_its_contractor():
    unit()
    contractor = make_contractor(lead_weeks=6)
    described()
    assert only_float().turnaround is None
    described(contractor=contractor.contractor)
    assert only_float().turnaround == 6
    revise(CONTRACTORS, by=None, version=contractor, lead_weeks=9)
    assert only_float().turnaround == 9
    described(contractor=contractor.contractor, turnaround_weeks=4)
    assert only_float().turnaround == 4


def test_the_register_has_what_is_sent_at_the_contractor_or_on_the_bench():
    away, benched = unit(), unit()
    described()

    sent(away, contractor=make_contractor().contractor)
    sent(benched)

    assert state(away) == EquipmentState.AT_CONTRACTOR
    assert state(benched) == EquipmentState.UNSERVICEABLE
    assert only_float().stock == 0


def test_units_come_back_one_by_one_each_in_its_state():
    items = unit(), unit(), unit()
    described()
    contractor = make_contractor().contractor
    consignment = sent(*items, contractor=contractor).consignment
    first, second, _third = consignment.items.order_by("pk")

    take_in(by=None, items=[first], on=day("2026-05-08"))
    scrapped = EquipmentState.SCRAPPED
    take_in(by=None, items=[second], on=day("2026-05-09"), state=scrapped)

    assert [state(item) for item in items] == [
        EquipmentState.SERVICEABLE,
        scrapped,
        EquipmentState.AT_CONTRACTOR,
    ]
    found = only_float()
    assert (found.stock, found.returns) == (1, ((6, 1),))
    assert prove().faults == []


def test_a_unit_taken_off_in_the_morning_can_be_sent_the_same_day():
    item, vehicle = unit(), make_vehicle()
    described()
    fitting = fit(
        by=None,
        equipment=item,
        vehicle=vehicle,
        position="distributor",
        since=Moment.on(day("2026-03-01")),
    )
    take_off(
        by=None,
        fitting=fitting,
        at=Moment.on(day("2026-05-08"), dt.time(9)),
        to=make_depot(),
        state=EquipmentState.UNSERVICEABLE,
    )

    sent(item, sent_on=day("2026-05-08"), contractor=make_contractor().contractor)

    assert state(item) == EquipmentState.AT_CONTRACTOR


def test_another_day_is_expected_when_the_contractor_is_late():
    described_unit = unit()
    described()
    version = sent(described_unit, expected_on=day("2026-05-08"))
    assert only_float(on=day("2026-05-10")).returns == ()

    expect_on(by=None, version=version, day=day("2026-05-25"))

    assert only_float(on=day("2026-05-10")).returns == ((3, 1),)


def test_a_consignment_retracted_leaves_the_register_as_it_was_before():
    item = unit()
    described()
    version = sent(item, contractor=make_contractor().contractor)

    retract_consignment(by=None, version=version, reason="Never left")

    assert state(item) == EquipmentState.SERVICEABLE
    assert (only_float().stock, only_float().returns) == (1, ())
    assert prove().faults == []
    sent(item)  # it can be sent again


def test_a_wrong_day_of_sending_put_right_moves_what_the_register_has():
    item = unit()
    described()
    version = sent(item, contractor=make_contractor().contractor)

    put = {"reason": "Read from the note", "sent_on": day("2026-04-20")}
    correct_consignment(by=None, version=version, **put)

    held = newest_standing(item)
    assert held.state == EquipmentState.AT_CONTRACTOR
    assert held.since == Moment.on(day("2026-04-20"))


def test_a_return_put_right_or_retracted_takes_the_register_along():
    item = unit()
    described()
    version = sent(item, contractor=make_contractor().contractor)
    row = version.consignment.items.get()
    (back,) = take_in(by=None, items=[row], on=day("2026-05-08"))

    worn = EquipmentState.UNSERVICEABLE
    put = {"reason": "Leaks at the cover", "state": worn}
    back = correct_return(by=None, version=back, **put)
    assert state(item) == worn
    retract_return(by=None, version=back, reason="Another one came")

    assert state(item) == EquipmentState.AT_CONTRACTOR
    assert only_float().returns == ((6, 1),)
    take_in(by=None, items=[row], on=day("2026-05-09"))
    assert state(item) == EquipmentState.SERVICEABLE


def test_what_cannot_be_sent_is_refused_and_nothing_is_written():
    good, other = unit(), unit(group="other")
    fitted, gone, away = unit(), unit(state=EquipmentState.SCRAPPED), unit()
    nowhere = unit(store=None)
    described()
    sent(away)
    since = Moment.on(day("2026-03-01"))
    place = {"vehicle": make_vehicle(), "position": "distributor"}
    fit(by=None, equipment=fitted, since=since, **place)
    for items, values, code in (
        ([], {}, "no_items"),
        ([good, other], {}, "other_group"),
        ([good, fitted], {}, "not_in_stores"),
        ([good, nowhere], {}, "not_in_stores"),
        ([good, gone], {}, "scrapped"),
        ([good, away], {}, "away_already"),
        ([good], {"sent_on": day("2026-05-11")}, "in_the_future"),
        ([good], {"expected_on": day("2026-04-30")}, "before_it_was_sent"),
    ):
        with pytest.raises(ValidationError) as refused:
            sent(*items, **values)
        assert code in codes_of(refused.value)
    assert Consignment.objects.count() == 1
    assert state(good) == EquipmentState.SERVICEABLE


def test_what_cannot_come_back_is_refused():
    item = unit()
    described()
    version = sent(item)
    row = version.consignment.items.get()
    for items, on, code in (
        ([], "2026-05-08", "no_items"),
        ([row], "2026-04-30", "before_it_was_sent"),
        ([row], "2026-05-11", "in_the_future"),
    ):
        with pytest.raises(ValidationError) as refused:
            take_in(by=None, items=items, on=day(on))
        assert code in codes_of(refused.value)
    take_in(by=None, items=[row], on=day("2026-05-08"))
    with pytest.raises(ValidationError) as refused:
        take_in(by=None, items=[row], on=day("2026-05-09"))
    assert "not_away" in codes_of(refused.value)
    with pytest.raises(ValidationError) as refused:
        retract_consignment(by=None, version=version, reason="Never left")
    assert "units_back" in codes_of(refused.value)
    late = {"reason": "Misread", "sent_on": day("2026-05-09")}
    with pytest.raises(ValidationError) as refused:
        correct_consignment(by=None, version=version, **late)
    assert "back_before" in codes_of(refused.value)


def test_a_group_that_no_item_bears_is_refused_and_one_retracted_is_not_planned_with():
    with pytest.raises(ValidationError) as refused:
        described()
    assert "no_such_group" in codes_of(refused.value)
    unit()
    version = described()
    retract_group(by=None, version=version, reason="Not exchanged here")
    assert floats(MONDAY, 26) == ()
    described(label="valves")
    assert only_float().label == "valves"


def test_a_unit_altered_in_the_register_meanwhile_counts_as_it_stands_there():
    item = unit()
    described()
    since = Moment.on(day("2026-05-02"))
    quarantined = EquipmentState.QUARANTINED

    alter_equipment(by=None, equipment=item, since=since, state=quarantined)

    assert only_float().stock == 0


@pytest.mark.parametrize("size", [1, 7])
def test_reading_it_takes_as_many_queries_for_much_as_for_little(
    size, django_assert_num_queries
):
    bench = {"subject": Subject.EQUIPMENT, "kind": EquipmentKind.DISTRIBUTOR}
    make_requirement(procedure=make_bench_test(), **bench)
    for number in range(size):
        items = unit(group=f"G{number}"), unit(group=f"G{number}")
        group = describe_group(by=None, code=f"G{number}", label="valves").group
        sent(items[0], group=group)

    with django_assert_num_queries(7):
        assert sum(f.stock for f in floats(MONDAY, 26)) == size
