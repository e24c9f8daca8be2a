"""What a fitness statement says, before anything is drawn."""

import datetime as dt
from dataclasses import replace

import pytest

from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment
from fleet.fitness.examples import DISTRIBUTOR, PRACTICE, SOUND_AIR, particulars
from fleet.fitness.facts import DefectFact, DefectStepFact
from fleet.fitness.findings import Verdict
from fleet.register.vocabulary import (
    Effect,
    Fitment,
    Level,
    MainReservoirPipe,
    Scope,
    System,
)
from fleet.reports.recorded import DefectLine, DueLine, TestLine
from fleet.reports.sheet import DASH, Head, Mark, Printed
from fleet.reports.statement import (
    FindingLine,
    Plate,
    SystemLine,
    arrangement,
    statement_sheet,
)
from fleet.upkeep.due import later
from tests.reports.samples import (
    HOSE_AGED,
    LAST_VEHICLE,
    ON,
    OVERDUE,
    PRINTED,
    bare_file,
    dual_file,
    dual_verdict,
    fit_verdict,
    span,
)


def sheet_of(file, verdict, *, on=ON, **more):
    return statement_sheet(file, verdict, PRACTICE, on=on, printed=PRINTED, **more)


def test_the_head_says_when_it_was_made_and_on_what_records():
    assert sheet_of(SOUND_AIR, fit_verdict()).head == Head(
        "Vehicle fitness statement",
        "T 107",
        "Brake status at the close of 25 Nov 2026",
        "",
        "Generated 25 Nov 2026, 14:02 UTC",
        "Data as of 25 Nov 2026, 14:02 UTC, entry 1234",
        "Shows what was recorded at 25 Nov 2026, 14:02 UTC. It is not permission to "
        "move. The rule book and the person in charge decide. Look at the vehicle: if "
        "it disagrees with this sheet, stop and report.",
    )


def test_the_plate_and_the_particulars_lead_the_sheet():
    plate = Plate("Open saloon, 64 seats", "34.5 t", "Wenlow")

    assert sheet_of(SOUND_AIR, fit_verdict(), plate=plate).particulars == (
        ("Type", "Open saloon, 64 seats"),
        ("Arrangement", "One-pipe air brake"),
        ("Depot", "Wenlow"),
        ("Tare", "34.5 t"),
        ("Handbrake", "Fitted"),
        ("Standing", "In traffic"),
    )


def test_a_fit_vehicle_is_fit_until_the_day_before_the_first_thing_expires():
    assert sheet_of(SOUND_AIR, fit_verdict()).systems == (
        SystemLine(
            "Air brake",
            Mark("braked", "Fit to run braked"),
            "2 Jan 2020",
            "10 Jan 2027",
            "Air brake test falls due",
        ),
        SystemLine("Vacuum brake", Mark("none", "Not fitted"), DASH, DASH, ""),
    )


def test_each_system_has_its_own_level():
    air, vacuum = sheet_of(dual_file(), dual_verdict()).systems

    assert air.mark == Mark("piped", "Convey as piped")
    assert air.until == "As piped: 31 Mar 2027"
    assert air.first == "Brake pipe hose H-0457 reaches its age limit"
    assert vacuum.mark == Mark("conditional", "Fit braked, with conditions")
    assert vacuum.until == "No end recorded"


def test_a_change_between_fit_and_fit_with_conditions_does_not_end_being_fit():
    first, second, third = ON, later(ON, 30), later(ON, 60)
    spans = (
        span(System.AIR, first, second, Level.BRAKED, change="Handbrake due"),
        span(System.AIR, second, third, Level.CONDITIONAL, change="Hose over age"),
        span(System.AIR, third, None, Level.STOPPED, headline="Hose over age"),
    )

    line = sheet_of(SOUND_AIR, Verdict((), spans)).systems[0]

    assert (line.until, line.first) == ("23 Jan 2027", "Hose over age")


def test_an_end_that_rests_on_usage_is_marked_as_a_forecast():
    end = replace(OVERDUE, since=later(ON, 30), forecast=True)
    spans = (
        span(System.AIR, ON, end.since, Level.BRAKED, change=end.text),
        span(System.AIR, end.since, None, Level.PIPED, findings=(end,)),
    )

    sheet = sheet_of(SOUND_AIR, Verdict((end,), spans))

    assert sheet.systems[0].until == "24 Dec 2026 (forecast)"
    assert sheet.coming[0].day == "from 25 Dec 2026 (forecast)"


def test_a_stopped_system_says_since_when_and_why_and_for_which_train():
    spans = (span(System.AIR, ON, None, Level.STOPPED, headline="Hose chafed"),)

    sheet = sheet_of(SOUND_AIR, Verdict((), spans))

    assert sheet.systems[0].mark == Mark("stopped", "Not to run in an air train")
    assert sheet.systems[0].until == DASH
    assert sheet.systems[0].first == "Hose chafed"
    assert sheet.stopped == ""


def test_what_stops_the_vehicle_itself_leads_the_sheet():
    stop = span(
        System.AIR,
        ON,
        None,
        Level.STOPPED,
        headline="Brake hanger cracked",
        whole_vehicle=True,
    )

    sheet = sheet_of(SOUND_AIR, Verdict((), (stop,)))

    assert sheet.stopped == "Brake hanger cracked"
    assert sheet.systems[0].mark.words == "Not to run"


def test_outstanding_findings_come_heaviest_first_with_evidence_and_remedy():
    assert sheet_of(dual_file(), dual_verdict()).outstanding == (
        FindingLine(
            "1",
            "since 3 Nov 2026",
            "Distributor D-2291 is past its overhaul, due 2 Nov 2026",
            "Not counted as braked (air brake)",
            "Exchange the distributor, then a single-vehicle air brake test.",
            "Rule U03 · operator's maintenance policy 4.2 · requirement DIST-96 rev. 3",
        ),
        FindingLine(
            "2",
            "since 2 Oct 2026",
            "Handbrake drags on the No. 2 end",
            "Condition (handbrake): Not as last vehicle until the handbrake is tested "
            "again",
            "Adjust the handbrake and test it.",
            "Rule D01 · common practice",
        ),
    )


def test_findings_of_the_next_twelve_months_come_after_and_later_ones_do_not():
    last = replace(HOSE_AGED, since=dt.date(2027, 11, 25), text="last day")
    beyond = replace(HOSE_AGED, since=dt.date(2027, 11, 26), text="beyond")
    verdict = Verdict((beyond, last, HOSE_AGED, LAST_VEHICLE), ())

    coming = sheet_of(SOUND_AIR, verdict).coming

    assert [line.text for line in coming] == [HOSE_AGED.text, "last day"]


def test_a_finding_for_want_of_a_fact_says_so():
    verdict = Verdict((replace(OVERDUE, missing=True),), ())

    line = sheet_of(SOUND_AIR, verdict).outstanding[0]

    assert line.text == f"A fact is missing: {OVERDUE.text}"


def test_a_condition_names_its_train_unless_it_holds_in_both():
    both, one = "Not as last vehicle", "Air vented, hoses stowed"
    spans = (
        span(System.AIR, ON, None, Level.CONDITIONAL, conditions=(both,)),
        span(System.VACUUM, ON, None, Level.CONDITIONAL, conditions=(both, one)),
    )

    sheet = sheet_of(dual_file(), Verdict((), spans))

    assert sheet.conditions == (both, f"In a vacuum train: {one}")


def test_open_defects_are_listed_and_cleared_ones_are_not():
    assert sheet_of(dual_file(), dual_verdict()).defects == (
        DefectLine(
            "Defect 31",
            "Slow to release",
            "Distributor E3",
            "Raised, 20 Nov 2026",
            "Not yet assessed",
        ),
    )


def test_a_defect_of_an_item_taken_off_stays_with_the_item():
    step = DefectStepFact(Moment.on(ON), Step.ASSESSED, Scope.AIR_BRAKE, Effect.ISOLATE)
    gone = DefectFact(7, "Slow to release", 3, DISTRIBUTOR.code, (step,))
    fitted = tuple(
        replace(f, until=Moment.on(ON)) if f.equipment == 3 else f
        for f in SOUND_AIR.fitted
    )
    file = replace(SOUND_AIR, defects=(gone,), fitted=fitted)

    assert sheet_of(file, fit_verdict()).defects == ()
    assert len(sheet_of(replace(file, fitted=SOUND_AIR.fitted), fit_verdict()).defects)


def test_isolations_and_work_in_hand_are_told_in_sentences():
    assert sheet_of(dual_file(), dual_verdict()).isolations == (
        "Air: whole brake isolated, as recorded from 21 Nov 2026; isolation record "
        "NOT complete.",
        "Work in hand since 22 Nov 2026, no release to traffic: Distributor exchange.",
    )


def test_only_the_last_record_of_each_procedure_is_listed_with_its_result():
    plate = Plate(signed={901: "R. Ashdown"})

    assert sheet_of(dual_file(), dual_verdict(), plate=plate).tests == (
        TestLine(
            "20 Nov 2026",
            "Single-vehicle air brake test",
            "Vehicle",
            "NOT MET: Release time: 28 s, limit 15 to 20 s; 2 lines not answered",
            "R. Ashdown",
        ),
        TestLine(
            "10 Jan 2026",
            "Single-vehicle vacuum brake test",
            "Vehicle",
            "All lines met",
            "",
        ),
        TestLine(
            "2 Nov 2018",
            "Distributor overhaul and bench test",
            "Distributor E3",
            "All lines met",
            "",
        ),
    )


def test_a_test_of_a_later_day_is_no_news_on_this_one():
    before = sheet_of(dual_file(), dual_verdict(), on=dt.date(2026, 11, 19))

    assert before.tests[0].day == "10 Jan 2026"


def test_due_dates_come_unknown_ones_first_with_their_basis():
    assert sheet_of(dual_file(), dual_verdict()).due == (
        DueLine(
            "Not known",
            "",
            "Reservoir examination",
            "Auxiliary reservoir E4",
            "no date is recorded to count from",
        ),
        DueLine(
            "2 Nov 2026",
            "2 Dec 2026",
            "Distributor overhaul",
            "Distributor E3",
            "last done 2 Nov 2018, 8 years",
        ),
    )


def test_what_falls_due_far_ahead_is_counted_and_not_lost():
    far = replace(dual_verdict().due[0], due_on=dt.date(2030, 5, 3))
    near = replace(far, due_on=dt.date(2028, 5, 25))

    sheet = sheet_of(dual_file(), Verdict((), (), (far, near, far)))

    assert [line.day for line in sheet.due] == ["25 May 2028"]
    assert (
        sheet.due_beyond
        == "2 more fall due after 25 May 2028, the first on 3 May 2030."
    )


def test_a_vehicle_with_nothing_recorded_is_not_called_fit():
    sheet = sheet_of(bare_file(), Verdict((), ()))

    assert sheet.head.subject == "Q 9"
    assert sheet.systems[0].mark == Mark("stale", "Not known")
    assert sheet.nothing == (
        "The records do not tell the brake status of this day. Unknown is not fit."
    )
    assert (sheet.outstanding, sheet.tests, sheet.due, sheet.strip) == (
        (),
        (),
        (),
        None,
    )


def test_a_day_before_the_records_begin_is_not_known_rather_than_not_fitted():
    sheet = sheet_of(SOUND_AIR, fit_verdict(), on=dt.date(2019, 12, 31))

    assert {line.mark.words for line in sheet.systems} == {"Not known"}
    assert sheet.particulars == (("Particulars", "None are recorded for this day"),)


@pytest.mark.parametrize(
    ("on", "words"),
    [
        pytest.param(ON, "", id="today needs no remark"),
        pytest.param(later(ON, 1), "if nothing more is recorded", id="a day to come"),
        pytest.param(later(ON, -1), "A day gone by", id="a day gone by"),
    ],
)
def test_another_day_than_today_says_how_it_is_to_be_read(on, words):
    remark = sheet_of(SOUND_AIR, fit_verdict(), on=on).head.remark

    assert (words in remark) if words else (remark == "")


@pytest.mark.parametrize(
    ("fitment", "words"),
    [
        ({"main_reservoir_pipe": MainReservoirPipe.FEEDING}, "Two-pipe air brake"),
        ({"vacuum": Fitment.PIPED}, "One-pipe air brake, vacuum piped only"),
        ({"air": Fitment.PIPED}, "Air piped only, one-pipe"),
        ({"air": Fitment.NONE, "vacuum": Fitment.BRAKED}, "Vacuum brake"),
        ({"air": Fitment.NONE}, "No continuous brake"),
        (
            {"main_reservoir_pipe": MainReservoirPipe.THROUGH},
            "Two-pipe air brake, main reservoir pipe through only",
        ),
    ],
)
def test_the_arrangement_is_told_in_words(fitment, words):
    assert arrangement(particulars(**fitment)) == words


def test_a_register_without_entries_says_that_nothing_is_recorded():
    printed = Printed(PRINTED.at)

    assert printed.records == (
        "Data as of 25 Nov 2026, 14:02 UTC; nothing is recorded yet"
    )
