"""What of the demo's fleet stands apart: not yet accepted, withdrawn, visiting, stored."""

from fleet.config.demo import issuing
from fleet.config.demo.line import Line, make_test
from fleet.register.models import EquipmentVersion
from fleet.register.services.usage import return_vehicle, store_vehicle
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from fleet.upkeep.notices import issue_notice, sign_item_off


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
