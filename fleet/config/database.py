"""Where the facts are kept: one variable chooses SQLite or PostgreSQL."""

from pathlib import Path
from typing import Any

from environ import Env

# IMMEDIATE is the setting that matters: a transaction that will write waits for
# its turn at the start instead of failing in the middle. FULL, because NORMAL can
# lose the last commits at power loss, and those may be a signed record.
SQLITE_OPTIONS = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": (
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; "
        "PRAGMA cache_size=-20000; PRAGMA temp_store=MEMORY;"
    ),
}


def database(env: Env, *, home: Path) -> dict[str, Any]:
    """Return the settings of the database that `DATABASE_URL` names.

    Empty: the file `fleet.sqlite3` under `home`.
    """
    url = env.str("DATABASE_URL", default="") or f"sqlite:///{home / 'fleet.sqlite3'}"
    found: dict[str, Any] = env.db_url_config(url)
    if found["ENGINE"] == "django.db.backends.sqlite3":
        return found | _sqlite(env, home=home)
    if env.bool("FLEET_DB_POOL", default=False):
        return found | {"OPTIONS": {"pool": {"min_size": 1, "max_size": 8}}}
    return found | {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}


def _sqlite(env: Env, *, home: Path) -> dict[str, Any]:
    # Tests need a file too: threads of a live server that share an in-memory
    # database answer "table is locked" instead of waiting.
    tests = Path(env.str("FLEET_TEST_DB", default=str(home / "var" / "test.sqlite3")))
    tests.parent.mkdir(parents=True, exist_ok=True)
    return {"OPTIONS": SQLITE_OPTIONS, "TEST": {"NAME": str(tests)}}
