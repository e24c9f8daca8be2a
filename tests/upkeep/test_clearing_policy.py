"""The policy for clearing on screen: drafted, tried, approved, and in force by date."""

import datetime as dt
from io import StringIO

import pytest
import time_machine
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.defects import services
from fleet.defects.clearing import clearing_on
from fleet.defects.models import ClearingPolicy
from fleet.people.access import person_of
from fleet.records.clock import today
from fleet.register.vocabulary import Effect, Scope
from fleet.upkeep.drafting import approve_draft, begin_draft, write_draft
from fleet.upkeep.drafts import changes_in
from fleet.upkeep.models import PolicyDraft
from fleet.upkeep.vocabulary import PolicyKind
from tests.defects.factories import at, make_defect, make_policy, person
from tests.register.factories import make_fitting, make_vehicle
from tests.upkeep.test_drafting import address, approved, sent, tomorrow
from tests.web.reading import main, rows, words

pytestmark = pytest.mark.django_db

DAY = dt.date(2026, 5, 4)
CLEARING = PolicyKind.CLEARING


@pytest.fixture(autouse=True)
def _today():
    with time_machine.travel(dt.datetime(2026, 5, 10, 12, tzinfo=dt.UTC), tick=False):
        yield


def drafted(user, **changes):
    """A draft of the next revision, from tomorrow on."""
    author = person_of(user)
    draft = begin_draft(person=author, kind=CLEARING, code="")
    return write_draft(
        person=author,
        draft=draft,
        content=draft.content | changes,
        reason="Two light jobs went wrong",
        effective_from=tomorrow(),
    )


def tried(client, user, draft):
    """The dry run of a draft."""
    client.force_login(user)
    return client.get(reverse("web:policy-dry-run", args=[draft.pk]))


def test_it_is_drafted_by_one_tried_and_approved_by_another(client, planner, manager):
    make_policy()
    client.force_login(planner)
    assert (
        address("part", CLEARING, "general")
        in client.get(address("policy")).content.decode()
    )
    client.post(address("draft-add", CLEARING, "general"))
    draft = PolicyDraft.objects.get()

    page = words(
        sent(
            client,
            planner,
            draft,
            release_needed_from=Effect.CONDITION,
            recurrence_count=2,
            because="Two light jobs went wrong",
            effective_from=tomorrow(),
        )
    )
    assert "was Brake to be isolated, now Condition" in page
    assert "Assessed at a higher level from this time on: was 3, now 2" in page
    assert "somebody else approves it" in page

    shown = words(approved(client, manager, draft))
    assert "Revision 2" in shown
    assert f"drafted by {person_of(planner)}, approved by {person_of(manager)}" in shown
    assert clearing_on(today()).release_needed_from is Effect.ISOLATE
    assert clearing_on(tomorrow()).release_needed_from is Effect.CONDITION
    assert clearing_on(tomorrow()).independent_scopes == {Scope.SHARED_GEAR}


def test_what_a_draft_asks_less_or_more_is_told_apart(planner):
    make_policy()
    draft = drafted(
        planner,
        release_needed_from=Effect.STOP,
        independent_scopes=[Scope.SHARED_GEAR, Scope.AIR_BRAKE],
        recurrence_days=90,
        cock_repeat_days=400,
        recurrence_count=4,
    )

    told = changes_in(draft)

    assert len(told.weakened) == 3  # release, days, count
    assert len(told.tightened) == 2  # scopes, days between cocks


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        pytest.param(
            {"recurrence_count": 1}, "the second time at the earliest", id="1"
        ),
        pytest.param({"because": ""}, "Say why", id="no reason"),
    ],
)
def test_a_draft_that_cannot_be_is_not_approved(
    client, planner, manager, changes, says
):
    make_policy()
    draft = drafted(planner, recurrence_days=90)
    page = words(sent(client, planner, draft, **changes))

    assert says in page + words(approved(client, manager, draft))
    assert ClearingPolicy.objects.count() == 1 or "recurrence_count" in changes


def test_an_older_revision_is_gone_back_to_by_another(client, planner, manager):
    make_policy()
    written = drafted(planner, recurrence_count=2)
    approve_draft(by=manager, person=person_of(manager), draft=written)

    client.force_login(planner)
    back = address("draft-add", CLEARING, "general") + "?from=1"
    page = words(client.post(back, follow=True))

    assert "was 2, now 3" in page
    assert "Back to revision 1" in page


def test_reports_are_judged_by_the_revision_in_force_when_they_were_made(
    planner, manager
):
    make_policy()
    approve_draft(
        by=manager,
        person=person_of(manager),
        draft=drafted(planner, release_needed_from=Effect.ADVISE),
    )
    light = make_defect(effect=Effect.ADVISE)
    other = make_defect(effect=Effect.ADVISE)

    assert services.work_done(
        by=None, person=person(), defect=light, on=at(9, day=today())
    ).ends
    with time_machine.travel(dt.datetime(2026, 5, 12, 12, tzinfo=dt.UTC)):
        assert not services.work_done(
            by=None, person=person(), defect=other, on=at(9, day=today())
        ).ends


def test_the_dry_run_says_which_open_work_would_end_otherwise(client, planner):
    make_policy()
    make_defect(title="Pipe clip loose", effect=Effect.ADVISE)
    make_defect(title="Slow to release")
    services.start_work(
        by=None, person=person(), vehicle=make_vehicle(), what="Rigging", since=at(9)
    )
    draft = drafted(planner, release_needed_from=Effect.ADVISE, independent_scopes=[])

    answer = tried(client, planner, draft)

    told = {row["Open"]: row for row in rows(main(answer)) if "Open" in row}
    assert set(told) == {"Pipe clip loose", "Rigging"}
    assert told["Pipe clip loose"]["Asked now"] == "Cleared by the work done"
    assert told["Pipe clip loose"]["Would be asked"] == "A signed release"
    assert told["Rigging"]["Asked now"].endswith("who did not do the work")
    assert told["Rigging"]["Would be asked"] == "A signed release"
    assert "No brake status would change" in words(answer)

    said = StringIO()
    call_command("policy_dry_run", draft.pk, stdout=said)
    assert "Pipe clip loose: Cleared by the work done -> A signed release" in (
        said.getvalue()
    )


def test_the_dry_run_counts_what_would_have_come_back(client, planner):
    make_policy()
    wagon = make_vehicle()
    make_fitting(vehicle=wagon, position="distributor")
    for month in (1, 3, 5):
        make_defect(
            vehicle=wagon,
            position="distributor",
            on=at(8, day=DAY.replace(month=month)),
        )

    said = words(tried(client, planner, drafted(planner, recurrence_count=2)))

    assert "1 came back often enough" in said
    assert "by the draft it would have been 2" in said


def test_the_dry_run_asks_as_often_for_many(client, planner):
    make_policy()
    draft = drafted(planner, recurrence_count=2)
    counts = []
    for more in (1, 4):
        for _ in range(more):
            make_defect(effect=Effect.ADVISE)
        tried(client, planner, draft)
        with CaptureQueriesContext(connection) as queries:
            tried(client, planner, draft)
        counts.append(len(queries))

    assert counts[0] == counts[1]
