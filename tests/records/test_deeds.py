"""One deed, one transaction, one entry: numbers, submissions, who listens."""

import datetime as dt
import uuid

import pytest
import time_machine
from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment
from fleet.records import deeds
from fleet.records.deeds import AlreadyRecorded, announce, deed, number_at, submitted
from fleet.records.models import Channel, Entry, Mention
from fleet.register.models import Fitting, Vehicle
from fleet.register.services.fittings import exchange, fit
from tests.people.factories import UserFactory
from tests.register.factories import (
    make_depot,
    make_equipment,
    make_fitting,
    make_type,
    make_vehicle,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def heard(monkeypatch):
    """What a listener is told, in a register that nobody else listens to."""
    told = []
    monkeypatch.setattr(deeds, "_listeners", [])
    deeds.listen(lambda subjects, entry: told.append((entry.deed, subjects)))
    return told


def test_entries_are_numbered_without_gaps_in_the_order_of_deeds():
    make_vehicle()
    make_equipment()

    numbers = list(Entry.objects.order_by("pk").values_list("number", flat=True))
    assert numbers == list(range(1, len(numbers) + 1))


def test_a_deed_that_fails_leaves_no_entry_and_uses_up_no_number():
    vehicle = make_vehicle()
    before = Entry.objects.count()

    with pytest.raises(ValidationError):
        fit(
            by=None,
            vehicle=vehicle,
            position="nowhere",
            equipment=make_equipment(),
            since=Moment.parse("2020-01-01"),
        )

    assert Entry.objects.count() == before + 1  # the item
    assert make_vehicle().created_by.number == before + 2
    assert not Fitting.objects.filter(vehicle=vehicle).exists()


def test_an_entry_says_who_did_what_and_what_it_touched():
    user = UserFactory()
    vehicle = make_vehicle(by=user)

    entry = vehicle.created_by

    assert (entry.user, entry.deed, entry.channel) == (
        user,
        "register.add_vehicle",
        Channel.PAGE,
    )
    assert Mention.objects.filter(
        entry=entry, kind="register.vehicle", key=vehicle.pk
    ).exists()


def test_the_same_submission_counts_once_however_often_it_is_sent():
    vehicle, item = make_vehicle(), make_equipment()
    sent = uuid.uuid4()
    wanted = {
        "by": None,
        "vehicle": vehicle,
        "position": "distributor",
        "equipment": item,
        "since": Moment.parse("2020-01-01"),
    }
    with submitted(uuid=sent):
        fit(**wanted)

    with submitted(uuid=sent), pytest.raises(AlreadyRecorded) as again:
        fit(**wanted)

    assert again.value.entry.uuid == sent
    assert Fitting.objects.current().filter(vehicle=vehicle).count() == 1


def test_a_deed_within_a_deed_shares_its_entry_and_is_announced_once(heard):
    vehicle = make_vehicle()
    heard.clear()

    with deed("test.both", by=None) as entry:
        first = make_fitting(vehicle=vehicle, position="distributor")
        second = make_fitting(vehicle=vehicle, position="cylinder-1")

    assert {first.opened_by, second.opened_by} == {entry}
    assert [name for name, _ in heard] == ["test.both"]
    touched = {label for label, _ in heard[0][1]}
    assert touched == {"register.vehicle", "register.equipment"}


def test_an_exchange_announces_the_vehicle_and_both_items(heard):
    vehicle = make_vehicle()
    off = make_fitting(vehicle=vehicle, position="distributor").equipment
    new = make_equipment()
    heard.clear()

    exchange(
        by=None,
        vehicle=vehicle,
        position="distributor",
        equipment=new,
        at=Moment.parse("2021-04-01"),
        to=make_depot(),
    )

    assert heard == [
        (
            "register.exchange",
            frozenset(
                {
                    ("register.vehicle", vehicle.pk),
                    ("register.equipment", off.pk),
                    ("register.equipment", new.pk),
                }
            ),
        )
    ]


def test_what_a_listener_refuses_is_not_stored(monkeypatch):
    def object_(subjects, entry):
        raise ValidationError("no", code="no")

    make_type()
    monkeypatch.setattr(deeds, "_listeners", [object_])

    with pytest.raises(ValidationError):
        make_vehicle()

    assert not Vehicle.objects.exists()


def test_announcing_outside_a_deed_is_an_error():
    with pytest.raises(RuntimeError):
        announce(make_vehicle())


def test_a_time_is_turned_into_the_newest_entry_made_by_then():
    nine = dt.datetime(2026, 3, 2, 9, tzinfo=dt.UTC)
    with time_machine.travel(nine, tick=False) as clock:
        first = make_vehicle().created_by
        clock.shift(dt.timedelta(hours=1))
        second = make_vehicle().created_by

    assert number_at(nine - dt.timedelta(minutes=1)) == 0
    assert number_at(nine + dt.timedelta(minutes=59)) == first.number
    assert number_at(nine + dt.timedelta(minutes=60)) == second.number
