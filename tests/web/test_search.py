"""The search page: number, serial number or a word of the trade; one hit leads there."""

import pytest
from django.urls import reverse

from fleet.engineering.calendar import Moment
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import EquipmentKind
from tests.register.factories import make_equipment, make_vehicle
from tests.web.reading import links, main, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def find(client, train_crew):
    """`find(words)`: what the search answers; everyone signed in may look."""
    client.force_login(train_crew)
    return lambda q: client.get(reverse("web:search"), {"q": q})


@pytest.mark.parametrize("q", ["T 107", "t 107", "  t   107 "])
def test_a_running_number_leads_straight_to_the_vehicle(find, q):
    vehicle = make_vehicle(number="T 107")
    make_vehicle(number="T 108")

    answer = find(q)

    assert answer.status_code == 302
    assert answer.url == reverse("web:vehicle", args=[vehicle.pk])


def test_a_former_number_leads_to_the_vehicle_too(find):
    vehicle = make_vehicle(number="T 107")
    alter_vehicle(by=None, vehicle=vehicle, since=Moment.parse("2020"), number="W 55")

    assert find("T 107").url == reverse("web:vehicle", args=[vehicle.pk])


def test_a_serial_number_leads_straight_to_the_item(find):
    item = make_equipment(serial="D-2291")
    make_equipment(serial="D-3300")

    assert find("2291").url == reverse("register:equipment", args=[item.pk])


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("angle cock", EquipmentKind.BP_END_COCK),  # synonyms: common practice
        ("control valve", EquipmentKind.DISTRIBUTOR),
        ("glad-hand", EquipmentKind.BP_HOSE),
        ("bag", EquipmentKind.VACUUM_HOSE),
    ],
)
def test_a_word_of_the_trade_finds_what_it_means(find, word, kind):
    item = make_equipment(kind, serial="Q-77")
    make_equipment(EquipmentKind.SLACK_ADJUSTER)

    assert find(word).url == reverse("register:equipment", args=[item.pk])


def test_a_word_with_several_hits_lists_them_and_offers_all_of_the_kind(find):
    items = [make_equipment(EquipmentKind.BP_END_COCK) for _ in range(2)]

    answer = find("angle cock")

    leads = dict(links(main(answer)))
    for item in items:
        serial = item.versions.get().serial
        assert leads[serial] == reverse("register:equipment", args=[item.pk])
    offered = [href for said, href in leads.items() if said.startswith("All: ")]
    assert f"{reverse('register:equipment-list')}?kind=bp_end_cock" in offered
    assert 'value="angle cock"' in main(answer)


def test_hits_of_both_sorts_are_listed_apart(find):
    vehicle = make_vehicle(number="X 10")
    item = make_equipment(serial="X 101")

    answer = find("x 10")

    text = words(answer)
    assert text.index("Vehicles") < text.index("X 10 In traffic")
    assert text.index("Equipment") < text.index("X 101")
    leads = dict(links(main(answer)))
    assert leads["X 10"] == reverse("web:vehicle", args=[vehicle.pk])
    assert leads["X 101"] == reverse("register:equipment", args=[item.pk])


def test_nothing_found_says_what_else_to_try(find):
    make_vehicle(number="T 107")

    answer = find("Z 99")

    assert answer.status_code == 200
    assert "Nothing bears that number or word. Try fewer letters" in words(answer)


@pytest.mark.parametrize("q", ["", "   "])
def test_nothing_asked_shows_the_empty_form(find, q):
    make_vehicle(number="T 107")

    answer = find(q)

    assert answer.status_code == 200
    assert "Nothing bears" not in words(answer)
    assert "T 107" not in words(answer)


def test_what_was_typed_is_shown_as_typed_not_run(find):
    answer = find('<script>alert("x")</script>')

    assert "<script>alert" not in main(answer)
    assert "&lt;script&gt;" in main(answer)


def test_a_long_text_is_cut_and_answered(find):
    assert find("x" * 5_000).status_code == 200


def test_more_than_fifty_hits_are_cut_and_the_page_says_so(find):
    for n in range(51):
        make_equipment(serial=f"L{n:03d}")

    answer = find("L0")

    assert "There is more; type more of the number." in words(answer)


@pytest.mark.parametrize("many", [2, 6])
def test_the_search_asks_as_often_for_few_hits_as_for_many(
    find, many, django_assert_num_queries
):
    for n in range(many):
        make_vehicle(number=f"X {n}")
        make_equipment(serial=f"X {n}")

    with django_assert_num_queries(4):  # session, account, vehicles, items
        answer = find("x ")
    assert len(links(main(answer))) == 2 * many


PAGES = ["web:board", "web:due-list", "web:rule-list", "web:practice", "web:search"]


@pytest.mark.parametrize("name", [*PAGES, "web:vehicle", "web:rule"])
def test_every_page_of_the_screens_needs_a_log_in(client, name):
    arguments = {"web:vehicle": ["1"], "web:rule": ["R01"]}.get(name, [])
    address = reverse(name, args=arguments)

    answer = client.get(address)

    assert answer.status_code == 302
    assert answer.url.startswith(reverse("people:sign-in"))
    assert f"next={address}" in answer.url
