"""Procedures and tests made through the services, as people make them."""

import datetime as dt
from decimal import Decimal
from itertools import count

from fleet.engineering.calendar import Moment
from fleet.examination.instruments import add_instrument, record_calibration
from fleet.examination.judging import plain
from fleet.examination.models import Procedure
from fleet.examination.services import define_procedure, record_test, revision_in_force
from fleet.examination.vocabulary import Answer, LineKind, TestSubject
from fleet.people.models import Person
from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from tests.register.factories import make_equipment, make_vehicle

IN_FORCE = dt.date(2015, 1, 1)
TESTED = Moment.on(dt.date(2026, 3, 5))

_people = count(1)


def measured(text, quantity, unit, low=None, high=None, **values):
    """A measured line as `define_procedure` takes it."""
    return {
        "text": text,
        "kind": LineKind.MEASURED,
        "quantity": quantity,
        "unit": unit,
        "low": low,
        "high": high,
        "scope": Scope.AIR_BRAKE,
        "effect_failed": Effect.ISOLATE,
        "source": "operator's own",
    } | values


def question(text, criterion="", **values):
    """A line that asks a question."""
    return {
        "text": text,
        "kind": LineKind.QUESTION,
        "criterion": criterion,
        "scope": Scope.AIR_BRAKE,
        "effect_failed": Effect.ISOLATE,
        "source": "operator's own",
    } | values


def air_test_lines():
    """The lines of a short single-vehicle air brake test; the limits are made up."""
    return [
        measured(
            "Brake pipe leakage",
            "pressure_rate",
            "bar/min",
            high="0.2",
            scope=Scope.BRAKE_PIPE,
            effect_failed=Effect.STOP,
        ),
        measured("Release time", "time", "s", "15", "20"),
        question("Brake applies and releases in steps", "Each step is seen"),
        measured("Piston stroke, cylinder 1", "length", "mm", required=False),
    ]


def make_procedure(code="svt-air", **values):
    """The procedure of that code, defined if there is none: an air brake test."""
    held = Procedure.objects.filter(code=code).first()
    if held is not None:
        return held
    values = {
        "by": None,
        "title": "Single-vehicle air brake test",
        "subject": TestSubject.VEHICLE,
        "source": "operator's own",
        "effective_from": IN_FORCE,
        "lines": air_test_lines(),
        "scopes": [Scope.AIR_BRAKE, Scope.BRAKE_PIPE],
        "cautions": ["movement"],
    } | values
    return define_procedure(code=code, **values)


def make_bench_test(code="bench-dv", kind=EquipmentKind.DISTRIBUTOR, **values):
    """A procedure carried out on items of a kind."""
    values = {
        "title": "Distributor bench test",
        "subject": TestSubject.EQUIPMENT,
        "kind": kind,
        "lines": [measured("Release time", "time", "s", "15", "20")],
        "scopes": [Scope.AIR_BRAKE],
    } | values
    return make_procedure(code, **values)


def make_person(name=""):
    """Somebody who does tests."""
    return Person.objects.create(name=name or f"Tester {next(_people)}")


def good_readings(procedure, on=TESTED):
    """Readings that meet every line that can be met of the revision in force."""
    readings = []
    for line in revision_in_force(procedure, on.latest).lines.all():
        if line.measured:
            value = line.low if line.low is not None else line.high
            number = plain(value) or "1"
            readings.append({"line": line, "value": number, "unit": line.unit})
        else:
            readings.append({"line": line, "answer": Answer.MET})
    return readings


def make_test(*, procedure=None, readings=None, **values):
    """A test of a vehicle, or of the `equipment` given; passed unless told otherwise."""
    values = {"by": None, "on": TESTED} | values
    if procedure is None:
        procedure = make_bench_test() if values.get("equipment") else make_procedure()
    if values.get("vehicle") is None and values.get("equipment") is None:
        values["vehicle"] = make_vehicle()
    if readings is None:
        readings = good_readings(procedure, values["on"])
    values.setdefault("done_by", None)
    values["done_by"] = values["done_by"] or make_person()
    return record_test(procedure=procedure, readings=readings, **values)


def make_item_test(**values):
    """A test of a distributor on the bench."""
    return make_test(**{"equipment": make_equipment()} | values)


def make_instrument(number="TG-4", *, calibrated=None, **values):
    """A test gauge of 0 to 10 bar, class 1; calibrated on a day if one is given."""
    values = {
        "by": None,
        "what": "Test gauge",
        "since": Moment.on(dt.date(2015, 1, 1)),
        "quantity": "pressure",
        "unit": "bar",
        "range_low": Decimal(0),
        "range_high": Decimal(10),
        "accuracy_class": Decimal(1),
    } | values
    instrument = add_instrument(number=number, **values)
    if calibrated is not None:
        make_calibration(instrument, calibrated)
    return instrument


def make_calibration(instrument, on, *, found="0.05", left="0.02", **values):
    """A calibration that found and left a gauge good, unless told otherwise."""
    moment = on if isinstance(on, Moment) else Moment.parse(str(on))
    return record_calibration(
        by=None,
        instrument=instrument,
        on=moment,
        as_found_error=Decimal(found),
        as_left_error=Decimal(left),
        **values,
    )
