"""Every vehicle that ever carried an item of a type, or of a batch."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.register.services.fittings import exchange
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


def test_the_page_of_an_item_leads_there(client, fitter):
    make_practice()
    item = coach("T 1").fittings.get(position="distributor", closed_by=None).equipment
    client.force_login(fitter)
    page = client.get(reverse("register:equipment", args=[item.pk])).content.decode()
    assert f"{reverse('web:trace')}?kind=distributor" in page


def test_it_asks_as_often_for_many_as_for_few(client, train_crew):
    make_practice()
    client.force_login(train_crew)
    counted = []
    for more in (1, 4):
        for number in range(more):
            coach(f"T {more}{number}")
        traced(client, kind="distributor")
        with CaptureQueriesContext(connection) as queries:
            traced(client, kind="distributor")
        counted.append(len(queries))
    assert counted[0] == counted[1]
