"""Pressure against time as a logger or a hand wrote it: samples, gaps, noise."""

import math
from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from statistics import median

from fleet.engineering.units import UNITS, unit_named

MOST_SAMPLES = 1_000_000
FEWEST_SAMPLES = 3
MOST_BLOCKS = 5_000
# Two steps of a jittering logger are no gap; a hand-typed trace has none at all.
GAP_STEPS = 5.0
TYPED_SAMPLES = 50
# A median absolute deviation of 0.6745 is a normal spread of one; a second difference
# of three independent readings spreads sqrt(1 + 4 + 1) times as wide as one of them.
SECOND_DIFFERENCE = 0.6745 * math.sqrt(6)
BELOW_NOTHING_PA = -110_000


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch without samples, seconds."""

    from_s: float
    until_s: float


@dataclass(frozen=True, slots=True)
class Series:
    """
    Samples smoothed for finding.

    `noise` is their standard deviation about the truth, `rounding` the logger's step.
    """

    times_s: list[float]
    values: list[float]
    noise: float
    rounding: float = 0.0


@dataclass(frozen=True, slots=True)
class Block:
    """Neighbouring samples as one: middle time, mean without its two extremes, extremes."""

    at_s: float
    mean: float
    low: float
    high: float


@dataclass(frozen=True)
class Trace:
    """
    A pressure or a vacuum against time: seconds, rising or equal, and values in `unit`.

    Made by `trace_of` or `trace_files.read_trace`, which refuse what is no trace.
    `skipped` counts the samples the file had without a number in them.
    """

    times_s: "array[float]"
    values: "array[float]"
    unit: str
    skipped: int = 0

    def __len__(self) -> int:
        return len(self.times_s)

    @property
    def first_s(self) -> float:
        """Return the time of the first sample, s."""
        return self.times_s[0]

    @property
    def last_s(self) -> float:
        """Return the time of the last sample, s."""
        return self.times_s[-1]

    @cached_property
    def step_s(self) -> float:
        """Return the usual time from sample to sample, s: the median of 2 000 of them."""
        last = len(self) - 1
        places = range(0, last, max(1, last // 2_000))
        return median(self.times_s[i + 1] - self.times_s[i] for i in places)

    @cached_property
    def noise(self) -> float:
        """
        Return the standard deviation of one sample's noise, in `unit`.

        From second differences, so that neither slope nor drift counts as noise; never
        below that of the logger's own steps, where it has any. Noise that is slower than
        a few samples is not seen. Zero for a trace short enough to be typed.
        """
        if len(self) <= TYPED_SAMPLES:
            return 0.0
        # Evenly spread rounding of width q has the standard deviation q / sqrt(12).
        return max(noise_of(self.values), self.rounding / math.sqrt(12))

    @cached_property
    def rounding(self) -> float:
        """Return the step the logger rounds to, in `unit`; 0 if its values are on none."""
        return rounding_of(self.values) if len(self) > TYPED_SAMPLES else 0.0

    @cached_property
    def gaps(self) -> tuple[Gap, ...]:
        """Return the stretches of more than five usual steps without a sample."""
        return tuple(_gaps(self)) if len(self) > TYPED_SAMPLES else ()

    @cached_property
    def blocks(self) -> tuple[Block, ...]:
        """Return at most 5 000 blocks of neighbouring samples; a block of one is itself."""
        return tuple(_blocks(self.times_s, self.values))

    @cached_property
    def smooth(self) -> Series:
        """Return the series in which points are looked for, free of single spikes."""
        if len(self) <= MOST_BLOCKS:
            return self.series(0, len(self))
        means = [block.mean for block in self.blocks]
        times = [block.at_s for block in self.blocks]
        return Series(times, means, noise_of(means), self.rounding)

    def series(self, first: int, last: int) -> Series:
        """Return samples `first` up to, not including, `last`, free of single spikes."""
        values = list(self.values[first:last])
        spiky = len(self) > TYPED_SAMPLES
        smooth = without_spikes(values) if spiky else values
        return Series(list(self.times_s[first:last]), smooth, self.noise, self.rounding)

    def between(self, from_s: float, until_s: float) -> tuple[int, int]:
        """Return the places of the samples in a stretch of time, as for `series`."""
        return bisect_left(self.times_s, from_s), bisect_right(self.times_s, until_s)


def trace_of(
    times_s: Iterable[float], values: Iterable[float], unit: str, *, skipped: int = 0
) -> Trace:
    """
    Return the trace of typed or read points: seconds, and values in a unit of pressure.

    Valid for 3 to 1 000 000 points in order of time. Points of one time, as a logger
    with a coarse clock writes them, become their mean. Raises ValueError with a
    sentence for the user.
    """
    times, numbers = array("d", times_s), array("d", values)
    if len(times) != len(numbers):
        raise ValueError("Give every point a time and a value.")
    _refuse_size(len(times))
    if not (math.isfinite(sum(times)) and math.isfinite(sum(numbers))):
        raise ValueError("Give a number for every time and every value.")
    _refuse_order(times)
    return ordered_trace(times, numbers, unit, skipped=skipped)


def ordered_trace(
    times: "array[float]", values: "array[float]", unit: str, *, skipped: int = 0
) -> Trace:
    """Return the trace of finite points known to be in order; else as `trace_of`."""
    _refuse_size(len(times))
    trace = Trace(*_one_a_time(times, values), pressure_unit(unit), skipped)
    _refuse_size(len(trace))
    _refuse_impossible(trace)
    return trace


def pressure_unit(text: str) -> str:
    """Return the unit meant; ValueError where it measures no pressure and no vacuum."""
    name = unit_named(text)
    if UNITS[name].quantity not in {"pressure", "vacuum"}:
        raise ValueError(f"A trace is of pressure or vacuum; {name} measures neither.")
    return name


def noise_of(values: Sequence[float]) -> float:
    """Return the standard deviation of the noise on `values`; see `Trace.noise`."""
    places = _places(values)
    bends = [abs(values[i - 1] - 2 * values[i] + values[i + 1]) for i in places]
    return median(bends) / SECOND_DIFFERENCE if bends else 0.0


def rounding_of(values: Sequence[float]) -> float:
    """Return the step of which all values, as far as looked at, are multiples, else 0."""
    seen = sorted({values[i] for i in _places(values)})
    step = min((b - a for a, b in pairwise(seen) if b - a > 1e-9), default=0.0)
    if step == 0 or len(seen) < 3:
        return 0.0
    off = (abs(value / step - round(value / step)) for value in seen)
    return step if max(off) < 0.01 else 0.0


def _places(values: Sequence[float]) -> range:
    last = len(values) - 1
    return range(1, last, max(1, last // 2_000))


def without_spikes(values: Sequence[float]) -> list[float]:
    """
    Return each value as the median of itself and its neighbours.

    At the ends the neighbour beyond is the next two carried on straight (Tukey 1977, end
    point rule; from memory). Two spikes side by side stay.
    """
    if len(values) < 3:
        return list(values)
    middle = [
        _middle(a, b, c)
        for a, b, c in zip(values, values[1:], values[2:], strict=False)
    ]
    near, far = (middle[0], middle[-1]), (middle[:2][-1], middle[-2:][0])
    first = _middle(values[0], near[0], 3 * near[0] - 2 * far[0])
    last = _middle(values[-1], near[1], 3 * near[1] - 2 * far[1])
    return [first, *middle, last]


def _middle(a: float, b: float, c: float) -> float:
    return max(min(a, b), min(max(a, b), c))


def _blocks(times: "array[float]", values: "array[float]") -> Iterator[Block]:
    size = math.ceil(len(times) / MOST_BLOCKS)
    for first in range(0, len(times), size):
        part = values[first : first + size].tolist()
        low, high, whole = min(part), max(part), sum(part)
        many = len(part) > 4
        mean = (whole - low - high) / (len(part) - 2) if many else whole / len(part)
        end = first + len(part) - 1
        yield Block((times[first] + times[end]) / 2, mean, low, high)


def _gaps(trace: Trace) -> Iterator[Gap]:
    """Look only into blocks that last longer than their samples take."""
    times, limit = trace.times_s, GAP_STEPS * trace.step_s
    size = math.ceil(len(times) / MOST_BLOCKS)
    for first in range(0, len(times) - 1, size):
        last = min(first + size, len(times) - 1)
        slack = times[last] - times[first] - (last - first) * trace.step_s
        if slack < limit / 2:
            continue
        for before, after in pairwise(times[first : last + 1]):
            if after - before > limit:
                yield Gap(before, after)


def _refuse_size(samples: int) -> None:
    if not samples:
        raise ValueError("The trace is empty: give times and pressures.")
    if samples < FEWEST_SAMPLES:
        raise ValueError(
            f"A trace needs at least {FEWEST_SAMPLES} points, not {samples}."
        )
    if samples > MOST_SAMPLES:
        raise ValueError(
            f"The trace has more than {MOST_SAMPLES:,} points; "
            "cut it, or log more slowly.".replace(",", " ", 1)
        )


def _refuse_order(times: "array[float]") -> None:
    listed = times.tolist()
    if listed == sorted(listed):
        return
    if listed == sorted(listed, reverse=True):
        raise ValueError("Time runs backwards; sort the file by time, oldest first.")
    at = next(i for i, (a, b) in enumerate(pairwise(listed)) if b < a)
    raise ValueError(
        f"Time goes back at point {at + 2}, from {listed[at]:g} s to "
        f"{listed[at + 1]:g} s; give one recording only, in order of time."
    )


def _one_a_time(
    times: "array[float]", values: "array[float]"
) -> tuple["array[float]", "array[float]"]:
    """Return the samples with those of one time, if any are seen, made one."""
    last = len(times) - 1
    places = range(0, last, max(1, last // 2_000))
    if all(times[i] < times[i + 1] for i in places):
        return times, values
    ats, means, first = array("d"), array("d"), 0
    for end in range(1, len(times) + 1):
        if end == len(times) or times[end] > times[first]:
            ats.append(times[first])
            means.append(sum(values[first:end]) / (end - first))
            first = end
    return ats, means


def _refuse_impossible(trace: Trace) -> None:
    unit = UNITS[trace.unit]
    lowest = min(block.low for block in trace.blocks) * float(unit.factor)
    if lowest < BELOW_NOTHING_PA:
        raise ValueError(
            f"A reading of {lowest / float(unit.factor):g} {trace.unit} lies below an "
            "empty space; choose the right column and unit."
        )
