"""Finding by number, former number, serial and words of the trade; arrangements."""

import pytest

from fleet.engineering.calendar import Moment
from fleet.register.search import MOST, find
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import EquipmentKind, arrangement_words, kinds_called
from tests.register.factories import make_equipment, make_fitting, make_vehicle


@pytest.mark.parametrize(
    ("words", "kinds"),
    [
        ("angle cock", {EquipmentKind.BP_END_COCK, EquipmentKind.MR_END_COCK}),
        ("ANGLE COCKS", {EquipmentKind.BP_END_COCK, EquipmentKind.MR_END_COCK}),
        ("control valve", {EquipmentKind.DISTRIBUTOR}),
        ("dv", {EquipmentKind.DISTRIBUTOR}),
        ("glad hand", {EquipmentKind.BP_HOSE}),
        ("bag", {EquipmentKind.VACUUM_HOSE}),
        ("cr", {EquipmentKind.CONTROL_RESERVOIR}),
        ("pot", {EquipmentKind.BRAKE_CYLINDER, EquipmentKind.VACUUM_CYLINDER}),
        ("", set()),
        ("  ", set()),
        ("T 107", set()),
    ],
)
def test_a_word_of_the_trade_means_these_kinds(words, kinds):
    """Synonyms are common practice of the trade."""
    assert kinds_called(words) == kinds


@pytest.mark.parametrize(
    ("arrangement", "words"),
    [
        (("braked", "none", "feeding"), "Two-pipe air brake"),
        (("braked", "braked", "none"), "One-pipe air brake, vacuum brake"),
        (
            ("braked", "piped", "through"),
            "Two-pipe air brake, main reservoir pipe through only, vacuum piped only",
        ),
        (("piped", "none", "none"), "Air piped only, one-pipe"),
        (("none", "none", "none"), "No continuous brake"),
    ],
)
def test_an_arrangement_is_said_in_words(arrangement, words):
    assert arrangement_words(*arrangement) == words


@pytest.mark.django_db
def test_a_vehicle_is_found_by_its_number_and_by_a_former_one():
    vehicle = make_vehicle(number="T 107")
    alter_vehicle(by=None, vehicle=vehicle, since=Moment.parse("2020"), number="W 55")

    assert find("t 107").only.number == "W 55"
    assert find(" w  55 ").only.vehicle == vehicle


@pytest.mark.django_db
def test_an_item_is_found_by_its_serial_with_the_place_where_it_is():
    vehicle = make_vehicle(number="T 107")
    fitting = make_fitting(
        vehicle=vehicle,
        position="distributor",
        equipment=make_equipment(serial="D-2291"),
    )

    found = find("2291").only

    assert found.equipment == fitting.equipment
    assert (found.at_number, found.at_position) == ("T 107", "distributor")


@pytest.mark.django_db
def test_a_word_of_the_trade_finds_every_item_of_the_kinds_it_means():
    cock = make_equipment(EquipmentKind.BP_END_COCK)
    make_equipment()

    found = find("angle cock")

    assert [item.equipment for item in found.items] == [cock]
    assert found.kinds == (EquipmentKind.BP_END_COCK, EquipmentKind.MR_END_COCK)


@pytest.mark.django_db
@pytest.mark.parametrize("several", [1, 8])
def test_finding_takes_two_questions_however_much_there_is(
    several, django_assert_num_queries
):
    for n in range(several):
        make_vehicle(number=f"X {n}")
        make_fitting(
            vehicle=make_vehicle(),
            position="distributor",
            equipment=make_equipment(serial=f"X {n}"),
        )

    with django_assert_num_queries(2):
        found = find("x ")

    assert (len(found.vehicles), len(found.items)) == (several, several)


@pytest.mark.django_db
def test_empty_words_find_nothing_and_ask_nothing(django_assert_num_queries):
    with django_assert_num_queries(0):
        assert find("   ").only is None


@pytest.mark.django_db
def test_a_list_too_long_says_that_there_is_more():
    for n in range(MOST + 1):
        make_equipment(serial=f"L{n:03d}")

    found = find("L0")

    assert len(found.items) == MOST
    assert found.more
