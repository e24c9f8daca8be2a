"""
The workshop programme over 24 months: both rules of thumb, and the solver.

    .venv/bin/python -m pytest tests/benchmarks/test_programme.py -s

It takes about twelve minutes. Aimed at, for 150 vehicles in 120 s on two cores: late days
at least 45 % below both rules, lives thrown away at least 40 % below grouped.
"""

import sys
import time

import pytest

from fleet.records.clock import today
from fleet.workshop.engine.checker import broken_rules
from fleet.workshop.engine.rules import earliest_due
from fleet.workshop.engine.solver import solve
from fleet.workshop.loading import problem as load
from fleet.workshop.running import first_monday
from tests.web.demo import loaded_for_a_module
from tests.workshop.generate import generated

# Vehicles, places more than the fewest, seconds.
FLEETS = {
    "50": (50, 0, 60),
    "150": (150, 0, 120),
    "150, a road and a pit more": (150, 1, 120),
    "500": (500, 0, 300),
}
DEMO_SECONDS, WEEKS, RATE = 60, 104, 0.05
HEAD = (
    f"{'':18}{'short':>7}{'bound':>7}{'late days':>11}{'bound':>8}{'gap':>6}"
    f"{'lives':>8}{'visits':>8}{'effort':>10}{'bound':>10}{'gap':>6}{'s':>7}{'cpu s':>7}"
)


@pytest.mark.parametrize("name", FLEETS)
def test_a_programme_for_two_years(benchmark, name):
    vehicles, more_places, seconds = FLEETS[name]
    compared(benchmark, generated(vehicles, more_places=more_places), name, seconds)


def test_a_programme_for_the_demo(benchmark, django_db_setup, django_db_blocker):
    with loaded_for_a_module(django_db_blocker):
        problem = load(first_monday(today()), WEEKS, RATE, on=today())
    compared(benchmark, problem, "demo", DEMO_SECONDS)


def compared(benchmark, problem, name, seconds):
    """Both rules and the solver, on one line each."""
    lines = [
        f"{name}: {len(problem.vehicles)} vehicles, {len(problem.jobs)} jobs",
        HEAD,
    ]
    rules = []
    for grouped in (False, True):
        began, cpu = time.perf_counter(), time.process_time()
        rules.append(earliest_due(problem, grouped=grouped))
        lines.append(line(rules[-1], began, cpu))

    began, cpu = time.perf_counter(), time.process_time()
    found = benchmark.pedantic(solve, (problem,), {"seconds": seconds}, rounds=1)
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
        f"{programme.found_by:18}{short.value:7}{known(short, 7)[:7]}"
        f"{late.value:11}{known(late)}"
        f"{programme.wasted_lives:8.2f}{len(programme.visits):8}"
        f"{effort.value:10}{known(effort, 10)}{spent[0]:7.1f}{spent[1]:7.1f}"
    )


def known(level, wide=8):
    """What is proven of it."""
    if level.bound is None:
        return f"{'-':>{wide}}{'-':>6}"
    return f"{level.bound:{wide}}{level.gap:6.0%}"
