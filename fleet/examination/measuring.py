"""Which instrument each reading was taken with."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from fleet.examination.models import Instrument, Reading


def used_in(
    readings: Iterable[Mapping[str, Any]], instrument: Instrument | None
) -> list[Instrument]:
    """Return every instrument named in what was written down, each once."""
    named = [row.get("instrument") for row in readings]
    by_key = {one.pk: one for one in (*named, instrument) if one is not None}
    return list(by_key.values())


def measured_with(
    instrument: Instrument | None, readings: Sequence[Reading]
) -> Sequence[Reading]:
    """Let every value that names no instrument of its own cite that of the whole test."""
    for reading in readings:
        if reading.value is not None and reading.instrument_id is None:
            reading.instrument = instrument
    return readings
