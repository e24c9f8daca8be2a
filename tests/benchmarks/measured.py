"""
One measurement in a process of its own, so that its time and memory are only its own.

`python -m tests.benchmarks.measured build|rebuild|bare NUMBER`, on the SQLite file that
DATABASE_URL names; prints one line of JSON.
"""

import json
import os
import resource
import sqlite3
import sys
import time

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
django.setup()

from django.core.management import call_command  # noqa: E402  # after the set-up
from django.db import connection  # noqa: E402

from fleet.fitness import streams  # noqa: E402
from fleet.fitness.gather import ASKED, vehicle_files  # noqa: E402
from fleet.fitness.models import DueDate, StatusSpan  # noqa: E402
from fleet.fitness.practice import practice_known  # noqa: E402
from fleet.fitness.rules import BOOK  # noqa: E402
from fleet.fitness.services import mark_for_rebuild, rebuild  # noqa: E402
from fleet.fitness.verdict import verdict  # noqa: E402


class Clock:
    """Seconds on the wall and of this process, since it was made."""

    def __init__(self):
        self.wall, self.cpu = time.perf_counter(), time.process_time()

    def read(self):
        """Return both."""
        return {
            "wall_s": time.perf_counter() - self.wall,
            "cpu_s": time.process_time() - self.cpu,
        }


def build(number):
    """Make the fleet."""
    from tests.benchmarks.big_fleet import BigFleet

    call_command("migrate", verbosity=0)
    clock = Clock()
    BigFleet().add(number)
    return clock.read()


def whole(number):
    """Load, rules, spans and write of the whole fleet, by the way the product goes."""
    mark_for_rebuild(None)
    clock = Clock()
    assert rebuild() == number
    found = clock.read() | {"peak_mib": peak_mib()}
    spans = StatusSpan.objects.current().count()
    return found | {"spans": spans, "due": DueDate.objects.count()}


def load(number):
    """Load alone."""
    clock = Clock()
    assert sum(1 for _ in vehicle_files(None)) == number
    return clock.read() | {"peak_mib": peak_mib()}


def judge(number):
    """Load and rules, nothing written."""
    practice = practice_known(None)
    clock = Clock()
    for file in vehicle_files(None, practice=practice):
        verdict(file, practice.policy, BOOK)
    return clock.read() | {"peak_mib": peak_mib()}


def bare(_number):
    """Read the same rows by the same SELECTs and write the same result rows, by hand."""
    results = [stored_rows(model) for model in (StatusSpan, DueDate)]
    database = sqlite3.connect(connection.settings_dict["NAME"])
    database.execute("PRAGMA foreign_keys = ON")
    clock, rows = Clock(), 0
    for text in ASKED.values():
        sql, _ = streams.question(text, "sqlite", known_at=None, ids=None)
        for _row in database.execute(sql):
            rows += 1
    read = clock.read()
    for insert, values in results:
        database.executemany(insert, values)
    database.commit()
    return clock.read() | {"read_cpu_s": read["cpu_s"], "rows": rows}


def stored_rows(model):
    """An INSERT for what was stored, and its rows as the file holds them."""
    columns = [f.column for f in model._meta.concrete_fields if not f.primary_key]
    names = ", ".join(f'"{column}"' for column in columns)
    table = model._meta.db_table
    places = ", ".join("?" * len(columns))
    with sqlite3.connect(connection.settings_dict["NAME"]) as database:
        rows = database.execute(f"SELECT {names} FROM {table}").fetchall()
    return f"INSERT INTO {table} ({names}) VALUES ({places})", rows


def peak_mib():
    """The most memory this process held so far, in MiB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


MEASURED = {f.__name__: f for f in (build, whole, load, judge, bare)}

if __name__ == "__main__":
    sys.stdout.write(json.dumps(MEASURED[sys.argv[1]](int(sys.argv[2]))))
