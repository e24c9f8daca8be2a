"""What a record holds already, as the form of a test takes it."""

from typing import Any

from fleet.examination.asking import key_of
from fleet.examination.instrument_choices import held_beside, held_instrument
from fleet.examination.judging import plain
from fleet.examination.models import Reading, TestRecord
from fleet.examination.trace_forms import held_traces
from fleet.examination.vocabulary import ATTACHED, Answer


def held_in(record: TestRecord) -> dict[str, Any]:
    """Return what the form that corrects a record begins with."""
    values: dict[str, Any] = {
        "on": record.on,
        "done_by": record.done_by_id,
        "place": record.place_id,
        "ambient_c": record.ambient_c,
        "instruments": record.instruments,
        "remarks": record.remarks,
    }
    whole = held_instrument(record)
    values["instrument"] = whole or ""
    values |= held_traces(record) | {"correcting": record}
    for reading in record.readings.all():
        values |= _held_reading(reading, whole)
    return values


def last_time(record: TestRecord | None) -> dict[tuple[str, str, str], Reading]:
    """Return the readings of the record before, by what they are recognised by."""
    if record is None:
        return {}
    return {
        (reading.line.text, reading.line.stage, reading.position): reading
        for reading in record.readings.all()
    }


def _held_reading(reading: Reading, whole: int | None) -> dict[str, Any]:
    key = key_of(reading.line.order, reading.position)
    if reading.value is not None:
        number = reading.typed or plain(reading.value)
        held = {"value": number, "unit": reading.unit} | held_beside(reading, whole)
    elif reading.line.kind in ATTACHED and reading.answer == Answer.RECORDED:
        held = {}
    elif reading.answer == Answer.RECORDED and not reading.choice:
        held = {"answer": Answer.NOT_MET}  # found so, then put right
    else:
        held = {"answer": reading.choice or reading.answer}
    return {
        f"{key}_{part}": value
        for part, value in (held | {"note": reading.note}).items()
    }
