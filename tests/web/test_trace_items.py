"""Every vehicle that ever carried an item of a type, a batch, an overhauler, a kit."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.register.services.fittings import exchange
from fleet.register.services.overhauls import record_overhaul, retract_overhaul
from fleet.register.vocabulary import EquipmentKind
from tests.register.factories import make_depot, make_equipment
from tests.web.reading import main, rows, words
from tests.web.scenes import coach, make_practice, on, standing_at_today

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


def traced(client, **asked):
    """The page for what is asked."""
    answer = client.get(reverse("web:trace"), asked)
    assert answer.status_code == 200
    return answer


def test_an_item_is_shown_on_every_vehicle_that_carried_it(client, train_crew):
    make_practice()
    vehicle = coach("T 1")
    other = coach("T 2", designation="D9")
    exchange(
        by=None,
        vehicle=vehicle,
        position="distributor",
        equipment=make_equipment(EquipmentKind.DISTRIBUTOR, designation="D9"),
        at=on("2026-05-01"),
        to=make_depot(),
    )
    client.force_login(train_crew)
    old = rows(main(traced(client, kind="distributor", designation="d2")))
    assert [(row["Vehicle"], row["To"]) for row in old] == [("T 1", "1 May 2026")]
    new = rows(main(traced(client, kind="distributor", designation="D9")))
    assert {row["Vehicle"] for row in new} == {"T 1", "T 2"}
    assert {row["To"] for row in new} == {"fitted now"}
    assert other.pk


def test_nothing_found_and_nothing_asked_say_so(client, train_crew):
    client.force_login(train_crew)
    assert "No vehicle ever carried one" in words(
        traced(client, kind="distributor", designation="D77")
    )
    assert "Select a valid choice" in words(traced(client, kind="teapot"))
    assert "Trace" in words(traced(client))
    assert "Say which items to trace" in words(traced(client, kind="", kit=" "))


def test_the_page_of_an_item_leads_there(client, fitter):
    make_practice()
    item = coach("T 1").fittings.get(position="distributor", closed_by=None).equipment
    client.force_login(fitter)
    page = client.get(reverse("register:equipment", args=[item.pk])).content.decode()
    assert f"{reverse('web:trace')}?kind=distributor" in page


@pytest.fixture
def recalled():
    """A firm's kit K-1 went into three distributors; one moved on, one lies in store."""
    make_practice()
    first, second = coach("T 1"), coach("T 2")
    works = make_depot()

    def of(vehicle):
        return vehicle.fittings.get(position="distributor", closed_by=None).equipment

    moved, stayed, spare = of(first), of(second), make_equipment(serial="SPARE-1")
    for item, firm, kit in (
        (moved, "Quillfeather Brake Overhauls", "K-1"),
        (stayed, "Quillfeather Brake Overhauls", "K-2"),
        (spare, "Yaxwold Valve Works", "K-1"),
    ):
        record_overhaul(
            by=None,
            equipment=item,
            on=on("2026-04-10"),
            overhauler=firm,
            kit_batch=kit,
        )
    exchange(
        by=None,
        vehicle=first,
        position="distributor",
        equipment=spare,
        at=on("2026-05-01"),
        to=works,
    )
    return first, second


def test_what_a_firm_overhauled_is_found_wherever_it_was_and_is_now(
    client, train_crew, recalled
):
    client.force_login(train_crew)

    page = traced(client, overhauler="quillfeather  brake overhauls")

    assert "2 items, on 2 vehicles in all; 1 fitted now" in words(page)
    found = {
        row["Vehicle"]: (row["To"], row["Item is now"]) for row in rows(main(page))
    }
    assert found == {
        "T 1": ("1 May 2026", "in store at Wenlow works"),
        "T 2": ("fitted now", "here"),
    }


def test_a_kit_is_found_whoever_put_it_in_and_both_narrow_together(
    client, train_crew, recalled
):
    client.force_login(train_crew)

    of_kit = rows(main(traced(client, kit="k-1")))
    assert [(row["Vehicle"], row["To"]) for row in of_kit] == [
        ("T 1", "fitted now"),
        ("T 1", "1 May 2026"),
    ]
    both = rows(main(traced(client, kit="K-1", overhauler="Yaxwold Valve Works")))
    assert [row["To"] for row in both] == ["fitted now"]
    assert "Yaxwold Valve Works" in both[0]["Overhauled"]
    none = traced(client, kit="K-2", overhauler="Yaxwold Valve Works")
    assert "No vehicle ever carried one" in words(none)


def test_an_item_that_was_off_before_it_was_overhauled_says_so(client, train_crew):
    make_practice()
    vehicle = coach("T 1")
    old = vehicle.fittings.get(position="distributor", closed_by=None).equipment
    exchange(
        by=None,
        vehicle=vehicle,
        position="distributor",
        equipment=make_equipment(),
        at=on("2026-04-01"),
        to=make_depot(),
    )
    record_overhaul(
        by=None, equipment=old, on=on("2026-04-20"), overhauler="Marrowby shops"
    )
    client.force_login(train_crew)

    (row,) = rows(main(traced(client, overhauler="Marrowby shops")))

    assert "after it came off here" in row["Overhauled"]


def test_an_overhaul_taken_back_traces_nothing(client, train_crew):
    make_practice()
    vehicle = coach("T 1")
    item = vehicle.fittings.get(position="distributor", closed_by=None).equipment
    version = record_overhaul(
        by=None, equipment=item, on=on("2026-04-20"), overhauler="Marrowby shops"
    )
    client.force_login(train_crew)
    assert (
        rows(main(traced(client, overhauler="Marrowby shops")))[0]["Vehicle"] == "T 1"
    )

    retract_overhaul(by=None, version=version, reason="Another item's paper")

    assert "No vehicle ever carried one" in words(
        traced(client, overhauler="Marrowby shops")
    )


def test_it_asks_as_often_for_many_as_for_few(client, train_crew):
    make_practice()
    client.force_login(train_crew)
    counted = []
    for more in (1, 4):
        for number in range(more):
            vehicle = coach(f"T {more}{number}")
            fitting = vehicle.fittings.get(position="distributor", closed_by=None)
            record_overhaul(
                by=None,
                equipment=fitting.equipment,
                on=on("2026-04-20"),
                overhauler="Marrowby shops",
            )
        traced(client, kind="distributor", overhauler="Marrowby shops")
        with CaptureQueriesContext(connection) as queries:
            traced(client, kind="distributor", overhauler="Marrowby shops")
        counted.append(len(queries))
    assert counted[0] == counted[1]
