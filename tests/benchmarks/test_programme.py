"""
The workshop programme over 24 months: both rules of thumb, and the solver.

    .venv/bin/python -m pytest tests/benchmarks/test_programme.py -s

It takes about ten minutes. Aimed at, for 150 vehicles in 120 s on two cores: late days
at least 45 % below both rules, lives thrown away at least 40 % below grouped.
"""

import sys
import time

import pytest

from fleet.workshop.engine.checker import broken_rules
from fleet.workshop.engine.rules import earliest_due
from fleet.workshop.engine.solver import solve
from tests.workshop.generate import generated

SECONDS = {50: 60, 150: 120, 500: 300}
HEAD = (
    f"{'':18}{'short':>7}{'late days':>11}{'bound':>8}{'gap':>6}{'lives':>8}"
    f"{'visits':>8}{'effort':>10}{'bound':>10}{'gap':>6}{'s':>7}{'cpu s':>7}"
)


@pytest.mark.parametrize("vehicles", SECONDS)
def test_a_programme_for_two_years(benchmark, vehicles):
    problem = generated(vehicles)
    lines = [f"{vehicles} vehicles, {len(problem.jobs)} jobs", HEAD]
    rules = []
    for grouped in (False, True):
        began, cpu = time.perf_counter(), time.process_time()
        rules.append(earliest_due(problem, grouped=grouped))
        lines.append(line(rules[-1], began, cpu))

    began, cpu = time.perf_counter(), time.process_time()
    found = benchmark.pedantic(
        solve, (problem,), {"seconds": SECONDS[vehicles]}, rounds=1
    )
    lines.append(line(found, began, cpu))

    sys.stdout.write("\n" + "\n".join(lines) + "\n")
    benchmark.extra_info.update({level.name: level.value for level in found.levels})
    assert broken_rules(problem, found.starts) == []
    assert all(found.order <= rule.order for rule in rules)


def line(programme, began, cpu):
    """One programme, and what it took."""
    short, late, effort, _ = programme.levels
    spent = time.perf_counter() - began, time.process_time() - cpu
    return (
        f"{programme.found_by:18}{short.value:7}{late.value:11}{known(late)}"
        f"{programme.wasted_lives:8.2f}{len(programme.visits):8}"
        f"{effort.value:10}{known(effort, 10)}{spent[0]:7.1f}{spent[1]:7.1f}"
    )


def known(level, wide=8):
    """What is proven of it."""
    if level.bound is None:
        return f"{'-':>{wide}}{'-':>6}"
    return f"{level.bound:{wide}}{level.gap:6.0%}"
