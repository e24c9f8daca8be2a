"""A draft of the policy tried on the fleet: whose status and dates it would change."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.fitness.models import DueDate, StatusSpan
from fleet.people.access import person_of
from fleet.records.models import Entry
from fleet.upkeep.drafting import approve_draft, begin_draft, write_draft
from fleet.upkeep.vocabulary import PolicyKind
from fleet.web import policy_views
from fleet.web.policy_dry_run import dry_run
from tests.web.reading import main, rows, words
from tests.web.scenes import coach, day, make_practice, standing_at_today

pytestmark = pytest.mark.django_db

TAKES_EFFECT = day("2026-06-01")


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


@pytest.fixture
def draft(planner):
    """`draft(**changes)`: the air brake test once a year, drafted otherwise."""
    make_practice()
    person = person_of(planner)

    def write(*, withdraws=False, **changes):
        begun = begin_draft(
            person=person,
            kind=PolicyKind.REQUIREMENT,
            code="annual",
            withdraws=withdraws,
        )
        return write_draft(
            person=person,
            draft=begun,
            content=begun.content | changes,
            reason="Tried",
            effective_from=TAKES_EFFECT,
        )

    return write


def shown(client, user, draft):
    """The page of the dry run."""
    client.force_login(user)
    return client.get(reverse("web:policy-dry-run", args=[draft.pk]))


def test_it_says_whose_status_changes_from_when_and_which_dates_move(
    client, planner, draft
):
    coach("T 101", tested="2025-07-20")  # due 20 Jul 2026; at nine months 20 Apr
    coach("T 102", tested="2026-03-05")  # due 5 Mar 2027; at nine months 5 Dec 2026

    answer = shown(client, planner, draft(months=9))
    found = rows(main(answer))

    levels = [row for row in found if "As it would be" in row]
    dates = [row for row in found if "Would be due" in row]
    assert [(row["Vehicle"], row["From"]) for row in levels] == [
        ("T 101", "1 Jun 2026"),
        ("T 102", "6 Dec 2026"),
    ]
    assert levels[0]["As it is"].startswith("Fit to run braked")
    assert levels[0]["As it would be"].startswith("Convey as piped")
    assert [(row["Due now"], row["Would be due"]) for row in dates] == [
        ("20 Jul 2026", "20 Apr 2026"),
        ("5 Mar 2027", "5 Dec 2026"),
    ]
    said = words(answer)
    assert "2 of 2" in said
    assert "1 on the day itself, 0 within ninety days of it, 1 later" in said
    assert "2: 2 earlier, 0 later, 0 that come or go" in said


def test_what_it_foretells_is_what_comes_when_it_is_approved(manager, draft):
    vehicles = [coach(f"T {n}", tested=f"2025-{n:02}-20") for n in (6, 7, 8)]
    written = draft(months=9)
    foretold = dry_run(written, TAKES_EFFECT)

    approve_draft(by=manager, person=person_of(manager), draft=written)

    assert {d.vehicle: d.now for d in foretold.dates} == {
        due.vehicle_id: due.due_on for due in DueDate.objects.all()
    }
    for change in foretold.levels:
        span = StatusSpan.objects.on(change.since).get(
            vehicle=change.vehicle, system=change.system
        )
        assert span.level == change.now.level
    assert foretold.touched == len(vehicles)


def test_withdrawn_its_dates_go_and_what_was_overdue_is_fit_again(draft):
    coach("T 101", tested="2025-04-20")  # overdue since 21 Apr 2026
    coach("T 102", tested="2025-07-20")  # due 20 Jul 2026

    found = dry_run(draft(withdraws=True), TAKES_EFFECT)

    assert [(row.number, row.since, row.better) for row in found.levels] == [
        ("T 101", TAKES_EFFECT, True),
        ("T 102", day("2026-07-21"), True),
    ]
    (gone,) = found.dates
    assert (gone.number, gone.now, found.other_dates) == ("T 102", None, 1)


def test_a_draft_that_changes_nothing_says_so(client, planner, draft):
    coach("T 101")

    said = words(shown(client, planner, draft(clears="Carry out the test.")))

    assert "No brake status would change" in said
    assert "No due date would move" in said


def test_it_writes_nothing(client, planner, draft):
    coach("T 101", tested="2025-07-20")
    written = draft(months=9)
    person_of(planner)
    before = Entry.objects.count(), list(StatusSpan.objects.values_list("pk"))

    shown(client, planner, written)

    assert (Entry.objects.count(), list(StatusSpan.objects.values_list("pk"))) == before


def test_a_line_of_the_matrix_and_the_conditions_are_tried_too(planner):
    make_practice()
    coach("T 101")
    begun = begin_draft(person=person_of(planner), kind=PolicyKind.CONDITIONS, code="")
    mild = begun.content | {"usage_silent_days": 1}
    write_draft(person=person_of(planner), draft=begun, content=mild)

    assert dry_run(begun, TAKES_EFFECT).vehicles == 1


def test_it_asks_as_often_for_few_vehicles_as_for_many(client, planner, draft):
    coach("T 101", tested="2025-07-20")
    written = draft(months=9)
    counts = []
    for number in range(2):
        shown(client, planner, written)
        with CaptureQueriesContext(connection) as queries:
            shown(client, planner, written)
        counts.append(len(queries))
        if not number:
            for n in range(3):
                coach(f"T 20{n}", tested="2025-08-20")

    assert counts[0] == counts[1]


def test_it_is_for_those_who_plan(client, fitter, draft):
    assert shown(client, fitter, draft(months=9)).status_code == 403


def test_a_fleet_too_large_for_a_page_is_left_to_the_command(
    client, planner, draft, monkeypatch
):
    coach("T 101", tested="2025-07-20")
    written = draft(months=9)
    monkeypatch.setattr(policy_views, "AT_ONCE", 0)

    assert f"manage.py policy_dry_run {written.pk}" in words(
        shown(client, planner, written)
    )

    said = StringIO()
    call_command("policy_dry_run", written.pk, stdout=said)
    assert "1 of 1 vehicles touched, 1 brake systems, 1 due dates." in said.getvalue()
    assert "T 101  annual, vehicle: 20 Jul 2026 -> 20 Apr 2026" in said.getvalue()


def test_the_command_refuses_a_draft_there_is_not(db):
    with pytest.raises(CommandError, match="no such draft"):
        call_command("policy_dry_run", 404)
