"""Which instruments the form of a test offers, and which was chosen."""

import datetime as dt
from typing import Any

from django import forms

from fleet.examination.calibration import Standing
from fleet.examination.instrument_page import standing_in_list
from fleet.examination.models import Instrument, InstrumentVersion, Reading, TestRecord


class InstrumentChoices:
    """The instruments of the register, read once for all fields of a form."""

    def __init__(self, day: dt.date) -> None:
        """Read them, and how each stands on a day."""
        rows = InstrumentVersion.objects.for_list().select_related("instrument")
        self._versions = {str(row.instrument_id): row for row in rows}
        self._choices = [(key, _label(row, day)) for key, row in self._versions.items()]

    def __bool__(self) -> bool:
        """Say whether there are any."""
        return bool(self._versions)

    def field(self, label: str, empty: str, **options: Any) -> forms.ChoiceField:
        """Return a field that offers them."""
        choices = [("", empty), *self._choices]
        return forms.ChoiceField(
            label=label, choices=choices, required=False, **options
        )

    def chosen(self, key: Any) -> Instrument | None:
        """Return the instrument a field came back with; None where none was chosen."""
        version = self._versions.get(str(key or ""))
        return version.instrument if version else None


def held_instrument(record: TestRecord) -> int | None:
    """Return the instrument every measured reading cites; None where they differ."""
    cited = {r.instrument_id for r in record.readings.all() if r.value is not None}
    return cited.pop() if len(cited) == 1 else None


def held_beside(reading: Reading, whole: int | None) -> dict[str, Any]:
    """Return what a line's own field holds: nothing where the whole test cites it."""
    own = reading.instrument_id if reading.instrument_id != whole else None
    return {"instrument": own or ""}


def _label(version: InstrumentVersion, day: dt.date) -> str:
    standing = standing_in_list(version, day)
    label = f"{version.number}, {version.what}"
    if standing is Standing.GOOD:
        return label
    return f"{label} ({standing.label.lower()})"
