"""A vehicle with a fact of every kind, made through the services."""

import datetime as dt
from decimal import Decimal
from types import SimpleNamespace

from fleet.defects import services as defects
from fleet.engineering.calendar import Moment
from fleet.register.services.fittings import exchange
from fleet.register.services.usage import log_usage, return_vehicle, store_vehicle
from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from fleet.upkeep.vocabulary import Subject
from tests.defects.factories import answers, person
from tests.examination.factories import (
    good_readings,
    make_bench_test,
    make_procedure,
    make_test,
)
from tests.register.factories import (
    equip,
    make_depot,
    make_equipment,
    make_vehicle,
)
from tests.upkeep.factories import (
    make_age_limit,
    make_conditions,
    make_matrix_line,
    make_requirement,
)


def day(text):
    """A day written out."""
    return dt.date.fromisoformat(text)


def on(text, at=None):
    """The moment of a day, with a time of day where one is given."""
    return Moment.on(day(text), dt.time.fromisoformat(at) if at else None)


def make_policy(*, miles=None):
    """Conditions, an annual test, an age limit, a matrix line; upkeep by miles if told."""
    make_conditions()
    make_requirement(code="annual")
    make_age_limit(code="hoses")
    make_matrix_line(code="after-dv")
    if miles:
        make_slack_requirement(miles)


def make_slack_requirement(miles, **values):
    """Slack adjusters, examined after so many miles."""
    return make_requirement(
        code="slack",
        subject=Subject.EQUIPMENT,
        kind=EquipmentKind.SLACK_ADJUSTER,
        procedure=make_bench_test("slack-test", EquipmentKind.SLACK_ADJUSTER),
        scope=Scope.SHARED_GEAR,
        miles=miles,
        **values,
    )


def make_history(**values):
    """
    A coach with six years behind it: everything the register can hold of a vehicle.

    Returns a namespace of what was made.
    """
    vehicle = make_vehicle(**values)
    fitted = equip(vehicle)
    spare = make_equipment(EquipmentKind.DISTRIBUTOR, designation="D2", group="dv")
    test = make_test(vehicle=vehicle, on=on("2025-03-05"))
    failed = failing_test(vehicle, "2025-02-03")
    bench = make_test(equipment=fitted["distributor"].equipment, on=on("2024-06-01"))
    new = exchange(
        by=None,
        vehicle=vehicle,
        position="distributor",
        equipment=spare,
        at=on("2025-03-04", "09:30"),
        to=make_depot(),
    )
    log_usage(
        by=None,
        vehicle=vehicle,
        first=day("2025-01-01"),
        last=day("2025-01-31"),
        miles=Decimal("120.5"),
        days=9,
    )
    store_vehicle(by=None, vehicle=vehicle, since=on("2025-11-01"), place="Shed road")
    return_vehicle(by=None, vehicle=vehicle, at=on("2026-03-01"))
    return SimpleNamespace(
        vehicle=vehicle,
        fitted=fitted,
        spare=spare,
        new=new,
        test=test,
        failed=failed,
        bench=bench,
        defect=make_cleared_defect(vehicle),
        isolation=make_ended_isolation(vehicle),
    )


def failing_test(vehicle, text):
    """An air brake test on which the release was too slow."""
    procedure = make_procedure()
    readings = good_readings(procedure)
    readings[1] = readings[1] | {"value": "28", "unit": "s"}
    return make_test(
        vehicle=vehicle, procedure=procedure, readings=readings, on=on(text)
    )


def make_cleared_defect(vehicle):
    """A block worn out, renewed and released, with the work that took."""
    fitter, other = person(), person()
    defect = defects.raise_defect(
        by=None,
        person=fitter,
        title="Slack adjuster seized",
        on=on("2025-05-04", "08:00"),
        vehicle=vehicle,
        scope=Scope.SHARED_GEAR,
        effect=Effect.ISOLATE,
    )
    doing = {"by": None, "defect": defect}
    defects.take_in_hand(person=fitter, on=on("2025-05-04", "09:00"), **doing)
    defects.work_done(person=fitter, on=on("2025-05-04", "10:00"), **doing)
    defects.release(person=other, on=on("2025-05-05", "11:00"), **doing)
    return defect


def make_ended_isolation(vehicle):
    """An isolation recorded in part, completed, and restored."""
    fitter = person()
    lines = answers(vehicle)
    opened = defects.record_isolation(
        by=None,
        person=fitter,
        vehicle=vehicle,
        system="air",
        since=on("2025-06-01", "08:00"),
        why="Slow to release",
        lines=[line for line in lines if line["position"]],
    )
    complete = defects.complete_isolation(
        by=None,
        person=fitter,
        version=opened,
        at=on("2025-06-02", "09:00"),
        lines=lines,
    )
    return defects.restore_brake(
        by=None, person=fitter, version=complete, at=on("2025-06-10", "12:00")
    )
