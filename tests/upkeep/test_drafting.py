"""The policy on screen: drafted by one, looked through and approved by another."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.people.access import person_of
from fleet.records.clock import today
from fleet.records.refusing import codes_of
from fleet.upkeep.drafting import approve_draft, begin_draft, begin_new, write_draft
from fleet.upkeep.drafts import changes_in
from fleet.upkeep.models import (
    ConcessionPolicy,
    ConditionsRevision,
    MatrixRevision,
    PolicyDraft,
    Requirement,
    RequirementRevision,
)
from fleet.upkeep.vocabulary import PolicyKind
from tests.upkeep.factories import (
    make_concession_policy,
    make_conditions,
    make_matrix_line,
    make_requirement,
)
from tests.web.reading import links, main, words

pytestmark = pytest.mark.django_db

DAY = dt.timedelta(days=1)


def tomorrow():
    """The earliest day anything can take effect."""
    return today() + DAY


def drafted(person, *, kind=PolicyKind.REQUIREMENT, code="annual", **changes):
    """A draft of the next revision with some values changed."""
    draft = begin_draft(person=person, kind=kind, code=code)
    return write_draft(
        person=person,
        draft=draft,
        content=draft.content | changes,
        reason="Two failures in the tenth month",
        effective_from=tomorrow(),
    )


def address(name, *args):
    """The address of a page of the policy."""
    return reverse(f"upkeep:{name}", args=args)


def sent(client, user, draft, **changes):
    """What the page of a draft answers when its form is sent with some values changed."""
    client.force_login(user)
    page = client.get(address("draft", draft.pk))
    form = page.context["form"]
    values = {}
    for name in form.fields:
        value = form[name].value()
        values[name] = "" if value is None else getattr(value, "pk", value)
    values["seen"] = page.context["draft"].changed_at.isoformat()
    return client.post(address("draft", draft.pk), values | changes, follow=True)


def approved(client, user, draft):
    """What the page answers when a draft is approved."""
    client.force_login(user)
    seen = PolicyDraft.objects.get(pk=draft.pk).changed_at.isoformat()
    return client.post(address("draft-approve", draft.pk), {"seen": seen}, follow=True)


def test_the_story_of_a_revision_from_draft_to_approval(client, planner, manager):
    requirement = make_requirement(code="annual", months=12)
    client.force_login(planner)
    client.post(address("draft-add", "requirement", "annual"))
    draft = PolicyDraft.objects.get()

    page = sent(
        client,
        planner,
        draft,
        months=9,
        because="Two failures in the tenth month",
        effective_from=tomorrow(),
    )
    assert "Months: was 12, now 9" in words(page)
    assert requirement.revisions.count() == 1

    shown = approved(client, manager, draft)

    revision = requirement.revisions.latest("number")
    assert (revision.number, revision.months) == (2, 9)
    assert revision.effective_from == tomorrow()
    assert revision.approved_by == person_of(manager)
    assert f"drafted by {person_of(planner)}, approved by {person_of(manager)}" in (
        words(shown)
    )
    assert not PolicyDraft.objects.exists()


def test_whoever_wrote_in_it_cannot_approve_it(client, manager):
    make_requirement(code="annual")
    draft = drafted(person_of(manager), months=9)

    answer = approved(client, manager, draft)

    assert "Somebody else looks it through" in words(answer)
    assert RequirementRevision.objects.count() == 1


def test_only_a_manager_approves_and_only_planners_draft(client, planner, fitter):
    make_requirement(code="annual")
    draft = drafted(person_of(planner), months=9)

    client.force_login(planner)
    assert client.get(address("draft-approve", draft.pk)).status_code == 403
    client.force_login(fitter)
    for name in ("draft-discard",):
        assert client.get(address(name, draft.pk)).status_code == 403
    page = client.get(address("draft", draft.pk))
    assert "Keep the draft" not in words(page)


@pytest.mark.parametrize(
    ("values", "code"),
    [
        pytest.param({"effective_from": None}, "no_day", id="no day"),
        pytest.param({"effective_from": today}, "too_soon", id="today"),
        pytest.param({"reason": " "}, "no_reason", id="no reason"),
    ],
)
def test_a_draft_that_says_too_little_is_not_approved(planner, manager, values, code):
    make_requirement(code="annual")
    draft = drafted(person_of(planner), months=9)
    values = {k: v() if callable(v) else v for k, v in values.items()}
    said = {"reason": draft.reason, "effective_from": tomorrow()} | values
    write_draft(person=person_of(planner), draft=draft, content=draft.content, **said)

    with pytest.raises(ValidationError) as caught:
        approve_draft(by=manager, person=person_of(manager), draft=draft)

    assert code in codes_of(caught.value)
    assert RequirementRevision.objects.count() == 1


def test_a_draft_changed_meanwhile_is_looked_at_again(planner, manager):
    make_requirement(code="annual")
    read = drafted(person_of(planner), months=9)
    drafted(person_of(planner), months=6)

    with pytest.raises(ValidationError) as caught:
        approve_draft(by=manager, person=person_of(manager), draft=read)

    assert "changed_meanwhile" in codes_of(caught.value)


def test_what_is_wrong_stands_beside_its_field_and_is_not_kept(client, planner):
    make_requirement(code="annual", months=12)
    draft = drafted(person_of(planner))

    answer = sent(client, planner, draft, months="")

    assert "Give months, days, days in service or miles." in words(answer)
    assert PolicyDraft.objects.get().content["months"] == 12


def test_one_goes_back_by_another_revision(client, planner, manager):
    requirement = make_requirement(code="annual", months=12)
    approved(client, manager, drafted(person_of(planner), months=9))
    client.force_login(planner)
    page = client.get(address("part", "requirement", "annual") + "?revision=1")
    said = dict(links(main(page)))
    back = said["Draft a revision that goes back to this one"]

    client.post(back)
    draft = PolicyDraft.objects.get()
    assert "Months: was 9, now 12" in changes_in(draft).weakened
    write_draft(
        person=person_of(planner),
        draft=draft,
        content=draft.content,
        reason=f"{draft.reason} it was too often",
        effective_from=tomorrow() + DAY,
    )
    approved(client, manager, draft)

    months = requirement.revisions.order_by("number").values_list("months", flat=True)
    assert list(months) == [12, 9, 12]


def test_a_requirement_that_is_new_is_drafted_and_approved_too(
    client, planner, manager
):
    make_requirement(code="annual")
    client.force_login(planner)
    client.post(address("new", "requirement"), {"code": "R-41"})
    draft = PolicyDraft.objects.get()
    like = begin_draft(
        person=person_of(planner), kind=PolicyKind.REQUIREMENT, code="annual"
    )
    write_draft(
        person=person_of(planner),
        draft=draft,
        content=like.content | {"title": "Air dryer examination"},
        effective_from=tomorrow(),
    )

    approved(client, manager, draft)

    made = Requirement.objects.get(code="R-41").revisions.get()
    assert (made.title, made.effective_from) == ("Air dryer examination", tomorrow())


def test_a_code_in_use_is_refused(client, planner):
    make_requirement(code="annual")
    client.force_login(planner)

    answer = client.post(address("new", "requirement"), {"code": "annual"})

    assert "in use" in words(answer)


def test_a_withdrawal_is_drafted_and_approved(client, planner, manager):
    requirement = make_requirement(code="annual")
    client.force_login(planner)
    client.post(address("draft-add", "requirement", "annual") + "?withdraw=1")
    draft = PolicyDraft.objects.get()
    sent(
        client,
        planner,
        draft,
        because="Covered by another",
        effective_from=tomorrow(),
    )

    approved(client, manager, draft)

    held = requirement.revisions.current().get()
    assert held.withdrawn_from == tomorrow()
    assert "Withdrawn from" in words(
        client.get(address("part", "requirement", "annual"))
    )


def test_a_line_of_the_matrix_is_revised_on_screen(client, planner, manager):
    line = make_matrix_line(code="after-dv")
    draft = drafted(
        person_of(planner), kind=PolicyKind.MATRIX, code="after-dv", effect="stop"
    )
    page = sent(
        client, planner, draft, procedures=[p.pk for p in _asked(line)], effect="stop"
    )
    assert "Until then: was Not counted as braked, now Not to run" in words(page)

    approved(client, manager, draft)

    revision = MatrixRevision.objects.latest("number")
    assert (revision.effect, revision.tests.count()) == ("stop", 1)


def _asked(line):
    return [test.procedure for test in line.revisions.get().tests.all()]


def test_the_general_conditions_are_revised_on_screen(client, planner, manager):
    make_conditions()
    draft = drafted(
        person_of(planner),
        kind=PolicyKind.CONDITIONS,
        code="",
        storage_days_needing_tests=30,
    )

    shown = approved(client, manager, draft)

    newest = ConditionsRevision.objects.latest("number")
    assert (newest.number, newest.storage_days_needing_tests) == (2, 30)
    assert newest.approved_by == person_of(manager)
    assert "General conditions" in words(shown)


def test_the_policy_on_concessions_is_revised_on_screen(client, planner, manager):
    make_concession_policy()
    draft = begin_draft(person=person_of(planner), kind=PolicyKind.CONCESSIONS)
    page = sent(
        client,
        planner,
        draft,
        ceiling_days=30,
        never_scopes=["brake_pipe", "vehicle"],
        because="Too many were at their end",
        effective_from=tomorrow(),
    )
    shown = words(page)
    assert "Hold at most beyond the last good day, days: was 60, now 30" in shown
    assert "was brake pipe, now brake pipe, vehicle" in shown
    assert "Nothing is taken out or weakened" in shown

    approved(client, manager, draft)

    newest = ConcessionPolicy.objects.latest("number")
    assert (newest.number, newest.ceiling_days) == (2, 30)
    assert newest.never_scopes == ["brake_pipe", "vehicle"]
    assert newest.approved_by == person_of(manager)


@pytest.mark.parametrize(
    ("was", "now", "weaker"),
    [
        pytest.param({"months": 12}, {"months": 18}, True, id="longer period"),
        pytest.param({"months": 12}, {"months": 9}, False, id="shorter period"),
        pytest.param(
            {"months": 12, "miles": 50}, {"miles": None}, True, id="limit gone"
        ),
        pytest.param({}, {"tolerance_days": 14}, True, id="more tolerance"),
        pytest.param({}, {"effect": "advise"}, True, id="milder effect"),
        pytest.param({}, {"effect": "stop"}, False, id="graver effect"),
        pytest.param({}, {"storage_credit_days": 30}, True, id="stands still"),
    ],
)
def test_what_asks_less_than_before_is_told_apart(planner, was, now, weaker):
    make_requirement(code="annual", **was)

    changes = changes_in(drafted(person_of(planner), **now))

    assert bool(changes.weakened) is weaker
    assert bool(changes.tightened) is not weaker


def test_a_draft_thrown_away_leaves_everything_as_it_was(client, planner):
    make_requirement(code="annual")
    draft = drafted(person_of(planner), months=9)
    client.force_login(planner)

    client.post(address("draft-discard", draft.pk))

    assert not PolicyDraft.objects.exists()
    assert RequirementRevision.objects.get().months == 12


@pytest.mark.parametrize(
    "path", ["policy/nothing/annual/", "policy/requirement/none/", "policy/new/x/"]
)
def test_an_address_that_names_nothing_is_not_found(client, planner, path):
    client.force_login(planner)

    assert client.get(f"/{path}").status_code == 404


def test_the_policy_page_is_there_with_nothing_on_it(client, train_crew):
    client.force_login(train_crew)

    shown = words(client.get(address("policy")))

    assert "No requirement is defined" in shown
    assert "No draft is open" in shown


def test_the_policy_page_takes_the_same_queries_however_much_there_is(client, planner):
    def asked(number):
        make_requirement(code=f"r-{number}")
        make_matrix_line(code=f"m-{number}")
        begin_new(
            person=person_of(planner),
            kind=PolicyKind.REQUIREMENT,
            code=f"n-{number}",
            content={},
        )
        client.force_login(planner)
        with CaptureQueriesContext(connection) as queries:
            client.get(address("policy"))
        return len(queries)

    first = asked(1)
    asked(2)

    assert asked(3) == first
