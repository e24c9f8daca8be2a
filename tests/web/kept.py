"""
A database filled once in a session, and copies of it for those who need one.

Copying takes a moment, filling it seconds. Each copy is its own, so no test sees what
another did. SQLite copies a file, PostgreSQL by its own TEMPLATE.
"""

import sqlite3
from contextlib import contextmanager
from pathlib import Path

from django.contrib.contenttypes.models import ContentType
from django.db import connection

_kept = {}  # by the name of the test database: that of the filled one, and what was said


@contextmanager
def copied(fill):
    """Have a copy of the filled database in use; yield what `fill` said when it ran."""
    empty = str(connection.settings_dict["NAME"])
    if empty not in _kept:
        _kept[empty] = f"{empty}_kept", _filled(empty, f"{empty}_kept", fill)
    kept, said = _kept[empty]
    mine = f"{empty}_copy"
    _copy(kept, mine)
    with _in_use(mine):
        yield said
    _drop(mine)


def drop_all():
    """Drop what was filled, at the end of a session."""
    for kept, _said in _kept.values():
        _drop(kept)
    _kept.clear()


def _filled(empty, name, fill):
    _copy(empty, name)
    with _in_use(name):
        return fill()


@contextmanager
def _in_use(name):
    former = connection.settings_dict["NAME"]
    _point_at(name)
    try:
        yield
    finally:
        _point_at(former)


def _point_at(name):
    connection.close()
    connection.settings_dict["NAME"] = name  # of every thread: they share the settings
    ContentType.objects.clear_cache()


def _copy(source, target):
    _drop(target)
    connection.close()
    if connection.vendor == "sqlite":
        with sqlite3.connect(source) as opened:
            opened.execute("VACUUM INTO ?", [target])
        opened.close()
        return
    with connection._nodb_cursor() as cursor:
        cursor.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
            "WHERE datname = %s AND pid <> pg_backend_pid()",
            [source],
        )
        cursor.execute(f'CREATE DATABASE "{target}" TEMPLATE "{source}"')


def _drop(name):
    if connection.vendor == "sqlite":
        for tail in ("", "-wal", "-shm"):
            Path(f"{name}{tail}").unlink(missing_ok=True)
        return
    with connection._nodb_cursor() as cursor:
        cursor.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
