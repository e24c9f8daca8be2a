"""On the demo, the jobs of a programme hold what the stored spans take away."""

import datetime as dt
from collections import Counter, defaultdict

import pytest

from fleet.fitness.status import spans_for
from fleet.records.clock import today
from fleet.register.vocabulary import Level
from fleet.workshop.falling import braked_systems, shop_on
from tests.web.demo import loaded_for_a_module


@pytest.fixture(scope="module", autouse=True)
def _demo(django_db_blocker):
    with loaded_for_a_module(django_db_blocker):
        yield


def level(spans, system, on):
    """The level of a system at the close of a day; None: no span."""
    found = [s.level for s in spans if s.system is system and s.holds_on(on)]
    return found[0] if found else None


def ending_together():
    """What is good to the same day on the same vehicle, from today on."""
    found = defaultdict(list)
    for falling in shop_on(today()).falling:
        if falling.good_to is not None and falling.good_to >= today():
            found[falling.vehicle, falling.good_to].append(falling)
    return found.items()


def test_each_overrun_to_come_takes_from_the_spans_what_its_jobs_hold(db):
    compared, alone = Counter(), 0
    for (vehicle, last), group in ending_together():
        after = last + dt.timedelta(days=1)
        spans = spans_for(vehicle.vehicle_id, last, after)
        holds = frozenset().union(*(falling.holds for falling in group))
        for system in braked_systems(vehicle):
            if level(spans, system, last) < Level.CONDITIONAL:
                continue  # something else keeps it from counting already
            lost = level(spans, system, after) < Level.CONDITIONAL
            assert lost == (system in holds), (vehicle.number, last, system)
            compared[lost] += 1
            alone += lost and len(group) == 1
    assert compared[True] > 20
    assert compared[False]  # few: most lose their level to the first thing due
    assert alone > 5
