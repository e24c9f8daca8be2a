"""The questions of gather: one vehicle's rows without the fleet's, all without sorting."""

import pytest
from django.db import connection

from fleet.fitness import streams
from fleet.fitness.gather import ASKED
from fleet.fitness.models import StatusSpan
from fleet.fitness.storing import among

pytestmark = pytest.mark.django_db

QUESTIONS = ASKED | {
    "item_usage": streams.ITEM_USAGE,
    "surveyed": streams.SURVEYED,
    "measured": streams.MEASURED.replace("LINES", "1, 2"),
}


def plan(name, ids, known_at=None):
    """How SQLite would answer a question, step by step."""
    sql, params = streams.question(
        QUESTIONS[name], "sqlite", known_at=known_at, ids=ids, kinds=("gauge",)
    )
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {sql}", params or None)
        return [row[3] for row in cursor.fetchall()]


@pytest.fixture(autouse=True)
def sqlite():
    """SQLite follows its rules; PostgreSQL also looks at how much there is."""
    if connection.vendor != "sqlite":
        pytest.skip("plans of SQLite")


@pytest.mark.parametrize("known_at", [None, 7], ids=["now", "as known earlier"])
@pytest.mark.parametrize("name", QUESTIONS)
def test_the_rows_of_one_vehicle_are_found_without_reading_the_fleet(name, known_at):
    steps = plan(name, [1], known_at)

    assert [s for s in steps if s.startswith("SCAN") and "json_each" not in s] == []
    assert [s for s in steps if "closed_by_id_" in s or "AUTOMATIC" in s] == []


@pytest.mark.parametrize("name", QUESTIONS)
def test_the_rows_of_the_fleet_come_in_order_and_are_not_sorted_in_memory(name):
    steps = plan(name, None)

    # What is sorted inside one vehicle says RIGHT PART, or LAST TERM.
    held = ("USE TEMP B-TREE FOR ORDER BY", "USE TEMP B-TREE FOR DISTINCT")
    assert [s for s in steps if s in held or s.startswith("MATERIALIZE")] == []


def test_what_is_stored_of_one_vehicle_is_found_without_reading_the_fleet():
    spans = StatusSpan.objects.current().filter(vehicle__in=among([1])).order_by()

    steps = spans.explain()

    assert "fitness_span_of_vehicle (vehicle_id=?)" in steps
