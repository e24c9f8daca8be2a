"""Where a trace crosses a level and where it leaves one, to within its samples and noise."""

import math
from bisect import bisect_right
from dataclasses import dataclass

from fleet.engineering.parabola import Parabola, fit_parabola
from fleet.engineering.traces import MOST_BLOCKS, Series, Trace

NOISE_BAND = 4.0  # standard deviations: noise alone passes once in 30 000 samples
MOST_FITTED = 4 * MOST_BLOCKS
# A curve is believed over a line where it leaves clearly less unexplained.
BETTER = 0.7
FEW_SAMPLES = 8  # fewer tell no curve from noise
FOOT, KNEE = 0.02, 0.15  # parts of the whole rise between which its foot is judged


@dataclass(frozen=True, slots=True)
class Mark:
    """
    A found point: time in s, value in the trace's unit.

    `within_s` is how far the time may be out: the samples either side, or where noise is
    the larger, its standard error times two.
    """

    at_s: float
    value: float
    within_s: float


def crossing(
    trace: Trace,
    level: float,
    *,
    rising: bool,
    after_s: float | None = None,
    most: float | None = None,
) -> Mark | None:
    """
    Return where the trace first passes `level` for good; None if it never does.

    The first sample that is past the level by four times the noise decides; about it,
    back to the last sample short of the level by as much, a line or, where it fits
    clearly better, a parabola is fitted, and its crossing is the time. `most` is the
    furthest value the trace goes to, so that a level close to it can be passed at all.
    """
    course, sign = trace.smooth, 1 if rising else -1
    start = 0 if after_s is None else max(bisect_right(course.times_s, after_s) - 1, 0)
    coarse = _bracket(course, level, sign, start, _band(trace.noise, level, most))
    if coarse is None:
        return None
    times = course.times_s
    pad = 2 * (times[-1] - times[0]) / len(times)
    first, last = trace.between(times[coarse[0]] - pad, times[coarse[1]] + pad)
    if len(trace) <= MOST_BLOCKS or last - first > MOST_FITTED:
        return _located(course, level, sign, coarse)
    fine = trace.series(first, last)
    found = _bracket(fine, level, sign, 0, _band(trace.noise, level, most))
    if found is None:
        return _located(course, level, sign, coarse)
    return _located(fine, level, sign, found)


def departure(
    trace: Trace, rest: float, peak: float, *, after_s: float, before_s: float
) -> Mark | None:
    """
    Return where the trace leaves `rest` on its way to `peak`: the foot of the rise or fall.

    The samples from a fiftieth to three twentieths of the way are carried back to `rest`
    along a line or parabola, so that the time lies between samples and noise does not
    delay it. A start that creeps for less than a fiftieth of the rise is not seen. None
    where the trace does not rest before.
    """
    course = trace.smooth
    span, sign = abs(peak - rest), 1 if peak > rest else -1
    gone = [sign * (value - rest) for value in course.values]
    foot = max(NOISE_BAND * trace.noise, FOOT * span)
    knee = max(KNEE * span, 2 * foot)
    end = bisect_right(course.times_s, before_s)
    high = next((i for i in range(end) if gone[i] >= knee
                 and course.times_s[i] >= after_s), None)  # fmt: skip
    if high is None:
        return None
    low = next((i for i in range(high, -1, -1) if gone[i] < foot), None)
    if low is None:
        return None
    return _foot(_samples(trace, low, high), rest, sign, (foot, knee))


def _samples(trace: Trace, low: int, high: int) -> Series:
    """Return the samples of a stretch of the smooth course, from before to after it."""
    course = trace.smooth
    # Well back, so that the last sample at rest is among them in spite of its noise.
    back = max(2, (high - low) // 2)
    low, high = max(low - back, 0), min(high + 1, len(course.times_s) - 1)
    first, last = trace.between(course.times_s[low], course.times_s[high])
    if len(trace) <= MOST_BLOCKS or last - first > MOST_FITTED:
        span = slice(low, high + 1)
        return Series(course.times_s[span], course.values[span], course.noise)
    return trace.series(first, last)


def _foot(
    part: Series, rest: float, sign: int, limits: tuple[float, float]
) -> Mark | None:
    foot, knee = limits
    gone = [sign * (value - rest) for value in part.values]
    # The stretch ends past the knee: walk back to the last sample still at rest.
    low = max((i for i, way in enumerate(gone) if way < foot), default=None)
    if low is None or low + 1 >= len(gone):
        return None
    last = len(gone) - 1
    high = next((i for i in range(low, last) if gone[i] >= knee), last)
    times, ways = part.times_s[low + 1 : high + 1], gone[low + 1 : high + 1]
    if len(times) < 2:
        times, ways = part.times_s[low + 1 : low + 3], gone[low + 1 : low + 3]
    times, ways = _unbent(part.noise, times, ways)
    earliest, latest = part.times_s[low], part.times_s[low + 1]
    at = _reached(times, ways, 0.0) if len(times) > 1 else None
    if at is None:
        at = (earliest + latest) / 2
    reach = max(times[-1] - earliest, latest - earliest)
    at = min(max(at, earliest - reach), latest)
    return Mark(at, rest, _doubt(part, times, ways, latest - earliest))


def _unbent(
    noise: float, times: list[float], ways: list[float]
) -> tuple[list[float], list[float]]:
    """Return the beginning of a rise, as much of it as a parabola follows to the noise."""
    while len(times) > FEW_SAMPLES:
        curve = _course(times, ways)
        if curve is None or curve.left <= len(times) * (1.5 * noise) ** 2:
            break
        keep = max(len(times) * 3 // 4, FEW_SAMPLES)
        times, ways = times[:keep], ways[:keep]
    return times, ways


def _band(noise: float, level: float, most: float | None) -> float:
    band = NOISE_BAND * noise
    return band if most is None else min(band, abs(most - level) / 2)


def _bracket(
    part: Series, level: float, sign: int, start: int, band: float
) -> tuple[int, int] | None:
    """Return the last place short of the level and the first past it, clear of noise."""
    past = [sign * (value - level) for value in part.values[start:]]
    end = next((i for i, way in enumerate(past) if way >= band), None)
    if not end:
        return None
    begin = next((i for i in range(end - 1, -1, -1) if past[i] <= -band), None)
    if begin is None:
        begin = next((i for i in range(end) if past[i] < 0), None)
    return None if begin is None else (start + begin, start + end)


def _located(part: Series, level: float, sign: int, bracket: tuple[int, int]) -> Mark:
    begin, end = bracket
    ways = [sign * (value - level) for value in part.values]
    last = max(i for i in range(begin, end) if ways[i] < 0 or i == begin)
    sides = part.times_s[last + 1] - part.times_s[last]
    if end - begin <= 3 or part.noise == 0:
        return Mark(_between(part.times_s, ways, last), level, sides)
    more = max(2, (end - begin) // 4)
    span = slice(max(begin - more, 0), end + more + 1)
    times, near = part.times_s[span], ways[span]
    at = _reached(times, near, 0.0)
    if at is None or not times[0] <= at <= times[-1]:
        at = _between(part.times_s, ways, last)
    return Mark(at, level, _doubt(part, times, near, sides))


def _between(times: list[float], ways: list[float], before: int) -> float:
    rise = ways[before + 1] - ways[before]
    part = -ways[before] / rise if rise > 0 else 0.5
    return times[before] + (times[before + 1] - times[before]) * min(max(part, 0), 1)


def _reached(times: list[float], ways: list[float], level: float) -> float | None:
    curve = _course(times, ways)
    return None if curve is None else curve.reaches(level)


def _course(times: list[float], ways: list[float]) -> Parabola | None:
    line = fit_parabola(times, ways, bent=False)
    if line is None or len(times) < 4:
        return line
    bent = fit_parabola(times, ways)
    if bent is None or bent.left > BETTER * line.left or bent.reaches(0.0) is None:
        return line
    return bent


def _doubt(part: Series, times: list[float], ways: list[float], sides: float) -> float:
    line = fit_parabola(times, ways, bent=False)
    if line is None or line.c1 == 0:
        return sides
    return max(sides, 2 * part.noise / abs(line.c1) / math.sqrt(len(times)))
