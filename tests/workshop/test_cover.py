"""What the diary wants beside what the board's stored spans say, week by week."""

import pytest

from fleet.engineering.calendar import Moment
from fleet.fitness.services import mark_for_rebuild
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import System, VehicleStatus
from fleet.workshop.cover import covers
from tests.register.factories import make_type
from tests.web.scenes import chafed, coach, fleet, standing_at_today
from tests.workshop.kept import MONDAY, day, make_line

pytestmark = pytest.mark.django_db

LAST_MONDAY = day("2027-03-01")  # in that week the yearly tests run out, on the Friday


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


def told(start=MONDAY, weeks=1):
    """Days, fit and words of every line in every week."""
    return [(c.days, c.fit, c.words) for c in covers(start, weeks)]


def test_enough_are_fit_while_every_test_is_in_date():
    fleet(2)
    make_line(vehicles=2)

    assert told() == [(7, 2, "enough")]


def test_the_worst_day_of_the_week_counts():
    fleet(2)
    days = {"first": LAST_MONDAY, "last": day("2027-03-07")}
    make_line(vehicles=2, **days)
    make_line(title="Before", vehicles=2, weekdays="12345", **days)

    assert told(LAST_MONDAY) == [(5, 2, "enough"), (7, 0, "short by two")]


def test_one_by_name_and_those_of_a_type_are_counted_for_what_they_are():
    first, second = fleet(2)
    make_line(title="A", vehicles=1, vehicle=second)
    make_line(title="B", vehicles=1, vehicle=first)
    make_line(title="C", vehicles=3, vehicle_type=make_type("coach"))
    make_line(title="D", vehicles=1, vehicle_type=make_type("van", positions=[]))
    make_line(title="E", vehicles=1, system=System.VACUUM)

    chafed(second, "2026-05-04")

    assert [words for _, _, words in told(day("2026-05-11"))] == [
        "short by one",
        "enough",
        "short by two",
        "short by one",
        "short by one",
    ]


def test_a_vehicle_out_of_traffic_or_not_yet_reassessed_counts_for_none():
    stored, stale, _sound = fleet(3)
    make_line(vehicles=3)
    since = Moment.on(day("2026-05-01"))
    alter_vehicle(by=None, vehicle=stored, since=since, status=VehicleStatus.STORED)

    mark_for_rebuild([stale.pk])

    assert told() == [(7, 1, "short by two")]


@pytest.mark.parametrize("size", [1, 5])
def test_reading_it_takes_as_many_queries_for_much_as_for_little(
    size, django_assert_num_queries
):
    fleet(size)
    for number in range(size):
        make_line(title=f"Train {number}")

    with django_assert_num_queries(4):  # lines, vehicles, stale, spans
        assert len(covers(MONDAY, 2)) == 2 * size


def test_a_vehicle_that_is_only_conveyed_as_piped_counts_for_none():
    fleet(1)
    coach("T 901", tested="2025-01-05")  # long overdue, so conveyed as piped
    make_line(vehicles=2)

    assert told() == [(7, 1, "short by one")]
