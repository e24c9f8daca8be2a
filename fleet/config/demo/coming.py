"""What of the demo's fleet stands apart: not yet accepted, withdrawn, visiting, stored."""

import datetime as dt

from fleet.config.demo import issuing
from fleet.config.demo.line import Line, make_test
from fleet.defects.services.cocks import close_cock, prove_cock, record_wrong_cock
from fleet.register.models import EquipmentVersion
from fleet.register.services.usage import return_vehicle, store_vehicle
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import CockPosition, Effect, EquipmentKind, Scope
from fleet.upkeep.notices import issue_notice, sign_item_off


def cocks_found_wrong(line: Line) -> None:
    """Twice in a season the same cock stood shut; then once on another coach."""
    for number, days, cause in (
        ("T 108", 200, "Handle caught by a passenger's bag; guard fitted"),
        ("T 108", 30, ""),
        ("T 116", 4, None),
    ):
        if number not in line.vehicles:
            continue
        vehicle = line.vehicles[number]
        cock = record_wrong_cock(
            by=line.by,
            person=line.fitter,
            vehicle=vehicle,
            position="dv-cock",
            on=line.ago(days, 11),
            found=CockPosition.CLOSED,
            left=CockPosition.OPEN,
            where="11:40 departure, third vehicle",
        )
        if cause is None:
            continue
        record = make_test(line, "svt-air", line.ago(days, 14), vehicle=vehicle)
        prove_cock(by=line.by, cock=cock, test=record.test)
        if cause:
            day = line.today - dt.timedelta(days=days - 2)
            close_cock(by=line.by, person=line.fitter, cock=cock, on=day, cause=cause)


def notice_about_distributors(line: Line) -> None:
    """A cover was found cracked elsewhere; two of our distributors were looked at."""
    numbers = [n for n in ("T 101", "T 102", "T 105") if n in line.vehicles]
    items = [line.fitting(number, "distributor").equipment for number in numbers]
    held = EquipmentVersion.objects.current().filter(equipment__in=items)
    notice = issue_notice(
        by=line.by,
        code="fn-1",
        title="Covers of distributors cracked at the studs",
        source="Letter of the overhaul shop, demo",
        action="Look at the cover, dye-check the studs.",
        kind=EquipmentKind.DISTRIBUTOR,
        serials=[row.serial for row in held],
        scope=Scope.AIR_BRAKE,
        effect=Effect.ADVISE,
        effective_from=line.today,
    )
    for item in items[:-1]:
        sign_item_off(
            by=line.by,
            person=line.fitter,
            notice=notice,
            equipment=item,
            on=line.today,
            note="Dye-checked, no crack",
        )


def standing_apart(line: Line) -> None:
    """Not everything on the line is in traffic."""
    changes = (
        ("D 12", 30, "not_accepted"),
        ("W 804", 200, "withdrawn"),
        ("B 216", 20, "visiting"),
        ("B 422", 2, "visiting"),
    )
    for number, days, status in changes:
        if number in line.vehicles:
            alter_vehicle(
                by=line.by,
                vehicle=line.vehicles[number],
                since=line.ago(days),
                status=status,
            )
    if "B 216" in line.vehicles:
        vehicle = line.vehicles["B 216"]
        record = make_test(line, "acceptance", line.ago(19, 10), vehicle=vehicle)
        issuing.visitor_accepted(line, vehicle, record.test)


def back_from_store(line: Line) -> None:
    """Returned from the sidings, the return examination still to do."""
    vehicle = line.vehicles["G 53"]
    store_vehicle(by=line.by, vehicle=vehicle, since=line.ago(180), place="Quarry")
    return_vehicle(by=line.by, vehicle=vehicle, at=line.ago(6, 8))
