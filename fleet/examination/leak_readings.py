"""A leak rate worked out from gauge readings: two of them or a series. Pure."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from math import sqrt

from fleet.engineering.flow import STANDARD_ATMOSPHERE_BAR
from fleet.engineering.leakage import (
    Judgement,
    LeakRate,
    PressureReading,
    judge,
    leak_rate,
    typed_rate,
)
from fleet.engineering.trend import t_95
from fleet.engineering.units import UNITS, convert, scaled
from fleet.examination.judging import Limits, plain, read_number

MARK = "Worked out from "  # how the note begins that keeps what was worked from
NOTE_LENGTH = 200
FEWEST = 3  # readings of a series
PLACES = Decimal("0.0001")
_PARTS = re.compile(r"[\s;]+")
_NORMAL_95 = 1.96  # two-sided, for a stated reading error
_MBAR = 1000  # in a bar
_PAIR = 2
_SMALL_FALL = 0.05  # of the absolute pressure, up to which a straight line holds

_ADVICE = {
    Judgement.WITHIN: "",
    Judgement.BEYOND: "",
    Judgement.TOO_NOISY: (
        "The readings scatter too much: look for what disturbs them and take them again."
    ),
    Judgement.TOO_SHORT: (
        "Wait longer between the readings, or use a finer gauge, and take them again."
    ),
}


@dataclass(frozen=True, slots=True)
class GaugeReading:
    """What a gauge showed after so many minutes, with the air temperature if taken."""

    minute: Decimal
    value: Decimal
    celsius: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Worked:
    """A rate as it goes into the line, the note that keeps its readings, the working."""

    value: Decimal
    unit: str
    note: str
    sentences: tuple[str, ...]
    doubtful: bool  # too noisy or too short to judge


def read_series(text: str) -> list[GaugeReading]:
    """
    Return the readings of a series typed as "minute value [°C]", one to a line.

    Raises ValueError naming the line, for fewer than three, and for times out of order.
    """
    rows = [row.strip() for row in text.splitlines()]
    readings = [_read_row(n, row) for n, row in enumerate(rows, start=1) if row]
    if len(readings) < FEWEST:
        raise ValueError(f"A series needs {FEWEST} readings or more, one to a line.")
    later = zip(readings[1:], readings, strict=False)
    if any(after.minute <= before.minute for after, before in later):
        raise ValueError("Each reading of a series is later than the one before it.")
    return readings


def work(
    readings: Sequence[GaugeReading],
    gauge: str,
    limits: Limits,
    *,
    within: Decimal | None = None,
) -> Worked:
    """
    Work out the rate of two readings or more, in the unit of the gauge a minute.

    `within` is how closely the gauge is read, either way; its standard uncertainty is
    that over √3 (GUM 4.3.7). Two readings without temperatures are divided exactly, else
    a line is fitted, pressures first brought to the temperature of the first. `limits`
    are those of the line. Raises ValueError with a sentence.
    """
    rate = _rate(readings, gauge, within)
    value, unit = _value(readings, gauge, rate)
    sentences = [_working(readings, gauge, rate)]
    judged = _judged(rate, unit, limits)
    if judged is not None:
        sentences += _verdict(judged, rate, value, unit, limits)
    sentences += _warnings(readings, gauge, value)
    doubtful = judged in {Judgement.TOO_NOISY, Judgement.TOO_SHORT}
    note = _note(readings, gauge, _band(rate, unit))
    return Worked(value, unit, note, tuple(sentences), doubtful)


def noted(before: str, worked: Worked) -> str:
    """
    Return the note of a line with what a rate was worked out from.

    What was worked out before is put aside, what else was written stays. Raises
    ValueError where it does not fit.
    """
    kept = before.partition(MARK)[0].strip(" .")
    note = f"{kept}. {worked.note}" if kept else worked.note
    if len(note) > NOTE_LENGTH:
        raise ValueError(
            "What it is worked out from does not fit into the note that keeps it: "
            f"{len(note)} letters of {NOTE_LENGTH}. Take fewer readings, further apart."
        )
    return note


def _read_row(number: int, row: str) -> GaugeReading:
    parts = [part for part in _PARTS.split(row) if part]
    if len(parts) not in {2, 3}:
        raise ValueError(
            f"Reading {number}: write the minute, the reading, and if taken the °C, such "
            "as “2 4.95” or “2 4.95 18”."
        )
    try:
        minute, value, *celsius = map(read_number, parts)
    except ValueError as error:
        raise ValueError(f"Reading {number}: {error}") from None
    return GaugeReading(minute, value, celsius[0] if celsius else None)


def _rate(
    readings: Sequence[GaugeReading], gauge: str, within: Decimal | None
) -> LeakRate:
    vacuum = UNITS[gauge].quantity == "vacuum"
    base = "mbar" if vacuum else "bar"
    taken = [
        PressureReading(
            float(reading.minute) * 60,
            # A vacuum lies so far below the atmosphere; as it is lost, pressure rises.
            float(convert(reading.value, gauge, base)) / (-_MBAR if vacuum else 1),
            None if reading.celsius is None else float(reading.celsius),
        )
        for reading in readings
    ]
    u = None
    if within is not None:
        u = float(convert(within, gauge, base)) / (_MBAR if vacuum else 1) / sqrt(3)
    rate = leak_rate(taken, reading_u_bar=u)
    return replace(rate, bar_per_min=-rate.bar_per_min) if vacuum else rate


def _value(
    readings: Sequence[GaugeReading], gauge: str, rate: LeakRate
) -> tuple[Decimal, str]:
    if len(readings) == _PAIR and not rate.temperature_corrected:
        first, last = readings
        exact = typed_rate(first.value, last.value, gauge, last.minute - first.minute)
        # Upwards: what is rounded away must not bring a rate within its limit.
        return exact.value.quantize(PLACES, ROUND_CEILING), exact.unit
    unit = f"{gauge}/min"
    fitted = Decimal(_in_unit(rate.bar_per_min, unit))
    return fitted.quantize(PLACES, ROUND_HALF_UP), unit


def _in_unit(bar_per_min: float, unit: str) -> float:
    """Return a rate of bar a minute in a unit; of vacuum a thousand mbar to the bar."""
    if UNITS[unit].quantity == "vacuum_rate":
        return scaled(bar_per_min * _MBAR, "mbar/min", unit)
    return scaled(bar_per_min, "bar/min", unit)


def _band(rate: LeakRate, unit: str) -> float | None:
    half = rate.uncertainty_bar_per_min
    # Nothing is told finer than a rate is kept.
    return None if half is None else max(_in_unit(half, unit), float(PLACES))


def _judged(rate: LeakRate, unit: str, limits: Limits) -> Judgement | None:
    if limits.high is None or limits.low is not None or limits.high <= 0:
        return None
    if UNITS[unit].quantity == "vacuum_rate":
        high = float(convert(limits.high, limits.unit, "mbar/min")) / _MBAR
    else:
        high = float(convert(limits.high, limits.unit, "bar/min"))
    return judge(rate, high).judgement


def _working(readings: Sequence[GaugeReading], gauge: str, rate: LeakRate) -> str:
    first, last = readings[0], readings[-1]
    span = plain(last.minute - first.minute)
    fall = f"From {_typed(first.value)} to {_typed(last.value)} {gauge} in {span} min"
    how = "the fall by the time"
    if len(readings) > _PAIR:
        how = f"a straight line through {len(readings)} readings by least squares"
    if rate.temperature_corrected:
        how += ", pressures brought to the temperature of the first"
        if UNITS[gauge].quantity == "vacuum":
            how += ", at a barometer of 1013 mbar"
    return f"{fall}: {how}."


def _verdict(
    judged: Judgement, rate: LeakRate, value: Decimal, unit: str, limits: Limits
) -> list[str]:
    band = _band(rate, unit)
    if band is None:
        spread = "error unknown: two readings have nothing to tell it by"
    else:
        degrees = rate.readings - _PAIR
        error = band / (t_95(degrees) if rate.scatter else _NORMAL_95)
        spread = f"± {band:.2g} {unit} at 95 %, standard error {error:.2g} {unit}"
    said = f"{plain(value)} {unit} ({spread}); limit {limits.words}: {judged}."
    return [part for part in (said, _ADVICE[judged]) if part]


def _warnings(
    readings: Sequence[GaugeReading], gauge: str, value: Decimal
) -> list[str]:
    first, last = readings[0].value, readings[-1].value
    if value < 0:
        return [
            "It rose: a feed not shut off, warming air, or a gauge that sticks. A rise does "
            "not show that nothing leaks."
        ]
    if UNITS[gauge].quantity != "pressure":
        return []
    bars = [
        float(convert(one, gauge, "bar")) + STANDARD_ATMOSPHERE_BAR
        for one in (first, last)
    ]
    if bars[0] - bars[1] > _SMALL_FALL * bars[0]:
        return [
            "It fell by more than a twentieth of the absolute pressure: the leak at the "
            "start was faster than this mean."
        ]
    return []


def _note(readings: Sequence[GaugeReading], gauge: str, band: float | None) -> str:
    if len(readings) == _PAIR:
        first, last = readings
        said = f"{_typed(first.value)} to {_typed(last.value)} {gauge} "
        said += f"in {_typed(last.minute - first.minute)} min"
        if first.celsius is not None and last.celsius is not None:
            said += f", {_typed(first.celsius)} to {_typed(last.celsius)} °C"
    else:
        said = f"min:{gauge} " + " ".join(map(_short, readings))
    spread = "" if band is None else f", ± {band:.2g}"
    return f"{MARK}{said}{spread}"


def _short(reading: GaugeReading) -> str:
    warm = "" if reading.celsius is None else f"@{_typed(reading.celsius)}"
    return f"{_typed(reading.minute)}:{_typed(reading.value)}{warm}"


def _typed(value: Decimal) -> str:
    """Return a number with the digits it was typed with."""
    return f"{value:f}"
