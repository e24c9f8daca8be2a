"""Files and verdicts of made-up vehicles, for the papers drawn from them."""

import datetime as dt
from dataclasses import replace

from fleet.defects.vocabulary import Brake, Step
from fleet.engineering.calendar import Moment
from fleet.fitness.examples import (
    AIR_TEST,
    DISTRIBUTOR,
    OVERHAUL,
    SOUND_DUAL,
    particulars,
)
from fleet.fitness.facts import (
    DefectFact,
    DefectStepFact,
    FailedLine,
    IsolationFact,
    TestFact,
    VehicleFile,
    WorkFact,
)
from fleet.fitness.findings import Due, Evidence, Finding, Span, Verdict
from fleet.register.vocabulary import Effect, Level, Scope, System
from fleet.reports.sheet import Printed

ON = dt.date(2026, 11, 25)
PRINTED = Printed(dt.datetime(2026, 11, 25, 14, 2, tzinfo=dt.UTC), 1234)
ODD_NAME = "Željko Ősz-Þórðarson, Strauẞ & Łuș <T>"

OVERDUE = Finding(
    "U03",
    dt.date(2026, 11, 3),
    None,
    Effect.DISCOUNT,
    Scope.AIR_BRAKE,
    "Distributor D-2291 is past its overhaul, due 2 Nov 2026",
    "Exchange the distributor, then a single-vehicle air brake test.",
    "operator's maintenance policy 4.2",
    evidence=(Evidence("requirement", "DIST-96", "DIST-96 rev. 3"),),
)
HOSE_AGED = Finding(
    "U06",
    dt.date(2027, 4, 1),
    None,
    Effect.STOP,
    Scope.BRAKE_PIPE,
    "Brake pipe hose, No. 1 end, H-0457 reaches its age limit of eight years",
    "Exchange the hose, then leakage and through-bore tests.",
    "operator's maintenance policy 3.1",
)
LAST_VEHICLE = Finding(
    "D01",
    dt.date(2026, 10, 2),
    None,
    Effect.CONDITION,
    Scope.HAND_BRAKE,
    "Handbrake drags on the No. 2 end",
    "Adjust the handbrake and test it.",
    "common practice",
    condition="Not as last vehicle until the handbrake is tested again",
)


def span(system, since, until, level, **more):
    """A span of a system."""
    return Span(system, since, until, level, **more)


def fit_verdict():
    """An air-braked coach, fit until its yearly test runs out."""
    end = dt.date(2027, 1, 11)
    late = replace(
        OVERDUE,
        code="U02",
        since=end,
        text="Air brake test overrun, due 10 Jan 2027",
        clears="Do the single-vehicle air brake test.",
    )
    spans = (
        span(
            System.AIR,
            dt.date(2020, 1, 2),
            end,
            Level.BRAKED,
            change="Air brake test falls due",
        ),
        span(System.AIR, end, None, Level.PIPED, headline=late.text, findings=(late,)),
    )
    due = Due(
        "AIR-12",
        1,
        "Air brake test",
        None,
        "",
        dt.date(2027, 1, 10),
        dt.date(2027, 1, 10),
        "last done 10 Jan 2026, 12 months",
        Scope.AIR_BRAKE,
        Effect.DISCOUNT,
        AIR_TEST,
    )
    return Verdict((late,), spans, (due,))


def dual_verdict():
    """A dual-braked coach: air piped for paper reasons, vacuum under conditions."""
    spans = (
        span(System.AIR, dt.date(2020, 1, 2), OVERDUE.since, Level.BRAKED),
        span(
            System.AIR,
            OVERDUE.since,
            HOSE_AGED.since,
            Level.PIPED,
            headline=OVERDUE.text,
            findings=(OVERDUE,),
            change="Brake pipe hose H-0457 reaches its age limit",
        ),
        span(
            System.AIR,
            HOSE_AGED.since,
            None,
            Level.STOPPED,
            headline=HOSE_AGED.text,
            findings=(HOSE_AGED, OVERDUE),
        ),
        span(
            System.VACUUM,
            dt.date(2026, 10, 2),
            None,
            Level.CONDITIONAL,
            headline=LAST_VEHICLE.text,
            conditions=(LAST_VEHICLE.condition, "Air vented, hoses stowed"),
            findings=(LAST_VEHICLE,),
        ),
    )
    dues = (
        Due(
            "DIST-96",
            3,
            "Distributor overhaul",
            3,
            DISTRIBUTOR.code,
            dt.date(2026, 11, 2),
            dt.date(2026, 12, 2),
            "last done 2 Nov 2018, 8 years",
            Scope.AIR_BRAKE,
            Effect.DISCOUNT,
            OVERHAUL,
        ),
        Due(
            "RES-60",
            1,
            "Reservoir examination",
            4,
            "auxiliary_reservoir",
            None,
            None,
            "no date is recorded to count from",
            Scope.AIR_BRAKE,
            Effect.STOP,
        ),
    )
    return Verdict((HOSE_AGED, LAST_VEHICLE, OVERDUE), spans, dues)


def dual_file():
    """The file of a dual-braked coach with something of everything recorded."""
    failed = TestFact(
        901,
        AIR_TEST,
        Moment.on(dt.date(2026, 11, 20)),
        passed=False,
        failed=(
            FailedLine(
                "Release time",
                Scope.AIR_BRAKE,
                Effect.ISOLATE,
                "28 s, limit 15 to 20 s",
            ),
        ),
        unanswered=2,
    )
    overhaul = TestFact(
        902, OVERHAUL, Moment.on(dt.date(2018, 11, 2)), passed=True, equipment=3
    )
    raised = DefectStepFact(
        Moment.on(dt.date(2026, 11, 20)), Step.RAISED, Scope.AIR_BRAKE, Effect.ISOLATE
    )
    slow = DefectFact(31, "Slow to release", 3, DISTRIBUTOR.code, (raised,))
    cured = DefectFact(
        30,
        "Leaking drain cock",
        None,
        "",
        (raised, replace(raised, step=Step.RELEASED)),
    )
    isolated = IsolationFact(
        8,
        Brake.AIR,
        Moment.on(dt.date(2026, 11, 21)),
        None,
        whole=True,
        complete=False,
    )
    work = WorkFact(5, "Distributor exchange", Moment.on(dt.date(2026, 11, 22)), None)
    return SOUND_DUAL.with_(
        tests=(failed, overhaul),
        defects=(slow, cured),
        isolations=(isolated,),
        work=(work,),
    )


def bare_file():
    """A vehicle of which nothing but its number is recorded."""
    return VehicleFile(9, (particulars(number="Q 9"),))


def crowded_verdict(count=12):
    """A verdict of many findings with long words in them."""
    findings = tuple(
        replace(
            OVERDUE,
            code=f"U{n:02}",
            text=f"Finding {n}: distributor of {ODD_NAME} is past its overhaul by 23 "
            "days, due on the second of November 2026, eight years after the last one",
            effect=list(Effect)[n % 5],
            scope=list(Scope)[n % 8],
            condition=f"Condition {n}: not as last vehicle" if n % 5 == 1 else "",
            evidence=(Evidence("test", n, f"test {n} by {ODD_NAME}" + "x" * 90),),
            missing=n % 4 == 0,
        )
        for n in range(1, count + 1)
    )
    stopped = span(
        System.AIR,
        OVERDUE.since,
        None,
        Level.STOPPED,
        headline=findings[0].text,
        whole_vehicle=True,
        findings=findings,
        conditions=tuple(f.condition for f in findings if f.condition),
    )
    return Verdict(findings, (stopped,))
