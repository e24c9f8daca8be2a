"""The starter procedures, and what the demo makes of them."""

import datetime as dt

import pytest
from django.db import transaction

from fleet.config.demo.fleetbook import PRACTICE
from fleet.config.demo.load import load_demo
from fleet.examination.asking import asked_of
from fleet.examination.criteria import lines_without_criterion
from fleet.examination.judging import judge, outcome
from fleet.examination.models import (
    Procedure,
    ProcedureDraft,
    ProcedureLine,
    ProcedureRevision,
    Reading,
    TestRecord,
)
from fleet.examination.staging import answers
from fleet.examination.vocabulary import Answer, LineKind, Repeat, Stage
from fleet.people.models import User
from fleet.records.clock import today
from fleet.upkeep.practice import load_practice

STARTER = {
    "svt-air",
    "svt-vac",
    "hose-exam",
    "aux-reservoir-exam",
    "distributor-bench",
    "timing-settings",
    "handbrake",
    "passenger-comm",
    "gauge-calibration",
    "return-traffic",
    "annual-air",
    "annual-vac",
}


@pytest.mark.django_db
def test_the_starter_procedures_ask_by_every_kind_of_line_with_criterion_and_source():
    load_practice(PRACTICE, by=None)

    assert set(Procedure.objects.values_list("code", flat=True)) >= STARTER
    lines = ProcedureLine.objects.all()
    assert set(lines.values_list("kind", flat=True)) >= {
        LineKind.QUESTION,
        LineKind.MEASURED,
        LineKind.CHOICE,
    }
    assert set(lines.values_list("repeat", flat=True)) == set(Repeat)
    assert set(lines.values_list("stage", flat=True)) == set(Stage)
    assert lines.filter(quantity="time").exists()
    assert not lines.filter(source="").exists()
    assert not lines_without_criterion(today()).exists()


@pytest.fixture(scope="module")
def demo(django_db_setup, django_db_blocker):
    """Some vehicles of the demo, loaded once, and taken back afterwards."""
    with django_db_blocker.unblock(), transaction.atomic():
        load_demo(count=20, today=today(), progress=lambda done: None)
        yield
        transaction.set_rollback(True)


def test_what_the_demo_writes_is_what_its_readings_come_to(demo):
    records = TestRecord.objects.select_related("procedure_revision", "vehicle")
    wrong = []
    for record in records.prefetch_related("readings__line"):
        asked = asked_of(record.procedure_revision, record.vehicle, record.on)
        keys = {(one.line.pk, one.position): one.key for one in asked}
        held = {keys[r.line_id, r.position]: r for r in record.readings.all()}
        if outcome(answers(asked, held)).passed != record.passed:
            wrong.append(str(record))

    assert records.count() > 500
    assert wrong == []


def test_what_the_demo_measured_is_judged_as_it_is_written(demo):
    measured = Reading.objects.filter(value__isnull=False).select_related("line")
    adjusted = measured.filter(answer=Answer.RECORDED)

    assert {
        judge(r.value, r.unit, r.line.limits).answer
        for r in measured.exclude(answer=Answer.RECORDED)[:3000]
    } == {Answer.MET}
    assert {judge(r.value, r.unit, r.line.limits).answer for r in adjusted} == {
        Answer.NOT_MET
    }
    assert {r.line.stage for r in adjusted} == {Stage.AS_FOUND}


def test_strokes_alarms_and_choices_stand_in_the_demo(demo):
    held = Reading.objects.filter(line__revision__procedure__code="svt-air")

    strokes = held.filter(line__repeat=Repeat.CYLINDER)
    assert set(strokes.values_list("position", flat=True)) == {"cyl-1", "cyl-2"}
    handles = Reading.objects.filter(line__repeat=Repeat.HANDLE)
    assert set(handles.values_list("position", flat=True)) == {"alarm", "alarm-2"}
    assert Reading.objects.exclude(choice="").exists()


def test_a_revision_to_come_takes_a_line_out_and_a_draft_waits(demo, client):
    coming = ProcedureRevision.objects.get(number=2)
    assert coming.effective_from == today() + dt.timedelta(days=14)
    assert coming.drafted_by != coming.approved_by
    client.force_login(User.objects.get(username="manager"))

    page = client.get("/procedures/annual-air/?revision=2").content.decode()
    waiting = client.get(f"/procedures/drafts/{ProcedureDraft.objects.get().pk}/")

    assert (
        "<del>Maximum cylinder pressure, full application (3.5 to 3.9 bar)</del>"
        in (page)
    )
    assert "limit was at most 20, now at most 24" in waiting.content.decode()
    assert "Look through and approve" in waiting.content.decode()
