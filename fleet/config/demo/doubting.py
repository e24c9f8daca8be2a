"""Stories that ask why: a gauge found wrong, a test in doubt, a brake that weakens."""

from decimal import Decimal

from fleet.config.demo.line import Line, make_test
from fleet.defects.models import DefectStep
from fleet.defects.services import counter_sign as sign_step
from fleet.defects.services import raise_defect, release_to_traffic, start_work
from fleet.defects.vocabulary import Step
from fleet.examination.instruments import record_calibration
from fleet.examination.models import Instrument, Procedure
from fleet.examination.services import revision_in_force
from fleet.examination.signing import counter_sign
from fleet.examination.vocabulary import Found
from fleet.register.services.fittings import exchange
from fleet.register.vocabulary import Effect, Scope

FOUND_WRONG = "TG-7"


def gauge_found_wrong(line: Line) -> None:
    """An old gauge was lent to the quarry; its calibration found it wrong."""
    gauge = Instrument.objects.get(versions__number=FOUND_WRONG)
    wagon = line.vehicles["W 708"]
    exchange(
        by=line.by,
        vehicle=wagon,
        position="bp-hose-1",
        equipment=line.spare("bp_hose", "BP-25"),
        at=line.ago(30, 9),
        to=line.stores,
        remark="Chafed",
    )
    tested = (("W 708", 30), ("W 709", 29), ("T 113", 28), ("T 114", 27))
    for number, days in tested:
        if number in line.vehicles:
            vehicle = line.vehicles[number]
            day = line.ago(days, 14)
            make_test(line, "air-pipe", day, vehicle=vehicle, instrument=gauge)
    record_calibration(
        by=line.by,
        instrument=gauge,
        on=line.ago(3, 10),
        as_found_error=Decimal("0.24"),
        as_left_error=Decimal("0.04"),
        certificate="TG-7/4",
        laboratory="Marrowby master gauge room",
    )


def not_competent(line: Line) -> None:
    """Two handbrake tests by one whose competence had lapsed; one is signed for."""
    for number, days in (("G 52", 20), ("G 51", 22)):
        if number not in line.vehicles:
            continue
        vehicle = line.vehicles[number]
        day = line.ago(days, 11)
        record = make_test(line, "handbrake", day, vehicle=vehicle, person=line.other)
        if number == "G 51":
            counter_sign(
                by=line.by,
                record=record,
                person=line.fitter,
                on=line.ago(days - 1, 8),
                remark="Tried the handbrake again myself.",
            )


def not_competent_to_assess(line: Line) -> None:
    """Two defects judged by one whose competence had lapsed; one is signed for."""
    for number, days in (("G 52", 9), ("G 51", 15)):
        if number not in line.vehicles:
            continue
        day = line.ago(days, 9)
        defect = raise_defect(
            by=line.by,
            person=line.other,
            vehicle=line.vehicles[number],
            title="Handbrake wheel stiff to turn",
            on=day,
            scope=Scope.HAND_BRAKE,
            effect=Effect.ADVISE,
        )
        step = DefectStep.objects.get(defect=defect, step=Step.ASSESSED)
        if number == "G 51":
            sign_step(
                by=line.by,
                row=step,
                person=line.fitter,
                on=line.ago(days - 1, 8),
                remark="Turned it end to end myself.",
            )


def not_competent_to_release(line: Line) -> None:
    """Work signed off by one who was never assessed to release to traffic."""
    if "G 52" not in line.vehicles:
        return
    work = start_work(
        by=line.by,
        person=line.fitter,
        vehicle=line.vehicles["G 52"],
        what="Step board repaired",
        since=line.ago(8, 9),
        scope=Scope.HAND_BRAKE,
    )
    release_to_traffic(by=line.by, person=line.other, work=work, at=line.ago(8, 15))


def brake_weaker(line: Line) -> None:
    """Each test within its limits, and yet a tenth of the brake force gone."""
    vehicle = line.vehicles["T 115"]
    for procedure, days, bar in (("svt-air", 34, "3.9"), ("annual-air", 12, "3.5")):
        day = line.ago(days, 14)
        asked = Procedure.objects.get(code=procedure)
        revision = revision_in_force(asked, day.latest or line.today)
        maximum = revision.lines.get(finds=Found.MAXIMUM).order
        make_test(line, procedure, day, vehicle=vehicle, found={maximum: bar})
