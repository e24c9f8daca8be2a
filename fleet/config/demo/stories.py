"""What has happened lately on the demo line: the stories the generator cannot tell."""

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from io import BytesIO
from typing import Any

from fleet.config.demo import (
    coming,
    conceding,
    doubting,
    hand_brake,
    issuing,
    moving,
    overhauling,
    piping,
    planning,
    returning,
    surveying,
    working,
)
from fleet.config.demo.line import Line, buy_spares, line_of, make_test
from fleet.config.demo.loggers import logged_csv
from fleet.defects.models import Defect
from fleet.defects.services.isolations import (
    isolation_lines,
    record_isolation,
    restore_brake,
)
from fleet.defects.services.raising import raise_defect
from fleet.defects.services.tickets import release, take_in_hand, work_done
from fleet.defects.services.work import start_work
from fleet.engineering.trace_heads import Columns
from fleet.examination.traces import read_file
from fleet.register.models import Position, Vehicle, VehicleType
from fleet.register.services.equipment import alter_equipment
from fleet.register.services.fittings import exchange, take_off
from fleet.register.services.types import revise_type
from fleet.register.services.usage import store_vehicle
from fleet.register.vocabulary import Effect, EquipmentState, Scope

Story = Callable[[Line], None]


def tell_stories(*, today: dt.date) -> None:
    """
    Record the recent past of the demo line, through the services, as people would.

    Vehicles that a smaller demo lacks are passed over with their stories.
    """
    line = line_of(today)
    buy_spares(line)
    for number, story in STORIES:
        if number in line.vehicles:
            story(line)
    working.workshop(line)
    planning.programme(line)


def hose_missing(line: Line) -> None:
    """A hose went to another vehicle and was not replaced."""
    take_off(
        by=line.by,
        fitting=line.fitting("K 9", "mr-hose-2"),
        at=line.ago(3),
        to=line.stores,
        remark="Lent to the shunter",
    )


def wrong_hose(line: Line) -> None:
    """A narrow hose, rated for less than the brake pipe needs, was all there was."""
    vehicle = line.vehicles["W 703"]
    exchange(
        by=line.by,
        vehicle=vehicle,
        position="bp-hose-1",
        equipment=line.spare("bp_hose", "BP-20"),
        at=line.ago(12),
        to=line.stores,
    )
    make_test(line, "air-pipe", line.ago(12, 11), vehicle=vehicle)


def yellow_cock(line: Line) -> None:
    """A main reservoir end cock went where a brake pipe cock belongs."""
    vehicle = line.vehicles["V 32"]
    exchange(
        by=line.by,
        vehicle=vehicle,
        position="bp-cock-2",
        equipment=line.spare("mr_end_cock", ""),
        at=line.ago(7, 10),
        to=line.stores,
        remark="No brake pipe cock in stores",
        allow_wrong_kind=True,
    )
    make_test(line, "air-pipe", line.ago(7, 11), vehicle=vehicle)


def without_drip_traps(line: Line) -> None:
    """The type was revised without its drip trap; one of the two vans still has it."""
    type_ = VehicleType.objects.get(code="van-vac-piped")
    newest = type_.revisions.latest("number")
    places = [
        {
            field.name: getattr(place, field.name)
            for field in Position._meta.concrete_fields
            if field.name not in {"id", "revision", "order"}
        }
        for place in newest.positions.order_by("order")
        if place.code != "drip-trap"
    ]
    revise_type(
        by=line.by,
        type=type_,
        name=newest.name,
        effective_from=line.today - dt.timedelta(days=90),
        positions=places,
        source="Demo type drawing, sheet 2",
        reason="Drip trap done away with",
    )
    take_off(
        by=line.by,
        fitting=line.fitting("V 41", "drip-trap"),
        at=line.ago(90, 10),
        to=line.stores,
    )
    make_test(line, "vac-pipe", line.ago(90, 12), vehicle=line.vehicles["V 41"])


def cylinder_quarantined(line: Line) -> None:
    """A notice came in about a batch of vacuum cylinders."""
    alter_equipment(
        by=line.by,
        equipment=line.fitting("C 414", "vac-cyl-2").equipment,
        since=line.ago(10),
        state=EquipmentState.QUARANTINED,
    )
    store_vehicle(
        by=line.by,
        vehicle=line.vehicles["C 414"],
        since=line.ago(60),
        place="Back road",
        preserved="Hoses on dummies, cylinders drained",
    )


def slow_to_release(line: Line) -> None:
    """The logger's trace shows the brake too slow to release; the rest was left undone."""
    vehicle = line.vehicles["C 302"]
    trace = read_file(BytesIO(logged_csv(release_s=28)), "C302-cylinder.csv", Columns())
    make_test(line, "svt-air", line.ago(2, 14), vehicle=vehicle, trace=trace)
    make_test(line, "annual-air", line.ago(2, 15), vehicle=vehicle, left={1, 2})


def hose_not_tested(line: Line) -> None:
    """A hose was exchanged late on a Sunday; nobody tested the pipe."""
    exchange(
        by=line.by,
        vehicle=line.vehicles["T 104"],
        position="bp-hose-2",
        equipment=line.spare("bp_hose", "BP-25"),
        at=line.ago(5, 17),
        to=line.stores,
    )


def order_unknown(line: Line) -> None:
    """Paper without times: exchanged and tested on one day, nobody knows in which order."""
    vehicle = line.vehicles["T 105"]
    exchange(
        by=line.by,
        vehicle=vehicle,
        position="mr-hose-1",
        equipment=line.spare("mr_hose", "MR-25"),
        at=line.ago(4, None),
        to=line.stores,
    )
    make_test(line, "air-pipe", line.ago(4, None), vehicle=vehicle)


def cracked_hanger(line: Line) -> None:
    """Found while brushing down after a run."""
    raise_defect(
        by=line.by,
        person=line.fitter,
        title="Brake hanger cracked, No. 1 bogie",
        on=line.ago(1, 16),
        vehicle=line.vehicles["T 109"],
        scope=Scope.VEHICLE,
        effect=Effect.STOP,
        note="Crack at the upper eye, about half through.",
    )


def stiff_handbrake(line: Line) -> None:
    """Usable, under a condition."""
    raise_defect(
        by=line.by,
        person=line.fitter,
        title="Handbrake stiff, four turns lost",
        on=line.ago(8),
        vehicle=line.vehicles["W 702"],
        position="handbrake",
        scope=Scope.HAND_BRAKE,
        effect=Effect.CONDITION,
        condition="Not as last vehicle and not left standing alone.",
    )


def not_assessed(line: Line) -> None:
    """A crew report nobody has looked at yet."""
    raise_defect(
        by=line.by,
        person=line.other,
        title="Crew report: brake slow to come off after station stops",
        on=line.ago(1, 18),
        vehicle=line.vehicles["B 421"],
        scope=Scope.VACUUM_BRAKE,
        tends="on",
    )


def isolated(line: Line) -> None:
    """A distributor at fault, the brake isolated and labelled."""
    _fault_and_isolation(line, "T 103", days=9)


def _fault_and_isolation(line: Line, number: str, days: int) -> tuple[Defect, Any]:
    vehicle = line.vehicles[number]
    defect = raise_defect(
        by=line.by,
        person=line.fitter,
        title="Distributor slow to release",
        on=line.ago(days, 10),
        vehicle=vehicle,
        position="distributor",
        scope=Scope.AIR_BRAKE,
        effect=Effect.ISOLATE,
        tends="on",
    )
    record = record_isolation(
        by=line.by,
        person=line.fitter,
        vehicle=vehicle,
        system="air",
        since=line.ago(days, 10, 30),
        why="Distributor slow to release",
        lines=_answered(line, vehicle, days),
        label_number=f"L-{200 + days}",
        label_where="By the distributor, both sides",
        defect=defect,
    )
    return defect, record


def _answered(line: Line, vehicle: Vehicle, days: int) -> list[dict[str, Any]]:
    day = line.today - dt.timedelta(days=days)
    lines = [dict(row) for row in isolation_lines(vehicle, "air", day)]
    for row in lines:
        if row["kind"] == "cock":
            row |= {"found": "open", "left": "closed"}
        else:
            row["done"] = True
    return lines


def isolation_unfinished(line: Line) -> None:
    """Isolated in the dark; the record was never finished."""
    vehicle = line.vehicles["W 704"]
    lines = _answered(line, vehicle, 6)
    lines[-1]["done"] = None
    record_isolation(
        by=line.by,
        person=line.other,
        vehicle=vehicle,
        system="air",
        since=line.ago(6, 19),
        why="Brake dragging",
        lines=lines,
    )


def one_cylinder_out(line: Line) -> None:
    """One bogie cut out, the other works."""
    vehicle = line.vehicles["T 106"]
    lines = _answered(line, vehicle, 15)
    for row in lines:
        if row["kind"] == "cock" and row["position"] != "cyl-cock-1":
            row["left"] = "open"
    record_isolation(
        by=line.by,
        person=line.fitter,
        vehicle=vehicle,
        system="air",
        since=line.ago(15, 11),
        why="Cylinder, No. 1 bogie, leaking",
        lines=lines,
        extent="part",
        label_number="L-215",
        condition="No. 1 bogie cut out; count 16 t of braked weight.",
        braked_weight_t=Decimal(16),
    )


def in_hand(line: Line) -> None:
    """On the shop road with the bracket off."""
    start_work(
        by=line.by,
        person=line.fitter,
        vehicle=line.vehicles["K 8"],
        what="Distributor bracket off for new joints",
        since=line.ago(6),
    )


def put_right(line: Line) -> None:
    """A fault dealt with from end to end last spring."""
    vehicle = line.vehicles["T 101"]
    defect, record = _fault_and_isolation(line, "T 101", days=40)
    common: dict[str, Any] = {"by": line.by, "person": line.fitter, "defect": defect}
    take_in_hand(on=line.ago(38, 9), **common)
    exchange(
        by=line.by,
        vehicle=vehicle,
        position="distributor",
        equipment=line.spare("distributor", "DV-P"),
        at=line.ago(38, 11),
        to=line.stores,
        remark="Slow to release",
    )
    restore_brake(by=line.by, person=line.fitter, version=record, at=line.ago(38, 12))
    make_test(line, "svt-air", line.ago(38, 14), vehicle=vehicle)
    work_done(on=line.ago(38, 15), note="Distributor exchanged.", **common)
    release(by=line.by, person=line.other, defect=defect, on=line.ago(38, 16))


STORIES: tuple[tuple[str, Story], ...] = (
    ("B 421", issuing.issued_before),
    ("K 9", hose_missing),
    ("W 703", wrong_hose),
    ("V 32", yellow_cock),
    ("V 41", without_drip_traps),
    ("C 414", cylinder_quarantined),
    ("C 302", slow_to_release),
    ("T 104", hose_not_tested),
    ("T 105", order_unknown),
    ("T 109", cracked_hanger),
    ("W 702", stiff_handbrake),
    ("B 421", not_assessed),
    ("T 103", isolated),
    ("T 103", moving.authorised),
    ("W 704", isolation_unfinished),
    ("T 106", one_cylinder_out),
    ("W 710", hand_brake.linkage_off),
    ("K 8", in_hand),
    ("D 12", coming.standing_apart),
    ("G 53", coming.back_from_store),
    ("T 101", put_right),
    ("T 101", overhauling.by_whom),
    ("T 105", coming.notice_about_distributors),
    ("T 108", coming.cocks_found_wrong),
    ("T 102", surveying.thins_fast),
    ("W 706", surveying.half_its_life_over),
    ("W 707", surveying.too_thin),
    ("W 709", surveying.judged_by_formula),
    ("W 802", piping.logged_train_pipe),
    ("W 708", doubting.gauge_found_wrong),
    ("G 52", doubting.not_competent),
    ("G 52", doubting.not_competent_to_assess),
    ("G 52", doubting.not_competent_to_release),
    ("T 115", doubting.brake_weaker),
    ("T 110", returning.third_time),
    ("T 112", issuing.issued),
    ("T 114", issuing.after_an_accident),
    ("W 801", conceding.in_force),
    ("W 703", conceding.lapsed),
    ("W 705", conceding.expired),
    ("W 707", conceding.awaiting),
)
