"""The fold-out of a leakage line: readings typed in, and the rate that follows."""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from functools import cached_property
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.engineering.units import QUANTITIES, refuse_impossible
from fleet.examination.asking import Asked
from fleet.examination.judging import plain, read_number
from fleet.examination.leak_readings import (
    GaugeReading,
    Worked,
    noted,
    read_series,
    work,
)

GAUGES = {"pressure_rate": "pressure", "vacuum_rate": "vacuum"}
BUTTON = "work_out"  # its value is the key of the line
SERIES_HELP = (
    "Three readings or more, one to a line: minute, reading, and if taken the °C. Such as "
    "{}."
)
_PAIR = ("first", "last")
_TIMES = ("minutes", "began", "ended")


class _NumberField(forms.Field):
    """A number as a gauge or thermometer shows it; None where left empty."""

    def __init__(self, label: str, *, below_zero: bool = False) -> None:
        # A telephone's number pad has no minus sign.
        mode = "text" if below_zero else "decimal"
        attrs = {"inputmode": mode, "autocomplete": "off"}
        super().__init__(
            label=label, required=False, widget=forms.TextInput(attrs=attrs)
        )

    def to_python(self, value: Any) -> Decimal | None:
        """Return the number that was written."""
        text = str(value or "").strip()
        if not text:
            return None
        try:
            return read_number(text)
        except ValueError as error:
            raise ValidationError(str(error), code="not_a_number") from None


class LeakForm(forms.Form):
    """Readings of one line's gauge; filled in, `worked` is what they come to."""

    gauge = forms.ChoiceField(label="Unit of the gauge")
    first = _NumberField("First reading")
    last = _NumberField("Last reading")
    minutes = _NumberField("Minutes between")
    began = forms.TimeField(
        label="Or: time of the first",
        required=False,
        widget=forms.TimeInput(attrs={"type": "time", "step": "1"}),
    )
    ended = forms.TimeField(
        label="Time of the last",
        required=False,
        widget=forms.TimeInput(attrs={"type": "time", "step": "1"}),
    )
    first_c = _NumberField("Air temperature at the first (°C)", below_zero=True)
    last_c = _NumberField("At the last (°C)", below_zero=True)
    series = forms.CharField(
        label="Or a series",
        required=False,
        help_text=SERIES_HELP.format("2 4.95 18"),
        widget=forms.Textarea(attrs={"rows": 5, "inputmode": "text"}),
    )
    within = _NumberField("Gauge read to within, either way")

    def __init__(self, data: Mapping[str, Any] | None, *, asked: Asked) -> None:
        """Take what was sent for a line; bound only where something was."""
        self.asked = asked
        prefix = f"{asked.key}_leak"
        kept = ("gauge",)  # sent along even where nothing was typed
        names = [name for name in self.base_fields if name not in kept]
        typed = data and any(data.get(f"{prefix}-{name}", "").strip() for name in names)
        super().__init__(data if typed else None, prefix=prefix)
        units = QUANTITIES[GAUGES[asked.line.quantity]].units
        gauge = self.fields["gauge"]
        gauge.choices = [(unit, unit) for unit in units]  # type: ignore[attr-defined]  # a ChoiceField
        gauge.initial = asked.line.unit.removesuffix("/min")
        if asked.line.quantity == "vacuum_rate":
            self.fields["series"].help_text = SERIES_HELP.format("2 20.5 18")

    @cached_property
    def worked(self) -> Worked | None:
        """Return what the readings come to; None where they are wrong or missing."""
        return (
            self.cleaned_data["worked"] if self.is_bound and self.is_valid() else None
        )

    @property
    def open(self) -> bool:
        """Say whether it is to be seen at once."""
        return self.is_bound

    def clean(self) -> dict[str, Any]:
        """Work the rate out, so that what is wrong shows beside the readings."""
        said = super().clean() or self.cleaned_data
        if self.errors:
            return said
        try:
            said["worked"] = work(
                self._readings(said),
                said["gauge"],
                self.asked.line.limits,
                within=said.get("within") or None,
            )
        except ValueError as error:
            raise ValidationError(str(error), code="not_worked_out") from None
        return said

    def _readings(self, said: dict[str, Any]) -> list[GaugeReading]:
        pair = [said.get(name) for name in _PAIR]
        if said.get("series"):
            if any(value is not None for value in pair):
                raise ValueError(
                    "Give the first and last reading, or a series, and clear the other."
                )
            readings = read_series(said["series"])
        elif None in pair:
            raise ValueError("Give the first and the last reading, or a series.")
        else:
            readings = _two(said)
        for reading in readings:
            refuse_impossible(reading.value, said["gauge"])
        return readings


def leak_forms(
    data: Mapping[str, Any] | None, asked: Iterable[Asked]
) -> dict[str, LeakForm]:
    """Return the fold-outs of every leakage line among those asked, by their keys."""
    return {
        one.key: LeakForm(data, asked=one)
        for one in asked
        if one.line.measured and one.line.quantity in GAUGES
    }


def filled_in(data: Any, leak: LeakForm) -> Any:
    """
    Return what was sent with a worked rate put into its line, and the note that keeps it.

    Unchanged where the readings are wrong; the fold-out then says so.
    """
    worked = leak.worked
    if worked is None:
        return data
    key = leak.asked.key
    try:
        note = noted(data.get(f"{key}_note", ""), worked)
    except ValueError as error:
        leak.add_error(None, str(error))
        return data
    sent = data.copy()
    sent[f"{key}_value"] = plain(worked.value)
    sent[f"{key}_unit"] = worked.unit
    sent[f"{key}_answer"] = ""
    sent[f"{key}_note"] = note
    return sent


def worked_out(make: Callable[[Any], Any], data: Any) -> Any:
    """
    Return the form of a test sent to work a rate out, the rate put into its line.

    Everything typed stays and nothing is judged yet: the form is shown again, and must
    not be recorded.
    """
    form = make(data)
    leak = form.leaks.get(data.get(BUTTON))
    again = make(filled_in(data, leak)) if leak else form
    again.leaks = form.leaks
    again.errors.clear()
    return again


def _two(said: dict[str, Any]) -> list[GaugeReading]:
    minutes = _minutes(said)
    if minutes <= 0:
        raise ValueError("The time between the readings must be more than 0 min.")
    first_c, last_c = said.get("first_c"), said.get("last_c")
    if (first_c is None) != (last_c is None):
        raise ValueError("Give both temperatures, or none.")
    return [
        GaugeReading(Decimal(0), said["first"], first_c),
        GaugeReading(minutes, said["last"], last_c),
    ]


def _minutes(said: dict[str, Any]) -> Decimal:
    minutes, began, ended = (said.get(name) for name in _TIMES)
    if minutes is not None and (began or ended):
        raise ValueError(
            "Give the minutes between, or the two times, and clear the other."
        )
    if minutes is not None:
        return Decimal(minutes)
    if began is None or ended is None:
        raise ValueError("Give the minutes between the readings, or both times.")
    return Decimal(_seconds(ended) - _seconds(began)) / 60


def _seconds(time: dt.time) -> int:
    return time.hour * 3600 + time.minute * 60 + time.second
