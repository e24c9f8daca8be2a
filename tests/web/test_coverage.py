"""Kinds of equipment that nothing is required of, or that nothing tests."""

import pytest

from fleet.examination.vocabulary import Repeat
from fleet.register.vocabulary import EquipmentKind, Scope
from tests.examination.factories import make_bench_test, make_procedure, question
from tests.register.factories import (
    equip,
    make_equipment,
    make_fitting,
    make_type,
    make_vehicle,
    place,
)
from tests.upkeep.factories import make_age_limit

pytestmark = pytest.mark.django_db


def rows(client, user):
    """What the page shows, by kind."""
    client.force_login(user)
    shown = client.get("/coverage/").context["rows"]
    return {row.kind: row for row in shown}


def test_a_kind_in_use_shows_what_is_required_of_it_and_what_tests_it(client, fitter):
    vehicle = make_vehicle()
    make_fitting(vehicle=vehicle, position="distributor")
    make_fitting(vehicle=vehicle, position="bp-hose-1")
    make_fitting(vehicle=vehicle, position="bp-hose-2")
    make_bench_test(title="Bench test")
    make_procedure(scopes=[Scope.BRAKE_PIPE], title="Pipe test")
    make_age_limit(EquipmentKind.DISTRIBUTOR, title="Distributor overhaul")

    shown = rows(client, fitter)

    assert list(shown) == [EquipmentKind.BP_HOSE, EquipmentKind.DISTRIBUTOR]
    hose, distributor = shown.values()
    assert (hose.fitted, hose.required, hose.tested) == (2, (), ())
    assert hose.with_vehicle == ("Pipe test",)
    assert distributor.required == ("Distributor overhaul",)
    assert distributor.tested == ("Bench test",)
    assert distributor.with_vehicle == ()


def test_a_handle_is_covered_by_what_is_asked_of_each_handle(client, fitter):
    handle = place("alarm", "Handle", EquipmentKind.PASSENGER_ALARM, Scope.VEHICLE)
    vehicle = make_vehicle(type=make_type("alarmed", positions=[handle]))
    make_fitting(vehicle=vehicle, position="alarm")
    lines = [question("Applies", "Applies", repeat=Repeat.HANDLE)]
    make_procedure(title="Handles", lines=lines, scopes=[Scope.BRAKE_PIPE])

    (row,) = rows(client, fitter).values()

    assert row.with_vehicle == ("Handles",)


def test_items_of_a_type_the_requirements_pass_over_are_named(client, fitter):
    vehicle = make_vehicle()
    for position, designation in (("bp-hose-1", "H1"), ("bp-hose-2", "H2")):
        item = make_equipment(EquipmentKind.BP_HOSE, designation=designation)
        make_fitting(vehicle=vehicle, position=position, equipment=item)
    make_age_limit(EquipmentKind.BP_HOSE, designation="H1")

    (row,) = rows(client, fitter).values()

    assert row.passed_over == (("H2", 1),)
    assert "nothing of 1 of type H2" in client.get("/coverage/").content.decode()


def test_what_was_taken_off_everything_is_not_in_use(client, fitter):
    assert rows(client, fitter) == {}


def test_the_page_says_how_many_kinds_nothing_is_required_of(client, train_crew):
    make_fitting(vehicle=make_vehicle(), position="bp-hose-1")
    client.force_login(train_crew)

    page = client.get("/coverage/").content.decode()

    assert "1 kind of equipment is fitted" in page
    assert "without a requirement of its own: 1; without a procedure of its own: 1" in (
        page
    )


@pytest.mark.parametrize("many", [1, 3])
def test_it_costs_the_same_for_few_vehicles_and_many(
    client, fitter, django_assert_num_queries, many
):
    for _ in range(many):
        equip(make_vehicle())
    client.force_login(fitter)

    with django_assert_num_queries(7):  # session, account, 5 reads
        client.get("/coverage/")
