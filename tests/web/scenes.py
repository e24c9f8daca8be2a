"""Vehicles in the states the screens must show, made through the services."""

import datetime as dt

import time_machine

from fleet.defects import services as defects
from fleet.engineering.calendar import Moment
from fleet.register.vocabulary import Effect, EquipmentKind, Fitment, Scope
from fleet.upkeep.models import Requirement
from fleet.upkeep.vocabulary import Subject
from tests.defects.factories import person
from tests.examination.factories import make_bench_test, make_test
from tests.register.factories import (
    air_places,
    equip,
    make_equipment,
    make_fitting,
    make_type,
    make_vehicle,
    vacuum_places,
)
from tests.upkeep.factories import make_conditions, make_requirement

TODAY = dt.date(2026, 5, 10)


def day(text):
    """A day written out."""
    return dt.date.fromisoformat(text)


def on(text, at=None):
    """The moment of a day, with a time of day where one is given."""
    return Moment.on(day(text), dt.time.fromisoformat(at) if at else None)


def standing_at_today():
    """The clock of the tests in this folder, stopped on one day."""
    noon = dt.datetime.combine(TODAY, dt.time(12), dt.UTC)
    return time_machine.travel(noon, tick=False)


def make_practice():
    """An air brake test once a year, under the conditions of a made-up line; once."""
    if not Requirement.objects.filter(code="annual").exists():
        make_conditions()
        make_requirement(code="annual")


def short(places):
    """Of many positions those the tests here need: quicker to fill."""
    needed = {"bp-hose-1", "distributor", "distributor-cock", "slack-adjuster"}
    return [p for p in places if p["code"] in needed or "vac" in p["code"]]


def coach(number, *, tested="2026-03-05", designation="D2", **values):
    """A two-pipe coach with everything fitted, its air brake tested on a day."""
    values.setdefault("type", make_type("coach", positions=short(air_places())))
    vehicle = make_vehicle(number=number, **values)
    if values.get("air") != Fitment.NONE:
        item = make_equipment(designation=designation)
        make_fitting(vehicle=vehicle, position="distributor", equipment=item)
    equip(vehicle, leaving=["distributor"])
    if tested:
        make_test(vehicle=vehicle, on=on(tested))
    return vehicle


def fleet(vehicles):
    """Coaches T 101, T 102, ... under the practice."""
    make_practice()
    return [coach(f"T {101 + n}") for n in range(vehicles)]


def dual_coach(number):
    """A dual-braked coach whose distributor was last overhauled eight years ago."""
    make_practice()
    make_requirement(
        code="dv-overhaul",
        title="Distributor overhaul",
        subject=Subject.EQUIPMENT,
        kind=EquipmentKind.DISTRIBUTOR,
        designation="D8",
        procedure=make_bench_test(),
        months=96,
        clears="Exchange the distributor.",
        source="Operator's instruction 7",
    )
    places = short(air_places() + vacuum_places())
    type_ = make_type("coach-dual", name="Open dual coach", positions=places)
    vehicle = coach(number, type=type_, vacuum=Fitment.BRAKED, designation="D8")
    item = vehicle.fittings.get(position="distributor", closed_by=None).equipment
    make_test(equipment=item, on=on("2018-04-20"))
    return vehicle


def chafed(vehicle, when="2026-05-04"):
    """A chafed brake pipe hose."""
    return defects.raise_defect(
        by=None,
        person=person(),
        title="Brake pipe hose chafed",
        on=on(when, "08:00"),
        vehicle=vehicle,
        position="bp-hose-1",
        scope=Scope.BRAKE_PIPE,
        effect=Effect.STOP,
    )


def cracked_hanger(vehicle):
    """A fault that stops the whole vehicle."""
    return defects.raise_defect(
        by=None,
        person=person(),
        title="Brake hanger cracked",
        on=on("2026-05-09", "16:00"),
        vehicle=vehicle,
        scope=Scope.VEHICLE,
        effect=Effect.STOP,
    )
