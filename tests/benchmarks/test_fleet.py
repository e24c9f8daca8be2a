"""
Load, rules, spans and write of 1 000 and of 10 000 vehicles, beside bare sqlite3.

    .venv/bin/python -m pytest tests/benchmarks/test_fleet.py -s

It takes about ten minutes, most of them to make the fleets. Aimed at: within 4 times
the bare read and write, a vehicle at 10 000 at no more than 1.15 times its cost at
1 000, and no more memory.
"""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

HOME = Path(__file__).resolve().parents[2]
SIZES = (1_000, 10_000)
ROUNDS = 3

_figures = {}


def measured(what, size, database):
    """Run one measurement in a process of its own."""
    answer = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.measured", what, str(size)],
        cwd=HOME,
        env=os.environ | {"DATABASE_URL": f"sqlite:///{database}"},
        check=True,
        capture_output=True,
        text=True,
    )
    return json.loads(answer.stdout)


@pytest.mark.parametrize("size", SIZES)
def test_a_whole_fleet_is_assessed(benchmark, tmp_path, size):
    built, database = tmp_path / "built.sqlite3", tmp_path / "fleet.sqlite3"
    measured("build", size, built)
    runs = {name: [] for name in ("whole", "load", "judge", "bare")}

    def one_round():
        # In turn, so that a machine busy with other things is busy for all of them.
        shutil.copy(built, database)
        for name, figures in runs.items():
            figures.append(measured(name, size, database))

    benchmark.pedantic(one_round, rounds=ROUNDS)

    _figures[size] = {name: least(figures) for name, figures in runs.items()}
    benchmark.extra_info.update(_figures[size])
    sys.stdout.write("\n" + "\n".join(lines(size)) + "\n")
    assert _figures[size]["whole"]["spans"] >= size
    assert _figures[size]["bare"]["rows"] > 100 * size


def least(figures):
    """The smallest of each figure, the one the rest of the machine disturbed least."""
    return {name: min(figure[name] for figure in figures) for name in figures[0]}


def lines(size):
    """The figures of one size, in words."""
    figures = _figures[size]
    whole, bare = figures["whole"], figures["bare"]

    def each(part, name="cpu_s"):
        return figures[part][name] / size * 1e6

    yield (
        f"{size} vehicles: {each('whole'):.0f} us each ({each('whole', 'wall_s'):.0f} on "
        f"the wall): load {each('load'):.0f}, load and rules {each('judge'):.0f}"
    )
    yield (
        f"  bare read {each('bare', 'read_cpu_s'):.0f} us, with write {each('bare'):.0f}"
        f" ({bare['rows'] / size:.0f} rows each): ratio "
        f"{whole['cpu_s'] / bare['cpu_s']:.1f} (wall "
        f"{whole['wall_s'] / bare['wall_s']:.1f})"
    )
    yield (
        f"  {whole['spans'] / size:.1f} spans and {whole['due'] / size:.1f} due dates "
        f"each; peak {whole['peak_mib']:.0f} MiB"
    )
    if size != SIZES[0] and SIZES[0] in _figures:
        first = _figures[SIZES[0]]["whole"]["cpu_s"] / SIZES[0]
        yield f"  cost of a vehicle, to that at {SIZES[0]}: {each('whole') / first / 1e6:.2f}"
