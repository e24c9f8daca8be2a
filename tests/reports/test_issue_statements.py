"""The command `issue_statements`: what it issues, tries, refuses, and how it ends."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from fleet.fitness.models import Statement, StatementRun
from fleet.people.access import person_of
from fleet.records.models import Channel
from fleet.reports.season import begin, choice
from tests.web.scenes import TODAY, cracked_hanger, fleet, standing_at_today

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


def run(*arguments):
    """What the command printed."""
    printed = StringIO()
    call_command("issue_statements", *arguments, stdout=printed, stderr=StringIO())
    return printed.getvalue()


def refused(*arguments):
    """What the command says where it refuses."""
    with pytest.raises(CommandError) as error:
        run(*arguments)
    return str(error.value)


def test_vehicles_named_by_number_get_a_statement_each_signed_by_the_account(manager):
    fleet(3)
    said = run("t 101", "T 103", "--by", "manager")
    assert "T 101: 2026-0001" in said
    assert "T 103: 2026-0002" in said
    assert "2 issued, 0 refused" in said
    for statement in Statement.objects.all():
        version = statement.versions.get()
        assert version.by == person_of(manager)
        assert version.opened_by.channel == Channel.COMMAND


def test_a_set_is_chosen_as_on_the_page_and_the_json_names_who_was_refused(manager):
    vehicles = fleet(2)
    cracked_hanger(vehicles[0])
    printed = StringIO()
    with pytest.raises(CommandError, match=r"1 of 2 were refused\."):
        call_command(
            "issue_statements",
            "T 101",
            "T 102",
            "--by=manager",
            "--json",
            stdout=printed,
        )
    listed = json.loads(printed.getvalue())
    assert listed["vehicles"] == [
        {
            "number": "T 101",
            "statement": "",
            "refused": "Not to run. Defect: Brake hanger cracked",
        },
        {"number": "T 102", "statement": "2026-0001", "refused": ""},
    ]
    assert "1 issued" in run("--by", "manager", "--system", "air")  # the other one only


def test_a_dry_run_says_what_would_be_and_writes_nothing(manager):
    vehicles = fleet(2)
    cracked_hanger(vehicles[0])
    said = run("T 101", "T 102", "--by", "manager", "--dry-run")
    assert "T 101: Not to run" in said
    assert "T 102: would be issued" in said
    assert not StatementRun.objects.exists()
    assert not Statement.objects.exists()


def test_a_run_begun_on_the_page_is_taken_up(manager):
    vehicles = fleet(2)
    left = begin(
        choice(TODAY, "braked"),
        [vehicle.pk for vehicle in vehicles],
        by=manager,
        person=person_of(manager),
    )
    assert "2 issued" in run("--run", str(left.pk), "--by", "manager")
    assert StatementRun.objects.count() == 1


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--by", "nobody"], "--by nobody: there is no such account"),
        (["--by", "fitter"], "issued by a manager or administrator only"),
        (["T 999", "--by", "manager"], "no vehicle numbered T 999"),
        (["--by", "manager", "--depot", "Nowhere"], "no such depot. There are:"),
        (["--by", "manager", "--type", "nothing"], "no such type. There are:"),
        (["--by", "manager", "--on", "2026-05-09"], "choose today or a day to come"),
        (["--by", "manager", "--on", "2026-05"], "give one day"),
        (["--by", "manager", "--system", "vacuum"], "Widen what is asked"),
        (["--by", "manager", "--run", "77"], "There is no run 77"),
    ],
)
def test_what_makes_no_sense_is_refused_in_a_sentence(people, arguments, sentence):
    fleet(1)
    assert sentence in refused(*arguments)
    assert not StatementRun.objects.exists()
