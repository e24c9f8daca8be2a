"""One variable chooses the database; SQLite is opened so that nothing is lost."""

import pytest
from django.db import connection
from environ import Env

from fleet.config.database import database


class Surroundings(Env):
    """An environment of the test's own."""

    def __init__(self, **values):
        super().__init__()
        self.ENVIRON = values


def test_without_a_name_the_facts_are_kept_in_a_file_of_the_checkout(tmp_path):
    chosen = database(Surroundings(), home=tmp_path)

    assert chosen["ENGINE"] == "django.db.backends.sqlite3"
    assert chosen["NAME"] == str(tmp_path / "fleet.sqlite3")


def test_an_empty_name_means_the_same_as_none(tmp_path):
    assert database(Surroundings(DATABASE_URL=""), home=tmp_path) == database(
        Surroundings(), home=tmp_path
    )


def test_tests_on_sqlite_have_a_file_of_their_own(tmp_path):
    chosen = database(Surroundings(), home=tmp_path)
    moved = database(
        Surroundings(FLEET_TEST_DB=str(tmp_path / "deep" / "t.sqlite3")), home=tmp_path
    )

    assert chosen["TEST"]["NAME"] == str(tmp_path / "var" / "test.sqlite3")
    assert moved["TEST"]["NAME"] == str(tmp_path / "deep" / "t.sqlite3")
    assert (tmp_path / "deep").is_dir()


def test_a_postgresql_address_is_read_whole(tmp_path):
    url = "postgres://clerk@db.example.org:5433/brakes"

    chosen = database(Surroundings(DATABASE_URL=url), home=tmp_path)

    assert chosen["ENGINE"] == "django.db.backends.postgresql"
    assert (chosen["HOST"], chosen["PORT"]) == ("db.example.org", 5433)
    assert (chosen["USER"], chosen["NAME"]) == ("clerk", "brakes")


def test_a_pool_replaces_kept_connections_and_never_joins_them(tmp_path):
    url = "postgres://clerk@db.example.org/brakes"

    kept = database(Surroundings(DATABASE_URL=url), home=tmp_path)
    pooled = database(Surroundings(DATABASE_URL=url, FLEET_DB_POOL="1"), home=tmp_path)

    assert kept["CONN_MAX_AGE"] > 0
    assert "pool" not in kept.get("OPTIONS", {})
    assert pooled.get("CONN_MAX_AGE", 0) == 0
    assert pooled["OPTIONS"]["pool"]


@pytest.mark.django_db(transaction=True)
def test_sqlite_is_open_with_a_log_ahead_and_full_care():
    if connection.vendor != "sqlite":
        pytest.skip("asks about SQLite")
    with connection.cursor() as cursor:
        answers = {
            pragma: cursor.execute(f"PRAGMA {pragma}").fetchone()[0]
            for pragma in ("journal_mode", "synchronous")
        }

    # 2 is FULL: sqlite.org/pragma.html#pragma_synchronous
    assert answers == {"journal_mode": "wal", "synchronous": 2}
    assert connection.transaction_mode == "IMMEDIATE"
