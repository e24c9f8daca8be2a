"""What the solver finds can be done, is no worse than a person's programme, and says how good it is."""

import time
from dataclasses import replace

import pytest

from fleet.workshop.engine.checker import broken_rules
from fleet.workshop.engine.rules import earliest_due
from fleet.workshop.engine.solver import solve
from tests.workshop.generate import generated


@pytest.mark.parametrize(("vehicles", "seed"), [(4, 1), (12, 2), (30, 3)])
def test_it_keeps_every_rule_and_is_no_worse_than_both_rules_of_thumb(vehicles, seed):
    problem = generated(vehicles, weeks=80, seed=seed)

    found = solve(problem, seconds=1)

    assert broken_rules(problem, found.starts) == []
    for grouped in (False, True):
        assert found.order <= earliest_due(problem, grouped=grouped).order


def test_it_stops_within_a_second_of_being_told_to():
    asked = []

    def stop():
        asked.append(time.monotonic())
        return len(asked) > 2

    found = solve(generated(30), seconds=60, should_stop=stop)

    assert time.monotonic() - asked[2] < 1
    assert broken_rules(generated(30), found.starts) == []


def test_it_tells_what_it_has_and_never_anything_worse_than_before():
    told = []

    solve(generated(20), seconds=2, on_progress=told.append)

    orders = [tuple(level.value for level in p.levels) for p in told]
    assert len(told) >= 3
    assert orders == sorted(orders, reverse=True)
    assert [p.seconds for p in told] == sorted(p.seconds for p in told)


def test_without_any_work_there_is_an_empty_programme():
    problem = replace(generated(3), jobs=())

    assert solve(problem, seconds=1).starts == {}
