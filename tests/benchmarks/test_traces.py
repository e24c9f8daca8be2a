"""A million samples read, analysed and drawn, beside reading the same file alone."""

import csv
import importlib.util
import math
import random
import sys
import time
from array import array

import pytest

from fleet.engineering.trace_files import read_trace
from fleet.engineering.trace_found import Wanted
from fleet.engineering.trace_outline import outline
from fleet.engineering.trace_points import find_points
from fleet.ui.drawing import to_svg
from fleet.ui.trace_drawing import TraceSheet, found_on, trace_drawing

SAMPLES = 1_000_000
HAS_NUMPY = importlib.util.find_spec("numpy") is not None


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    """A logger of 1 kHz and millibar steps: 17 minutes with one application."""
    path = tmp_path_factory.mktemp("traces") / "million.csv"
    dice = random.Random(1)
    with path.open("w") as out:
        out.write("Time [s],Cylinder [bar]\n")
        for at in range(SAMPLES):
            t = at / 1000
            rise = 3.8 * (1 - math.exp(-(t - 80) / 1.33523)) if t > 80 else 0.0
            p = rise if t < 600 else 3.8 * math.exp(-(t - 600) / 6)
            out.write(f"{t:.3f},{p + dice.gauss(0, 0.005):.3f}\n")
    return path


def read_analyse_draw(path):
    with path.open("rb") as source:
        trace = read_trace(source)
    points = find_points(trace, Wanted(release_to=0.4))
    marks, spans = found_on(points)
    sheet = TraceSheet(outline(trace, 700), trace.unit, marks, (), spans)
    return points, to_svg(trace_drawing(sheet), title="Trace")


def read_by_csv(path):
    times, values = array("d"), array("d")
    with path.open(newline="") as source:
        rows = csv.reader(source)
        next(rows)
        for at, value in rows:
            times.append(float(at))
            values.append(float(value))
    return times, values


def read_by_numpy(path):
    import numpy as np

    return np.loadtxt(path, delimiter=",", skiprows=1)


def test_read_analyse_and_draw_a_million_samples(benchmark, file):
    points, svg = benchmark.pedantic(read_analyse_draw, (file,), rounds=3)

    assert points.fill_s == pytest.approx(4.0, abs=0.02)
    assert len(svg) < 100_000


def test_read_the_same_file_by_csv(benchmark, file):
    times, _ = benchmark.pedantic(read_by_csv, (file,), rounds=3)

    assert len(times) == SAMPLES


@pytest.mark.skipif(not HAS_NUMPY, reason="numpy is not installed here")
def test_read_the_same_file_by_numpy(benchmark, file):
    found = benchmark.pedantic(read_by_numpy, (file,), rounds=3)

    assert found.shape == (SAMPLES, 2)


def test_the_ratio_to_the_fastest_reading(file, capsys):
    """Least processor time of five in turn, which a busy machine spoils the least."""
    readers = [read_by_csv, *([read_by_numpy] if HAS_NUMPY else [])]
    least = {}
    for _ in range(5):
        for call in (read_analyse_draw, *readers):
            began = time.process_time()
            call(file)
            took = time.process_time() - began
            least[call] = min(took, least.get(call, took))
    ours = least.pop(read_analyse_draw)
    told = [f"read, analysed and drawn: {ours:.3f} s"]
    told += [f"{c.__name__}: {t:.3f} s, ratio {ours / t:.2f}" for c, t in least.items()]
    with capsys.disabled():
        sys.stdout.write("\n" + "\n".join(told) + "\n")

    assert least  # something to hold it against was measured
