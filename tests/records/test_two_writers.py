"""Two people at once: one is stored, the other is told; numbers follow commits."""

import threading

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from fleet.engineering.calendar import Moment
from fleet.records.models import Entry
from fleet.records.refusing import codes_of
from fleet.register.models import Fitting
from fleet.register.services.fittings import exchange, fit
from fleet.register.services.vehicles import alter_vehicle
from tests.register.factories import (
    make_depot,
    make_equipment,
    make_fitting,
    make_vehicle,
)

pytestmark = pytest.mark.django_db(transaction=True)

WHEN = Moment.parse("2021-06-01")


def at_once(*deeds):
    """Run each deed in a thread of its own, started together; what each came to."""
    start = threading.Barrier(len(deeds))
    outcomes = [None] * len(deeds)

    def work(n):
        try:
            start.wait(timeout=10)
            outcomes[n] = deeds[n]()
        except Exception as error:  # noqa: BLE001  # handed to the test to judge
            outcomes[n] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=work, args=(n,)) for n in range(len(deeds))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return outcomes


def told_apart(outcomes):
    """The rows stored and the codes of what was refused; anything else is a fault."""
    refused = [o for o in outcomes if isinstance(o, ValidationError)]
    stored = [o for o in outcomes if not isinstance(o, Exception)]
    assert len(refused) + len(stored) == len(outcomes), outcomes
    return stored, [codes_of(o) for o in refused]


def numbers():
    """Every entry's number, in the order in which rows were begun."""
    return sorted(Entry.objects.values_list("number", flat=True))


def test_one_item_fitted_to_two_vehicles_at_once_is_on_one_of_them():
    item, vehicles = make_equipment(), [make_vehicle(), make_vehicle()]

    outcomes = at_once(
        *(
            lambda v=vehicle: fit(
                by=None, vehicle=v, position="distributor", equipment=item, since=WHEN
            )
            for vehicle in vehicles
        )
    )

    stored, refused = told_apart(outcomes)
    assert refused == [{"item_elsewhere"}]
    held = Fitting.objects.current().on_vehicles().filter(equipment=item)
    assert list(held) == stored
    assert numbers() == list(range(1, len(numbers()) + 1))


def test_two_items_fitted_at_one_position_at_once_leave_one_there():
    vehicle, items = make_vehicle(), [make_equipment(), make_equipment()]

    outcomes = at_once(
        *(
            lambda i=item: fit(
                by=None,
                vehicle=vehicle,
                position="distributor",
                equipment=i,
                since=WHEN,
            )
            for item in items
        )
    )

    stored, refused = told_apart(outcomes)
    assert refused == [{"position_taken"}]
    assert list(Fitting.objects.current().filter(vehicle=vehicle)) == stored


def test_two_exchanges_at_one_position_at_once_follow_one_another_or_one_is_told():
    vehicle, depot = make_vehicle(), make_depot()
    make_fitting(vehicle=vehicle, position="distributor")
    items = [make_equipment(), make_equipment()]

    outcomes = at_once(
        *(
            lambda i=item: exchange(
                by=None,
                vehicle=vehicle,
                position="distributor",
                equipment=i,
                at=WHEN,
                to=depot,
            )
            for item in items
        )
    )

    stored, _refused = told_apart(outcomes)
    assert stored
    held = Fitting.objects.current().filter(vehicle=vehicle).open_ended()
    assert held.count() == 1
    for item in items:
        places = Fitting.objects.current().filter(equipment=item).open_ended()
        assert places.count() == 1


def test_exchanges_that_cross_over_do_not_lock_one_another_out():
    vehicles, depot = [make_vehicle(), make_vehicle()], make_depot()
    fitted = [make_fitting(vehicle=v, position="distributor") for v in vehicles]

    outcomes = at_once(
        *(
            lambda v=vehicle, i=other.equipment: exchange(
                by=None,
                vehicle=v,
                position="distributor",
                equipment=i,
                at=WHEN,
                to=depot,
            )
            for vehicle, other in zip(vehicles, reversed(fitted), strict=True)
        )
    )

    # Each wants the other's item while that is still fitted: both hear so, at once or
    # after the first has given way.
    _stored, refused = told_apart(outcomes)
    assert all(codes == {"item_elsewhere"} for codes in refused)
    assert Fitting.objects.current().on_vehicles().open_ended().count() >= 1


def test_entries_of_many_writers_are_numbered_without_gaps_in_commit_order():
    vehicles = [make_vehicle() for _ in range(6)]
    before = max(numbers())

    outcomes = at_once(
        *(
            lambda v=vehicle: (
                alter_vehicle(by=None, vehicle=v, since=WHEN, tare_t=33).opened_by
            )
            for vehicle in vehicles
        )
    )

    stored, refused = told_apart(outcomes)
    assert refused == []
    assert sorted(entry.number for entry in stored) == [before + n for n in range(1, 7)]


def test_two_alterations_of_one_vehicle_at_once_follow_one_another():
    vehicle = make_vehicle()

    outcomes = at_once(
        lambda: alter_vehicle(by=None, vehicle=vehicle, since=WHEN, tare_t=33),
        lambda: alter_vehicle(by=None, vehicle=vehicle, since=WHEN, empty_load=True),
    )

    stored, refused = told_apart(outcomes)
    assert refused == []
    newest = vehicle.versions.filter(closed_by__isnull=True).get(until_key__isnull=True)
    assert (newest.tare_t, newest.empty_load) == (33, True)
    assert newest in stored
