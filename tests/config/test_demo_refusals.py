"""What `manage.py demo` makes of an empty database, and what it refuses to touch."""

import os
import sqlite3
import subprocess
import sys

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from fleet.config.demo.fleetbook import vehicles
from fleet.people.models import User
from fleet.records.deeds import deed
from fleet.records.models import Entry
from fleet.register.models import Vehicle
from tests.people.factories import UserFactory
from tests.register.factories import make_vehicle


def load(**options):
    """Run the command in this process; it stops before serving."""
    call_command("demo", no_serve=True, **options)


@pytest.mark.django_db
def test_a_register_that_holds_records_is_left_as_it_is():
    make_vehicle(number="T 1")
    before = Entry.objects.count()

    with pytest.raises(CommandError, match="holds other records; the demo does not"):
        load()

    assert (Entry.objects.count(), Vehicle.objects.count()) == (before, 1)
    assert not User.objects.exists()


@pytest.mark.django_db
def test_a_register_that_has_accounts_is_left_as_it_is():
    UserFactory(username="manager")

    with pytest.raises(CommandError, match="holds other records"):
        load()

    assert not Entry.objects.exists()
    assert [user.username for user in User.objects.all()] == ["manager"]


@pytest.mark.django_db
def test_a_demo_whose_loading_was_broken_off_is_not_taken_for_a_whole_one():
    with deed("demo.load", by=None):
        pass

    with pytest.raises(CommandError, match="whose loading was broken off"):
        load()


@pytest.mark.django_db
@pytest.mark.parametrize("count", [0, -1, 100_001])
def test_a_fleet_of_no_possible_size_is_refused(count):
    with pytest.raises(CommandError, match="as a number from 1 to 100000"):
        load(vehicles=count)

    assert not Entry.objects.exists()


def run(database, *options):
    """Run the command in a process of its own, on a SQLite file."""
    return subprocess.run(
        [sys.executable, "manage.py", "demo", "--no-serve", *options],
        cwd=settings.BASE_DIR,
        env=os.environ | {"DATABASE_URL": f"sqlite:///{database}"},
        capture_output=True,
        text=True,
        check=False,
    )


def count_of(database, table):
    with sqlite3.connect(database) as connection:
        return connection.execute(f"SELECT COUNT(*) FROM {table}").fetchone()[0]


def test_from_no_database_at_all_it_makes_one_of_the_size_asked_for(tmp_path):
    database = tmp_path / "new.sqlite3"

    first = run(database, "--vehicles", "3")
    second = run(database, "--vehicles", "3")

    assert (first.returncode, second.returncode) == (0, 0), first.stderr
    assert count_of(database, "register_vehicle") == 3
    assert "3/3" in first.stdout
    assert "The demo is loaded already." in second.stdout


def test_a_database_of_another_application_is_left_as_it_is(tmp_path):
    database = tmp_path / "other.sqlite3"
    with sqlite3.connect(database) as connection:
        connection.execute("CREATE TABLE ledger (id INTEGER)")

    refused = run(database)

    assert refused.returncode == 1
    assert "This database holds other records" in refused.stderr
    with sqlite3.connect(database) as connection:
        tables = connection.execute("SELECT name FROM sqlite_master").fetchall()
    assert tables == [("ledger",)]


def test_a_fleet_beyond_the_lines_own_is_filled_up_with_numbered_vehicles():
    own = [plan.number for plan in vehicles(None)]

    more = [plan.number for plan in vehicles(len(own) + 2)]

    assert more == [*own, "X 1001", "X 1002"]
    assert [plan.number for plan in vehicles(3)] == own[:3]
