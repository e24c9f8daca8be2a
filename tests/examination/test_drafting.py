"""Drafting a revision, and its approval by a second person: services and pages."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment
from fleet.examination.drafting import (
    approve_draft,
    begin_procedure,
    begin_revision,
    move_line,
    remove_line,
    write_head,
    write_line,
)
from fleet.examination.drafts import lines_in, read_draft
from fleet.examination.models import Procedure, ProcedureDraft, ProcedureRevision
from fleet.examination.services import revise_procedure
from fleet.examination.vocabulary import LineKind, Stage, TestSubject
from fleet.people.access import person_of
from fleet.people.models import Skill
from fleet.people.services import grant_competence
from fleet.records.clock import today
from fleet.records.refusing import codes_of
from tests.examination.factories import (
    air_test_lines,
    make_bench_test,
    make_person,
    make_procedure,
    measured,
    question,
)

pytestmark = pytest.mark.django_db

TOMORROW = today() + dt.timedelta(days=1)
WRITERS = {"planner", "manager", "administrator"}
APPROVERS = {"manager", "administrator"}


def begun(person=None, **head):
    """A draft of the next revision of the air test, ready for approval."""
    person = person or make_person()
    draft = begin_revision(person=person, procedure=make_procedure())
    values = {"effective_from": TOMORROW, "reason": "", "title": "Air brake test"}
    return write_head(person=person, draft=draft, **values | head)


def refused(draft, person=None):
    """The codes an approval is refused with; nothing comes into force."""
    before = ProcedureRevision.objects.count()
    with pytest.raises(ValidationError) as caught:
        approve_draft(by=None, person=person or make_person(), draft=draft)
    assert ProcedureRevision.objects.count() == before
    assert ProcedureDraft.objects.filter(pk=draft.pk).exists()
    return codes_of(caught.value)


def test_a_draft_begins_with_the_lines_of_the_newest_revision_and_changes_nothing():
    draft = begin_revision(person=make_person(), procedure=make_procedure())

    assert [line["text"] for line in lines_in(draft)] == [
        line["text"] for line in air_test_lines()
    ]
    assert not read_draft(draft).changes
    assert ProcedureRevision.objects.count() == 1


def test_a_draft_that_is_begun_is_gone_on_with():
    procedure = make_procedure()
    first = begin_revision(person=make_person(), procedure=procedure)

    assert begin_revision(person=make_person(), procedure=procedure) == first


def test_lines_are_written_added_moved_and_taken_out():
    person, draft = make_person(), begun()

    write_line(person=person, draft=draft, values=question("Blocks clear", "Clear"))
    move_line(person=person, draft=draft, number=5, by=-1)
    remove_line(person=person, draft=draft, number=1)
    changed = air_test_lines()[1] | {"high": "25"}
    write_line(person=person, draft=draft, values=changed, number=1)

    changes = read_draft(draft).changes
    assert [line["text"] for line in lines_in(draft)][-2:] == [
        "Blocks clear",
        "Piston stroke, cylinder 1",
    ]
    assert changes.removed == ("Brake pipe leakage (at most 0.2 bar/min)",)
    assert changes.weakened == ("Release time: limit was 15 to 20 s, now 15 to 25 s",)
    assert changes.added == ("Blocks clear (Clear)",)


def test_at_the_edge_a_line_stays_where_it_is():
    draft = begun()
    before = lines_in(draft)

    move_line(person=make_person(), draft=draft, number=1, by=-1)
    move_line(person=make_person(), draft=draft, number=4, by=1)

    assert lines_in(draft) == before


def test_a_line_that_is_wrong_by_itself_is_refused():
    draft = begun()

    with pytest.raises(ValidationError) as caught:
        write_line(
            person=make_person(),
            draft=draft,
            values=measured("Time", "time", "bar", 1),
            number=2,
        )

    assert "bar is not a unit" in caught.value.messages[0]
    assert lines_in(ProcedureDraft.objects.get())[1]["text"] == "Release time"


def test_lines_that_do_not_go_together_are_told_and_keep_it_from_approval():
    draft = begun()
    left = measured("Stroke", "length", "mm", 85, 130, stage=Stage.AS_LEFT)
    write_line(person=make_person(), draft=draft, values=left)

    assert "put the same line, as found, before it" in read_draft(draft).problems[0]
    assert refused(draft) == {"line"}


def test_an_approved_draft_is_the_next_revision_signed_by_both():
    drafter, approver = make_person("Mirelle"), make_person("Anders")
    draft = begun(drafter, title="Air brake test, yearly")

    revision = approve_draft(by=None, person=approver, draft=draft)

    assert (revision.number, revision.title) == (2, "Air brake test, yearly")
    assert (revision.drafted_by, revision.approved_by) == (drafter, approver)
    assert revision.effective_from == TOMORROW
    assert revision.lines.count() == 4
    assert not ProcedureDraft.objects.exists()


def test_whoever_wrote_in_a_draft_does_not_approve_it():
    drafter, other = make_person(), make_person()
    draft = begun(drafter)
    move_line(person=other, draft=draft, number=2, by=1)

    assert refused(draft, drafter) == {"same_person"}
    assert refused(draft, other) == {"same_person"}


def test_where_competences_are_kept_the_approver_needs_one():
    holder, other = make_person(), make_person()
    draft = begun()
    grant_competence(
        by=None,
        person=holder,
        skill=Skill.APPROVE,
        since=Moment.on(today()),
        assessed_by="The board",
    )

    assert refused(draft, other) == {"not_competent"}
    assert approve_draft(by=None, person=holder, draft=draft).number == 2


@pytest.mark.parametrize("day", [None, today(), today() - dt.timedelta(days=9)])
def test_it_holds_from_tomorrow_at_the_earliest(day):
    assert refused(begun(effective_from=day)) == {"too_soon" if day else "no_day"}


def test_what_asks_less_owes_a_reason_and_what_asks_more_does_not():
    draft = begun()
    remove_line(person=make_person(), draft=draft, number=1)
    assert refused(draft) == {"no_reason"}

    write_head(
        person=make_person(), draft=draft, effective_from=TOMORROW, reason="Done twice"
    )
    revision = approve_draft(by=None, person=make_person(), draft=draft)

    assert revision.reason == "Done twice"


def test_a_draft_changed_since_it_was_read_is_not_approved():
    seen = begun()
    write_head(
        person=make_person(),
        draft=ProcedureDraft.objects.get(),
        effective_from=TOMORROW,
        title="Something else",
    )

    assert refused(seen) == {"changed_meanwhile"}


def test_a_new_procedure_is_drafted_and_approved_too():
    drafter = make_person()
    draft = begin_procedure(
        person=drafter,
        code="hose-exam",
        title="Hose examination",
        subject=TestSubject.EQUIPMENT,
        kind="bp_hose",
        source="operator's own",
    )
    assert refused(draft) == {"no_day"}
    write_head(person=drafter, draft=draft, effective_from=TOMORROW)
    assert refused(draft) == {"no_lines"}
    write_line(person=drafter, draft=draft, values=question("Sound", "Sound"))

    revision = approve_draft(by=None, person=make_person(), draft=draft)

    assert revision.procedure.code == "hose-exam"
    assert (revision.kind, revision.number) == ("bp_hose", 1)


@pytest.mark.parametrize("code", ["svt-air", "drafts", "new", "without-criterion"])
def test_a_code_in_use_is_refused(code):
    make_procedure()

    with pytest.raises(ValidationError) as caught:
        begin_procedure(
            person=make_person(),
            code=code,
            title="Twice",
            subject=TestSubject.VEHICLE,
            source="operator's own",
        )

    assert codes_of(caught.value) == {"code_taken"}


# -- pages ------------------------------------------------------------------------------


def seen(draft):
    """What a page sends along to show which state of a draft it was read in."""
    return {"seen": ProcedureDraft.objects.get(pk=draft.pk).changed_at.isoformat()}


def line_sent(**changes):
    """What a browser sends for a line."""
    sent = {
        "text": "Blocks clear",
        "kind": LineKind.QUESTION,
        "criterion": "Clear",
        "scope": "shared_gear",
        "effect_failed": "stop",
        "required": "on",
        "source": "Common practice",
    }
    return sent | changes


@pytest.fixture
def page(client, planner):
    """A planner's browser."""
    client.force_login(planner)
    return client


def test_everyone_may_look_some_may_write_and_fewer_approve(client, people):
    draft = begun()
    make_bench_test()
    at = f"/procedures/drafts/{draft.pk}/"
    doors = {
        "look": ["/procedures/drafts/", at, "/procedures/without-criterion/"],
        "write": [
            f"{at}lines/1/",
            f"{at}lines/add/",
            f"{at}discard/",
            "/procedures/new/",
            "/procedures/bench-dv/draft/",
        ],
        "approve": [f"{at}approve/"],
    }

    for role, user in people.items():
        client.force_login(user)
        got = {
            what: {client.get(door).status_code for door in addresses}
            for what, addresses in doors.items()
        }
        assert got == {
            "look": {200},
            "write": {200 if role in WRITERS else 403},
            "approve": {200 if role in APPROVERS else 403},
        }, role


def test_train_crew_sending_a_draft_changes_nothing(client, train_crew):
    draft = begun()
    client.force_login(train_crew)
    at = f"/procedures/drafts/{draft.pk}/"

    sent = seen(draft) | {"title": "Other", "source": "x"}
    client.post(at, sent)
    assert client.post(f"{at}lines/1/remove/", seen(draft)).status_code == 403

    held = ProcedureDraft.objects.get()
    assert held.content["title"] == "Air brake test"
    assert len(lines_in(held)) == 4


def test_a_revision_goes_from_page_to_page_into_force(client, planner, manager):
    make_procedure()
    client.force_login(planner)
    at = client.post("/procedures/svt-air/draft/").url
    draft = ProcedureDraft.objects.get()
    client.post(f"{at}lines/1/remove/", seen(draft))
    client.post(f"{at}lines/add/", seen(draft) | line_sent())
    client.post(
        at,
        seen(draft)
        | {
            "title": "Air test",
            "source": "WVR 2",
            "effective_from": TOMORROW.isoformat(),
            "reason": "Leakage is measured by the pipe test",
            "scopes": ["air_brake"],
            "cautions": ["movement"],
        },
    )
    own = client.get(at).content.decode()
    assert "somebody else approves it" in own
    assert "Look through and approve" not in own

    client.force_login(manager)
    shown = client.get(f"{at}approve/").content.decode()
    assert "<del>Brake pipe leakage (at most 0.2 bar/min)</del>" in shown
    assert "Leakage is measured by the pipe test" in shown
    done = client.post(f"{at}approve/", seen(draft), follow=True)

    text = done.content.decode()
    revision = Procedure.objects.get().revisions.get(number=2)
    assert revision.drafted_by == person_of(planner)
    assert revision.approved_by == person_of(manager)
    assert [line.text for line in revision.lines.all()][-1] == "Blocks clear"
    assert "<del>Brake pipe leakage (at most 0.2 bar/min)</del>" in text
    assert "No longer there, bears on: brake pipe" in text


def test_a_refused_approval_says_why_on_the_page(client, manager):
    draft = begun(effective_from=None)
    client.force_login(manager)

    answer = client.post(f"/procedures/drafts/{draft.pk}/approve/", seen(draft))

    assert "Say from which day it holds." in answer.content.decode()


def test_a_choice_is_written_one_word_to_a_line(page):
    draft = begun()
    at = f"/procedures/drafts/{draft.pk}/lines/"
    sent = line_sent(
        kind=LineKind.CHOICE,
        good="Works\n Stiff but works \n",
        bad="Seized",
        criterion="",
    )

    page.post(f"{at}add/", seen(draft) | sent)

    kept = lines_in(ProcedureDraft.objects.get())[-1]
    assert kept["choices"] == [
        ["Works", True],
        ["Stiff but works", True],
        ["Seized", False],
    ]
    form = page.get(f"{at}5/").context["form"]
    assert form["good"].value() == "Works\nStiff but works"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"text": ""}, "This field is required."),
        ({"kind": "measured"}, "no quantity"),
        ({"kind": "choice", "good": "Works"}, "one that is not"),
        (
            {"kind": "measured", "quantity": "time", "unit": "bar", "low": "1"},
            "bar is not a unit",
        ),
        ({"kind": "measured", "quantity": "time", "unit": "s", "low": "x"}, "number"),
    ],
)
def test_a_wrong_line_is_said_on_its_page_and_loses_nothing(page, changes, said):
    draft = begun()
    sent = line_sent(**changes)

    answer = page.post(
        f"/procedures/drafts/{draft.pk}/lines/1/", seen(draft) | sent
    ).content.decode()

    assert said in answer
    assert "Common practice" in answer
    assert lines_in(ProcedureDraft.objects.get())[0]["text"] == "Brake pipe leakage"


def test_what_was_read_before_somebody_else_wrote_is_not_kept(page):
    draft = begun()
    stale = seen(draft)
    remove_line(person=make_person(), draft=draft, number=1)

    answer = page.post(
        f"/procedures/drafts/{draft.pk}/lines/1/remove/", stale, follow=True
    )

    assert "Somebody else changed the draft meanwhile" in answer.content.decode()
    assert len(lines_in(ProcedureDraft.objects.get())) == 3


def test_a_draft_is_thrown_away(page):
    draft = begun()

    page.post(f"/procedures/drafts/{draft.pk}/discard/")

    assert not ProcedureDraft.objects.exists()
    assert Procedure.objects.get().revisions.count() == 1


def test_a_code_in_use_is_said_at_its_field(page):
    make_procedure()
    sent = {"code": "svt-air", "title": "x", "subject": "vehicle", "source": "y"}

    form = page.post("/procedures/new/", sent).context["form"]

    assert "in use" in form.errors["code"][0]


@pytest.mark.parametrize("many", [1, 6])
def test_lists_and_a_draft_cost_the_same_for_few_and_many(
    page, planner, django_assert_num_queries, many
):
    person_of(planner)
    for number in range(many):
        procedure = make_procedure(
            f"svt-{number}", lines=[question(f"Sound {n}") for n in range(many)]
        )
        draft = begin_revision(person=make_person(), procedure=procedure)

    with django_assert_num_queries(5):  # session, account, rights 2, drafts
        page.get("/procedures/drafts/")
    with django_assert_num_queries(3):  # session, account, lines
        page.get("/procedures/without-criterion/")
    with django_assert_num_queries(9):
        page.get(f"/procedures/drafts/{draft.pk}/")


def test_the_report_names_every_line_in_force_without_a_criterion(page):
    make_procedure(
        lines=[
            question("Asked without a criterion"),
            question("Asked with one", "Sound"),
            measured("Measured without limits", "time", "s"),
            measured("Measured with one", "time", "s", 1),
            measured("Stroke", "length", "mm", stage=Stage.AS_FOUND),
            measured("Stroke", "length", "mm", 85, stage=Stage.AS_LEFT),
            question(
                "Chosen", kind=LineKind.CHOICE, choices=[["A", True], ["B", False]]
            ),
        ]
    )

    lines = page.get("/procedures/without-criterion/").context["lines"]

    assert [line.text for line in lines] == [
        "Asked without a criterion",
        "Measured without limits",
    ]
    (row,) = page.get("/procedures/").context["table"].rows
    assert row.record.without_criterion == 2


def test_any_two_revisions_are_held_against_each_other(page):
    procedure = make_procedure()
    for step in (1, 2):
        revise_procedure(
            by=None,
            procedure=procedure,
            title="Single-vehicle air brake test",
            source="operator's own",
            effective_from=today() + dt.timedelta(days=step),
            lines=air_test_lines()[step:],
            reason="shorter",
        )

    near = page.get("/procedures/svt-air/?revision=3").context["changes"]
    far = page.get("/procedures/svt-air/?revision=3&against=1").context["changes"]

    assert (len(near.removed), len(far.removed)) == (1, 2)
    assert page.get("/procedures/svt-air/?against=7").status_code == 404
