"""What a programme promises is what the rules say once its work is recorded on its dates."""

import datetime as dt
from dataclasses import replace

import pytest

from fleet.fitness.gather import vehicle_files
from fleet.fitness.practice import practice_known
from fleet.records.clock import today
from fleet.register.vocabulary import System
from fleet.workshop.diary import pool_of, pools_of
from fleet.workshop.engine.absence import line_of
from fleet.workshop.engine.rules import earliest_due
from fleet.workshop.engine.score import fit_vehicles
from fleet.workshop.if_done import stays_found
from fleet.workshop.loading import problem
from fleet.workshop.playing import played_spans
from fleet.workshop.running import first_monday
from fleet.workshop.unfit import unbraked_weeks, unfit_weeks
from tests.web.demo import loaded_for_a_module
from tests.workshop.kept import make_line

pytestmark = pytest.mark.django_db
WEEKS = 104  # long enough for yearly work to come round again


@pytest.fixture(scope="module")
def demo(django_db_setup, django_db_blocker):
    """The demo, with a line of the diary for each system in every week of two years."""
    with loaded_for_a_module(django_db_blocker):
        start = first_monday(today())
        last = start + dt.timedelta(weeks=WEEKS)
        lines = {
            pool_of(
                make_line(
                    title=f"All {system}",
                    first=start,
                    last=last,
                    system=system,
                    vehicles=40,
                )
            ): system
            for system in System
        }
        yield start, lines


def promised(start, lines, answers, programme):
    """Vehicle, system and week in which the programme counts it, of those it may count."""
    able = pools_of(start, WEEKS)
    fit = {
        (line_of(n.pool), n.week): keys
        for n, keys in fit_vehicles(answers, programme.starts).items()
    }
    return {
        (key, system, week): key in fit[line, week]
        for line, system in lines.items()
        for week in range(WEEKS)
        for key, pools in able.items()
        if line in pools.get(system, ())
    }


def by_the_rules(start, answers, programme):
    """Vehicle, system and weeks in which the rules have it unbraked, all work recorded."""
    policy = practice_known(None).policy
    stays = stays_found(answers, programme)
    keys = [int(v.key) for v in answers.vehicles]
    return {
        (str(file.id), system): weeks
        for file in vehicle_files(keys)
        for system, weeks in unbraked_weeks(
            played_spans(file, policy, stays.get(file.id, ()), start), start, WEEKS
        ).items()
    }


@pytest.mark.parametrize("grouped", [False, True], ids=["plain", "grouped"])
def test_the_rules_give_the_status_that_the_programme_promised(demo, grouped):
    """
    Week by week and vehicle by vehicle: braked on every day, or not.

    Where the records stop a vehicle for a reason that no planned work takes away, the
    programme does not count it, whatever the work recorded may do for it besides.
    """
    start, lines = demo
    answers = problem(start, WEEKS, 0.05, on=start)
    programme = earliest_due(answers, grouped=grouped)
    other = unfit_weeks(start, WEEKS, [v.key for v in answers.vehicles])
    unbraked = by_the_rules(start, answers, programme)

    said = promised(start, lines, answers, programme)

    stopped = {who for who in said if who[2] in other.get(who[:2], ())}
    assert not any(said[who] for who in stopped)
    decided = {who: fit for who, fit in said.items() if who not in stopped}
    assert decided == {who: who[2] not in unbraked.get(who[:2], ()) for who in decided}
    assert sum(decided.values()) > 1_000  # it is about something
    assert sum(not fit for fit in decided.values()) > 300


def test_a_promise_that_is_not_kept_is_seen(demo):
    start, lines = demo
    answers = problem(start, WEEKS, 0.05, on=start)
    programme = earliest_due(answers, grouped=True)
    holding = {job.key for job in answers.jobs if job.holds}
    undone = {t: w for t, w in programme.starts.items() if t[0] not in holding}
    unbraked = by_the_rules(
        start, answers, replace(programme, starts=undone, visits=())
    )

    said = promised(start, lines, answers, programme)

    assert any(fit and who[2] in unbraked.get(who[:2], ()) for who, fit in said.items())
