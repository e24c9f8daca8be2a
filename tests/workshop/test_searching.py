"""A search runs in a process of its own, tells how far it is, and leaves its best."""

import json
import time
from dataclasses import replace
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from fleet.records.clock import now
from fleet.workshop.engine.checker import broken_rules
from fleet.workshop.loading import problem as load
from fleet.workshop.models import ProgrammeRun
from fleet.workshop.running import (
    ask_run,
    found_by,
    problem_of,
    standing,
    start_search,
    stop_search,
)
from fleet.workshop.searching import NOT_LOOKED, search
from fleet.workshop.vocabulary import RunState
from tests.workshop.shop import WEEKS, open_shop, searched, start


def waiting(seconds=60):
    return ask_run(
        by=None, title="Winter", start=start(), weeks=WEEKS, seconds=seconds, rate=0.05
    )


def again(run):
    return ProgrammeRun.objects.get(pk=run.pk)


@pytest.mark.django_db(transaction=True)
def test_what_is_found_is_written_with_the_problem_it_answers():
    open_shop()

    run = searched()

    assert run.state == RunState.DONE
    assert broken_rules(problem_of(run), found_by(run).starts) == []
    assert len(found_by(run).visits) == 2
    assert [name for name, _, _ in run.progress[-1]["levels"]] == [
        "shortfall",
        "late",
        "effort",
        "moves",
    ]


@pytest.mark.django_db(transaction=True)
def test_a_search_with_nothing_to_plan_from_fails_and_says_what_to_do():
    run = searched()

    stands = standing(run, now())
    assert stands.state is RunState.FAILED
    assert "job plan" in stands.words


@pytest.mark.django_db(transaction=True)
def test_what_cannot_be_met_is_said_by_the_name_of_what_runs():
    open_shop(vehicles=1, wanted=3)

    (said,) = searched().conflicts

    assert "Goods asks for 3 vehicles" in said


@pytest.mark.django_db(transaction=True)
def test_units_that_nobody_described_do_not_keep_from_saying_what_cannot_be(
    monkeypatch,
):
    open_shop(vehicles=1, wanted=3)

    def with_a_bare_group(*args, **values):
        problem = load(*args, **values)
        (job,) = problem.jobs
        return replace(problem, jobs=(replace(job, group="BARE"),))

    monkeypatch.setattr("fleet.workshop.searching.load", with_a_bare_group)

    assert any("Goods asks for 3 vehicles" in words for words in searched().conflicts)


@pytest.mark.django_db(transaction=True)
def test_a_look_for_what_cannot_be_that_fails_is_said(monkeypatch):
    open_shop(vehicles=1, wanted=3)

    def fail(*_, **__):
        raise KeyError("BARE")

    monkeypatch.setattr("fleet.workshop.searching.conflicts", fail)

    assert searched().conflicts == [NOT_LOOKED]


@pytest.mark.django_db(transaction=True)
def test_a_search_is_carried_out_once():
    open_shop()
    run = searched()

    assert search(run) is False
    with pytest.raises(CommandError, match="begun before"):
        call_command("programme", run=run.pk)


@pytest.mark.django_db(transaction=True)
def test_a_search_that_fell_silent_is_shown_as_failed():
    run = waiting()
    ProgrammeRun.objects.filter(pk=run.pk).update(
        state=RunState.RUNNING, heard_at=now() - timedelta(seconds=31)
    )

    stands = standing(again(run), now())

    assert stands.state is RunState.FAILED
    assert "Ask for it again" in stands.words


@pytest.mark.django_db(transaction=True)
def test_a_search_heard_of_lately_goes_on():
    run = waiting()
    ProgrammeRun.objects.filter(pk=run.pk).update(
        state=RunState.RUNNING, heard_at=now() - timedelta(seconds=29)
    )

    assert standing(again(run), now()).going


@pytest.mark.django_db(transaction=True)
def test_a_search_started_from_a_page_runs_by_itself_and_stops_when_told(monkeypatch):
    open_shop(vehicles=12, wanted=12)
    monkeypatch.setenv("DATABASE_URL", address())
    run = waiting(seconds=600)

    start_search(run)
    wait_until(lambda: again(run).progress)
    stop_search(run)
    asked_at = time.monotonic()
    # One that has proved its programme to be the best ends by itself before it is told.
    wait_until(lambda: again(run).state in {RunState.STOPPED, RunState.DONE})

    assert time.monotonic() - asked_at < 15  # seconds; about two on an idle machine
    assert found_by(again(run)).visits


def address():
    """The database of the test, as another process is told of it."""
    known = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{known['NAME']}"
    who = f"{known['USER']}:{known['PASSWORD']}".rstrip(":")
    return f"postgres://{who}@{known['HOST']}:{known['PORT'] or 5432}/{known['NAME']}"


def wait_until(happened, seconds=90):
    ends = time.monotonic() + seconds
    while not happened():
        assert time.monotonic() < ends, "it never happened"
        time.sleep(0.1)


@pytest.mark.django_db(transaction=True)
def test_the_command_prints_the_programme_for_other_programs():
    vehicles = open_shop()
    out = StringIO()

    call_command("programme", months=6, seconds=1, json=True, stdout=out)

    said = json.loads(out.getvalue())
    jobs = {job["job"] for visit in said["programme"] for job in visit["jobs"]}
    assert jobs == {f"AIR/{vehicle.pk}" for vehicle in vehicles}
    assert said["visits"] == 2
    assert said["late_days"] == 0
    assert set(said) >= {"shortfall", "late_days", "wasted_lives", "visits", "levels"}
    assert {"value", "bound", "gap"} <= set(said["levels"][0])


@pytest.mark.django_db(transaction=True)
def test_the_command_prints_the_programme_for_people():
    open_shop(vehicles=1)
    out = StringIO()

    call_command("programme", months=6, seconds=1, stdout=out)

    assert "Days late: 0" in out.getvalue()
    assert "It is a plan" in out.getvalue()
    assert "Air test: due" in out.getvalue()


@pytest.mark.django_db(transaction=True)
def test_the_command_says_what_is_lacking_and_ends_with_its_own_status():
    with pytest.raises(CommandError, match="No job plan") as refused:
        call_command("programme", months=6, seconds=1)

    assert refused.value.returncode == 3
