"""
As known at an entry, beside the same as known now: one vehicle, and the fleet.

    .venv/bin/python -m pytest tests/benchmarks/test_knowing.py -s

Aimed at: within three times the present-day evaluation, in the same run.
"""

import os
import subprocess
import sys
from pathlib import Path

HOME = Path(__file__).resolve().parents[2]
SIZE = 500

SCRIPT = """
import os, sys, time
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
import django
django.setup()
from fleet.fitness.gather import vehicle_files
from fleet.fitness.practice import practice_known
from fleet.fitness.rules import BOOK
from fleet.fitness.verdict import verdict
from fleet.records.models import Entry

def evaluate(ids, known_at):
    practice = practice_known(known_at)
    files = vehicle_files(ids, known_at=known_at, practice=practice)
    return [verdict(file, practice.policy, BOOK) for file in files]

def least(work, rounds):
    found = []
    for _ in range(rounds):
        begun = time.perf_counter()
        work()
        found.append(time.perf_counter() - begun)
    return min(found)

newest = Entry.objects.order_by("-number").values_list("number", flat=True)[0]
assert evaluate(None, newest) == evaluate(None, None)
for what, ids, rounds in (("one vehicle", [1], 20), ("the fleet", None, 3)):
    now = least(lambda: evaluate(ids, None), rounds)
    then = least(lambda: evaluate(ids, newest), rounds)
    print(f"{what}: as known now {now * 1e3:.1f} ms, as known then {then * 1e3:.1f} ms, "
          f"ratio {then / now:.2f}")
"""


def run(*command, database):
    """Run a command of Python on a database; return what it prints."""
    answer = subprocess.run(
        [sys.executable, *command],
        cwd=HOME,
        env=os.environ | {"DATABASE_URL": f"sqlite:///{database}"},
        check=True,
        capture_output=True,
        text=True,
    )
    return answer.stdout


def test_what_was_known_is_worked_out_beside_what_is_known(benchmark, tmp_path):
    database = tmp_path / "fleet.sqlite3"
    run("-m", "tests.benchmarks.measured", "build", str(SIZE), database=database)
    said = benchmark.pedantic(lambda: run("-c", SCRIPT, database=database), rounds=1)
    sys.stdout.write("\n" + said)
    assert said.count("ratio") == 2
