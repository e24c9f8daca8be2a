"""Traces of a test: read from a file or typed in, and what the lines take from them."""

import io
import math
import uuid

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile

from fleet.engineering.trace_heads import Columns
from fleet.examination.models import TestRecord, Trace
from fleet.examination.services import correct_test, record_test
from fleet.examination.trace_forms import NOT_OURS
from fleet.examination.traces import (
    LARGEST_BYTES,
    read_file,
    read_points,
    sealed,
    taken_by,
    trace_sheet,
    unsealed,
)
from fleet.examination.vocabulary import Answer, Found, LineKind
from fleet.ui.trace_drawing import trace_words
from tests.engineering.synthetic import Test, logged
from tests.examination.factories import (
    TESTED,
    make_person,
    make_procedure,
    measured,
    question,
)
from tests.register.factories import make_vehicle

STEP_S = 0.1


def trace_lines():
    """A test whose times, maximum and leak are read from a trace; the limits are made up."""
    return [
        question("Trace of the cylinder") | {"kind": LineKind.TRACE, "required": False},
        measured("Filling", "time", "s", "3", "5", finds=Found.FILL_TIME),
        measured("Maximum", "pressure", "bar", "3.7", "3.9", finds=Found.MAXIMUM),
        measured("Release", "time", "s", "15", "20", finds=Found.RELEASE_TIME),
        measured("Leak", "pressure_rate", "bar/min", None, "0.1", finds=Found.LEAKAGE),
        question("Released by the cord", "Releases"),
    ]


def traced_procedure():
    """The procedure of those lines."""
    return make_procedure("traced", title="Traced test", lines=trace_lines())


def csv_of(truth, head="time (s),cylinder (bar)", scale=1.0):
    """What a logger writes of a test whose true times are known."""
    trace = logged(truth, step_s=STEP_S, noise=0.003)
    rows = [
        f"{t:.3f},{v * scale:.4f}"
        for t, v in zip(trace.times_s, trace.values, strict=True)
    ]
    return "\n".join([head, *rows, ""]).encode()


def read(data, **columns):
    """A file of those bytes, read."""
    return read_file(io.BytesIO(data), "log.csv", Columns(**columns))


def test_the_found_values_are_those_the_trace_was_made_with():
    truth = Test(leak_per_min=0.06)
    values = read(csv_of(truth)).found["values"]
    assert float(values[Found.FILL_TIME]["value"]) == pytest.approx(4.0, abs=2 * STEP_S)
    assert float(values[Found.MAXIMUM]["value"]) == pytest.approx(3.8, abs=0.02)
    true_release = truth.released_s(0.4) - truth.release_s
    assert float(values[Found.RELEASE_TIME]["value"]) == pytest.approx(
        true_release, abs=2 * STEP_S
    )
    assert float(values["leakage rate"]["value"]) == pytest.approx(0.06, abs=0.01)


def test_a_trace_in_psi_gives_its_maximum_in_psi_and_is_released_at_0_4_bar():
    # 1 bar = 14.5037738 psi (NIST SP 811, appendix B.8)
    truth = Test()
    head = "time (s),cylinder (psi)"
    found = read(csv_of(truth, head, 14.5037738)).found["values"]
    assert found[Found.MAXIMUM]["unit"] == "psi"
    assert float(found[Found.MAXIMUM]["value"]) == pytest.approx(55.1, abs=0.3)
    release = truth.released_s(0.4) - truth.release_s
    assert float(found[Found.RELEASE_TIME]["value"]) == pytest.approx(release, abs=0.2)


@pytest.mark.django_db
def test_a_line_sets_the_point_at_which_its_time_is_read():
    lines = trace_lines()
    lines[1] |= {"reads_at": "80"}
    lines[3] |= {"reads_at": "1.0"}
    asked = make_procedure("set", lines=lines).revisions.get().lines.all()
    truth = Test()
    trace = read_file(io.BytesIO(csv_of(truth)), "log.csv", Columns(), asked)
    values = trace.found["values"]
    release = truth.released_s(1.0) - truth.release_s
    assert float(values[Found.RELEASE_TIME]["value"]) == pytest.approx(release, abs=0.2)
    # The synthetic cylinder fills exponentially: 95 % at three time constants.
    fill = 4.0 * math.log(1 - 0.80) / math.log(1 - 0.95)
    assert float(values[Found.FILL_TIME]["value"]) == pytest.approx(fill, abs=0.2)
    assert "released at 1 bar" in trace_words(trace_sheet(trace, asked))


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("number", "at", "words"),
    [
        (1, "100", "under 100 %"),
        (2, "3", "Only a time to fill, to release"),
        (3, "0", "above zero"),
    ],
    ids=["not a share", "not a time", "no pressure"],
)
def test_a_point_that_no_time_can_be_read_at_is_refused(number, at, words):
    lines = trace_lines()
    lines[number] |= {"reads_at": at}
    with pytest.raises(ValidationError, match=words):
        make_procedure("wrong", lines=lines)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"time (s),p (bar)\n0,1.0\n1,1.0\n2,1.0\n3,1.0\n", "no application"),
        (b"time (s),p (bar)\n3,1\n2,2\n1,3\n0,4\n", "backwards"),
        (b"time (s),p (bar)\n0,0\n1,1\ntime (s),p (psi)\n2,20\n3,30\n", "psi"),
        (b"time (s),pressure\n0,0\n1,1\n2,2\n3,3\n", "unit of the pressure"),
        (b"a letter to the signalman\n", "figures"),
    ],
    ids=["empty", "flat", "reversed", "two units", "no unit", "no figures"],
)
def test_a_file_that_is_no_trace_is_refused_with_a_sentence(data, words):
    with pytest.raises(ValueError, match=words):
        read(data)


def test_a_file_above_the_limit_is_refused_before_it_is_read():
    class Large(io.BytesIO):
        def seek(self, *args):
            super().seek(*args)
            return LARGEST_BYTES + 1

        def read(self, *args):
            raise AssertionError("read")

    with pytest.raises(ValueError, match="64 MB"):
        read_file(Large(), "log.csv", Columns())


def test_points_typed_in_are_read_as_a_trace():
    text = "0 0\n1 0\n2 1.9\n3 3.0\n4 3.6\n6 3.8\n20 3.8\n21 3.8\n30 2\n40 0.3\n50 0"
    trace = read_points(text, "bar")
    assert trace.count == 11
    assert float(trace.found["values"][Found.MAXIMUM]["value"]) == pytest.approx(3.8)
    with pytest.raises(ValueError, match="Point 2"):
        read_points("0 0\none two\n3 3", "bar")


def test_a_hold_too_short_tells_no_loss_in_five_minutes_and_says_so():
    short = read(csv_of(Test(release_s=25.0)))
    long = read(csv_of(Test(release_s=80.0, leak_per_min=0.06)))
    assert "leakage loss" not in short.found["values"]
    assert any("too short" in note for note in short.found["notes"])
    loss = float(long.found["values"]["leakage loss"]["value"])
    assert loss == pytest.approx(0.3, abs=0.05)


def test_what_a_page_carries_cannot_be_changed_on_the_way():
    trace = read(csv_of(Test()))
    assert unsealed(sealed(trace)) == trace
    assert unsealed(sealed(trace)[:-3] + "abc") is None


@pytest.mark.django_db
def test_a_test_is_recorded_with_its_trace_and_the_values_from_it():
    procedure, vehicle = traced_procedure(), make_vehicle()
    lines = list(procedure.revisions.get().lines.all())
    trace = read(csv_of(Test()))
    rows = [{"line": 1, "trace": trace}, *taken_by(lines, trace)]
    rows.append({"line": 6, "answer": Answer.MET})
    record = record_test(
        by=None, procedure=procedure, vehicle=vehicle, on=TESTED,
        done_by=make_person(), readings=rows,
    )  # fmt: skip
    kept = Trace.objects.get(record=record)
    assert (kept.count, kept.digest, kept.unit) == (trace.count, trace.digest, "bar")
    assert len(kept.drawn) <= 600
    answers = {r.line.order: r.answer for r in record.readings.all()}
    assert answers[1] == Answer.RECORDED
    assert answers[2] == Answer.MET  # filled in 4 s
    release = record.readings.get(line__order=4)
    assert release.note.startswith("From the trace, within ")


@pytest.mark.django_db
def test_a_trace_on_a_line_that_asks_none_is_refused():
    procedure = traced_procedure()
    with pytest.raises(Exception, match="asks no trace"):
        record_test(
            by=None, procedure=procedure, vehicle=make_vehicle(), on=TESTED,
            done_by=make_person(),
            readings=[{"line": 6, "trace": read(csv_of(Test()))}],
        )  # fmt: skip
    assert not TestRecord.objects.exists()


@pytest.mark.django_db
def test_a_procedure_asks_for_one_trace_only_and_not_of_each_cylinder():
    lines = trace_lines()
    second = lines[0] | {"text": "Another"}
    with pytest.raises(Exception, match="one trace"):
        make_procedure("two", lines=[*lines, second])
    with pytest.raises(Exception, match="asked once"):
        make_procedure("each", lines=[lines[0] | {"repeat": "cylinder"}])


def sheet(procedure, vehicle, **changes):
    """What a browser sends before anything is typed, some of it changed."""
    sent = {
        "submission": str(uuid.uuid4()),
        "revision": procedure.revisions.get().pk,
        "on_day": "2026-03-05",
        "on_time": "14:30",
        "done_by": make_person().pk,
        "line_1_trace-held": "",
        "line_6_answer": "met",
        "line_6_note": "Both sides",
    } | changes
    return f"/tests/add/?vehicle={vehicle.pk}&procedure={procedure.code}", sent


def upload(data):
    """A file as a browser sends it."""
    return SimpleUploadedFile("log.csv", data, content_type="text/csv")


@pytest.mark.django_db
def test_reading_a_trace_fills_the_form_keeps_what_was_typed_and_records_nothing(
    client, fitter
):
    client.force_login(fitter)
    procedure, vehicle = traced_procedure(), make_vehicle()
    address, sent = sheet(procedure, vehicle, read_trace="line_1")
    sent["line_1_trace-file"] = upload(csv_of(Test()))
    response = client.post(address, sent)
    assert response.status_code == 200
    assert not TestRecord.objects.exists()
    form = response.context["form"]
    assert not form.mistakes()
    assert float(form["line_2_value"].value()) == pytest.approx(4.0, abs=0.2)
    assert form["line_6_note"].value() == "Both sides"
    body = response.content.decode()
    assert 'class="trace"' in body
    assert "maximum at most 3.9 bar" in body
    assert "released at 0.4 bar" in body


@pytest.mark.django_db
def test_what_was_read_is_recorded_by_the_next_sending_and_shown_on_the_page(
    client, fitter
):
    client.force_login(fitter)
    procedure, vehicle = traced_procedure(), make_vehicle()
    data = csv_of(Test())
    address, sent = sheet(procedure, vehicle, read_trace="line_1")
    form = client.post(address, sent | {"line_1_trace-file": upload(data)}).context[
        "form"
    ]
    again = {name: form[name].value() or "" for name in form.fields if "line_" in name}
    del sent["read_trace"]
    again["line_1_trace-held"] = form.traces["line_1"]["held"].value()
    response = client.post(address, sent | again, follow=True)
    assert "form" not in response.context, response.context["form"].mistakes()
    record = TestRecord.objects.get()
    assert record.traces.get().count == 1000
    assert "1 000 samples" in response.content.decode()
    # corrected, the trace goes on
    correct_test(
        by=None, record=record, reason="Cord not tried", readings=[
            {"line": 1, "trace": unsealed(again["line_1_trace-held"])},
        ],
    )  # fmt: skip
    assert Trace.objects.count() == 2


@pytest.mark.django_db
def test_a_file_sent_with_the_whole_sheet_is_read_and_shown_first(client, fitter):
    client.force_login(fitter)
    address, sent = sheet(traced_procedure(), make_vehicle())
    sent["line_1_trace-file"] = upload(csv_of(Test()))
    assert client.post(address, sent).status_code == 200
    assert not TestRecord.objects.exists()


@pytest.mark.django_db
def test_a_file_that_cannot_be_read_is_told_beside_it(client, fitter):
    client.force_login(fitter)
    address, sent = sheet(traced_procedure(), make_vehicle(), read_trace="line_1")
    sent["line_1_trace-file"] = upload(b"time (s),p (bar)\n3,1\n2,2\n1,3\n0,4\n")
    body = client.post(address, sent).content.decode()
    assert "Time runs backwards" in body
    assert "Both sides" in body


@pytest.mark.django_db
def test_what_was_not_read_by_this_register_is_not_recorded(client, fitter):
    client.force_login(fitter)
    address, sent = sheet(traced_procedure(), make_vehicle())
    sent |= {"line_1_trace-held": "made up"}
    response = client.post(address, sent)
    assert NOT_OURS in response.content.decode()
    assert not TestRecord.objects.exists()


@pytest.mark.django_db
def test_correcting_a_test_keeps_its_trace(client, fitter):
    client.force_login(fitter)
    procedure, vehicle = traced_procedure(), make_vehicle()
    trace = read(csv_of(Test()))
    lines = list(procedure.revisions.get().lines.all())
    record = record_test(
        by=None, procedure=procedure, vehicle=vehicle, on=TESTED,
        done_by=make_person(),
        readings=[{"line": 1, "trace": trace}, *taken_by(lines, trace),
                  {"line": 6, "answer": Answer.MET}],
    )  # fmt: skip
    response = client.get(f"/tests/{record.test_id}/correct/")
    form = response.context["form"]
    assert unsealed(form.traces["line_1"]["held"].value()) == trace


@pytest.mark.django_db(transaction=True)
def test_a_browser_uploads_a_trace_and_sees_it_before_and_after_recording(
    page_at, fitter, tmp_path
):
    procedure, vehicle = traced_procedure(), make_vehicle()
    file = tmp_path / "cylinder.csv"
    file.write_bytes(csv_of(Test(leak_per_min=0.06)))
    page = page_at(390, fitter)
    page.goto(f"/tests/add/?vehicle={vehicle.pk}&procedure={procedure.code}")
    page.fill("[name=on_day]", "2026-03-05")
    page.set_input_files("[name=line_1_trace-file]", str(file))
    page.check("[name=line_6_answer][value=met]")
    page.click("text=Read the trace")
    assert page.locator("svg.trace:visible").count() == 1
    assert page.input_value("[name=line_2_value]") != ""
    assert page.is_checked("[name=line_6_answer][value=met]")
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= 390
    page.click("text=Record the test")
    assert page.locator("svg.trace:visible").count() == 1
    assert TestRecord.objects.get().traces.count() == 1


def pipe_lines():
    """What is read from the trace of a train pipe; the limits are made up."""
    return [
        question("Trace of the train pipe") | {"kind": LineKind.TRACE},
        measured("Falls to 4 bar", "time", "s", None, "3", finds=Found.FALL_TIME)
        | {"reads_at": "4"},
        measured("Reduction", "pressure", "bar", "1.4", "1.6", finds=Found.REDUCTION),
        measured("Back to 4.75 bar", "time", "s", None, "2", finds=Found.RISE_TIME)
        | {"reads_at": "4.75"},
    ]


def pipe_points():
    """A pipe read every half second: from 5 to 3.5 bar in 3 s, and back as fast."""

    def value(t):
        if t < 10:
            return 5.0
        return max(5 - 0.5 * (t - 10), 3.5) if t < 25 else min(3.5 + 0.5 * (t - 25), 5)

    return "\n".join(f"{at / 2} {value(at / 2):.3f}" for at in range(80))


@pytest.mark.django_db
def test_the_trace_of_a_train_pipe_gives_its_fall_and_its_recharge():
    asked = list(make_procedure("pipe", lines=pipe_lines()).revisions.get().lines.all())
    trace = read_points(pipe_points(), "bar", asked)
    taken = {row["line"].finds: row["value"] for row in taken_by(asked, trace)}

    # 1.5 bar in 3 s: 2 s down to 4 bar, and 2.5 s from 3.5 back to 4.75 bar.
    assert float(taken[Found.FALL_TIME]) == pytest.approx(2.0, abs=0.05)
    assert float(taken[Found.REDUCTION]) == pytest.approx(1.5, abs=0.01)
    assert float(taken[Found.RISE_TIME]) == pytest.approx(2.5, abs=0.05)
    told = trace_words(trace_sheet(trace, asked))
    assert "fallen to 4 bar" in told
    assert "back at 4.75 bar" in told


@pytest.mark.django_db
def test_the_level_of_a_pressure_is_not_looked_for_in_a_vacuum():
    asked = list(make_procedure("pipe", lines=pipe_lines()).revisions.get().lines.all())
    with pytest.raises(
        ValueError, match="Line 4 reads a pressure, and the trace is of"
    ):
        read_points("0 21\n5 21\n10 0\n20 0\n30 21\n40 21", "inHg", asked)


@pytest.mark.django_db
def test_the_page_of_a_procedure_says_what_is_taken_from_the_trace_and_where(
    client, train_crew
):
    client.force_login(train_crew)
    make_procedure("pipe", lines=pipe_lines())
    page = client.get("/procedures/pipe/").content.decode()
    assert "taken from the trace at 4.75 bar" in page


@pytest.mark.django_db
def test_cylinder_and_train_pipe_are_not_read_off_one_trace():
    with pytest.raises(ValidationError, match="of a cylinder or of a train pipe"):
        make_procedure("both", lines=[*trace_lines(), *pipe_lines()[1:]])


@pytest.mark.django_db
def test_a_time_of_the_train_pipe_needs_its_level():
    lines = pipe_lines()
    lines[1].pop("reads_at")
    with pytest.raises(ValidationError, match="Say the level of the train pipe"):
        make_procedure("no-level", lines=lines)


def test_a_recording_of_two_applications_says_so_and_reads_the_one_chosen():
    points = "0 0\n5 0\n9 2\n20 2\n24 0\n40 0\n44 3.8\n60 3.8\n80 0\n90 0"
    strongest, first = read_points(points, "bar"), read_points(points, "bar", (), 1)

    assert float(strongest.found["values"][Found.MAXIMUM]["value"]) == 3.8
    assert float(first.found["values"][Found.MAXIMUM]["value"]) == 2
    assert any("Number 1 counts" in note for note in first.found["notes"])


def test_the_steps_of_a_graduated_application_are_told():
    points = "0 0\n5 0\n6 1\n15 1\n16 2\n25 2\n27 3.8\n60 3.8\n80 0\n90 0"
    steps = read_points(points, "bar").found["steps"]

    assert [step.split(",")[0] for step in steps] == [
        "Step 1: 1.00 bar",
        "Step 2: 2.00 bar",
        "Step 3: 3.80 bar",
    ]
