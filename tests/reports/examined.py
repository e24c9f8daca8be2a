"""Vehicles, procedures and tests made up for certificates and blank sheets."""

import datetime as dt
import math
from dataclasses import asdict, replace
from decimal import Decimal

from fleet.engineering.calendar import Moment
from fleet.examination.asking import asked_of
from fleet.examination.judging import plain
from fleet.examination.models import ThicknessReading, Trace
from fleet.examination.services import revision_in_force
from fleet.examination.traces import read_points
from fleet.examination.vocabulary import Answer, Found, LineKind, Repeat, Stage
from fleet.records.deeds import deed
from fleet.records.versions import write_many
from fleet.register.vocabulary import EquipmentKind, Scope
from tests.examination.factories import (
    make_bench_test,
    make_procedure,
    measured,
    question,
)
from tests.register.factories import (
    air_places,
    make_depot,
    make_type,
    make_vehicle,
    place,
)

TESTED = Moment.on(dt.date(2026, 3, 5), at=dt.time(14, 20))
LONG = "Željko Ősz-Þórðarson of the Wenlow Valley carriage and wagon volunteers, Łuș"


def line(text, kind, **values):
    """A line of a kind that is neither a question nor measured."""
    return question(text) | {"kind": kind} | values


def handles(count):
    """The positions of so many passenger communication handles."""
    return [
        place(
            f"handle-{n}",
            f"Passenger communication, compartment {n}",
            EquipmentKind.PASSENGER_ALARM,
            Scope.BRAKE_PIPE,
        )
        for n in range(1, count + 1)
    ]


def make_coach(count=3, number="T 901"):
    """An air-braked coach of a type with so many handles and one brake cylinder."""
    kind = make_type(code=f"open-{count}", positions=[*air_places(), *handles(count)])
    return make_vehicle(number=number, type=kind, depot=make_depot())


def every_line():
    """A line of every kind, with as found and as left and repeats."""
    stroke = ("Piston stroke", "length", "mm", "85", "130")
    return [
        measured("Brake pipe leakage", "pressure_rate", "bar/min", high="0.2"),
        measured("Release time", "time", "s", "15", "20", finds=Found.RELEASE_TIME),
        measured(*stroke, repeat=Repeat.CYLINDER, stage=Stage.AS_FOUND),
        measured(*stroke, repeat=Repeat.CYLINDER, stage=Stage.AS_LEFT),
        question(
            "Pull the handle: the brake applies and the indicator shows",
            "Applies, shows, and resets",
            repeat=Repeat.HANDLE,
        ),
        line(
            "Blocks",
            LineKind.CHOICE,
            choices=[["Sound", True], ["Worn unevenly", True], ["Cracked", False]],
        ),
        line("Trace of a full application and release", LineKind.TRACE, required=False),
        measured("Gauge left at", "pressure", "bar", required=False),
    ]


def make_full_procedure(**values):
    """A procedure with a line of every kind."""
    values = {
        "lines": every_line(),
        "cautions": ["movement", "drain_and_vent", "after_work"],
    } | values
    return make_procedure("full-air", title="Annual air brake test", **values)


def make_vessel_procedure():
    """The examination of a reservoir, with a thickness survey."""
    return make_bench_test(
        "vessel",
        kind=EquipmentKind.AUXILIARY_RESERVOIR,
        title="Reservoir examination and thickness survey",
        lines=[
            question("Outside clean, no dent, drain clear", "As the instruction says"),
            line("Thickness of the wall", LineKind.SURVEY, criterion="At least 4.5 mm"),
        ],
        cautions=["pressure_test"],
    )


def attach(rows):
    """Keep traces or thicknesses of a record, as recording a test does."""
    with deed("examination.attach", by=None):
        list(write_many(rows))


def readings_of(procedure, vehicle=None, on=TESTED, **answers):
    """
    A good reading of everything a procedure asks, but for those given by key.

    A key is that of errors, such as line_2 or line_5__handle_1; None leaves it blank.
    """
    revision = revision_in_force(procedure, on.latest)
    rows = []
    for one in asked_of(revision, vehicle, on):
        row = {"line": one.line, "position": one.position}
        given = answers.get(one.key.replace("-", "_"), _good(one.line))
        if given is not None:
            rows.append(row | given)
    return rows


def _good(line):
    match line.kind:
        case LineKind.MEASURED:
            value = line.low if line.low is not None else line.high
            return {"value": plain(value) or "1", "unit": line.unit}
        case LineKind.QUESTION:
            return {"answer": Answer.MET}
        case LineKind.CHOICE:
            return {"choice": line.good_choices[0]}
        case _:
            return None


def made_trace(record, order=7):
    """A trace of a full application and release, five readings a second."""
    line = record.procedure_revision.lines.get(order=order)
    text = "\n".join(f"{n / 5} {curve(n / 5)}" for n in range(300))
    read = replace(read_points(text, "bar"), name="logger 7.csv", digest="ab" * 32)
    return Trace(record=record, line=line, **asdict(read))


def curve(at_s):
    """Cylinder pressure in bar: from 5 s fills in about 4 s, held to 30 s, released."""
    if at_s < 5:
        return 0.0
    if at_s < 30:
        return round(3.8 * (1 - math.exp(-(at_s - 5) / 1.4)), 3)
    return round(3.8 * math.exp(-(at_s - 30) / 6), 3)


POINTS = (
    ("Shell, top, near end 1", "5.82"),
    ("Shell, top, middle", "5.8"),
    ("Shell, bottom at the drain", "4.61"),
    ("Shell, bottom, middle", "5.2"),
    ("Longitudinal seam", "5.75"),
    ("End 1, crown", "6.3"),
    ("End 2, crown", "6.25"),
    ("End 2, knuckle", "5.9"),
)


def made_thicknesses(record, points=POINTS, order=2):
    """Thicknesses of a reservoir at named points."""
    line = record.procedure_revision.lines.get(order=order)
    return [
        ThicknessReading(
            record=record,
            line=line,
            point=name,
            thickness_mm=Decimal(thickness),
            uncertainty_mm=Decimal("0.1"),
        )
        for name, thickness in points
    ]
