"""Where a trace stands still: its plateaus, by the slope of a window that moves along it."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate, groupby, pairwise
from statistics import fmean

from fleet.engineering.traces import TYPED_SAMPLES, Series

LONGEST_WINDOW_S = 5.0
SETTLING_PART = 0.001  # of the whole rise, short of which a level counts as reached


@dataclass(frozen=True, slots=True)
class Level:
    """
    A stretch that stands still: mean value, from and until in s.

    Its ends lie up to half a window inside the true ones.
    """

    value: float
    from_s: float
    until_s: float


@dataclass(frozen=True, slots=True)
class _Moving:
    """Slope and mean of the window about every sample."""

    slopes: list[float]
    means: list[float]


def levels(
    course: Series, span: float, *, still: float, lasting_s: float
) -> list[Level]:
    """
    Return the stretches that stand still, in order.

    Still is a slope of less than `still` parts of `span` a second, for `lasting_s` or
    longer. A leak slower than that is part of the stretch; a slower filling looks like one.
    """
    if len(course.times_s) <= TYPED_SAMPLES:
        return list(_between_points(course, still * span, lasting_s))
    window = _window(course, still * span, lasting_s)
    moving = _moving(course, window)
    flat = [abs(slope) <= still * span for slope in moving.slopes]
    found: list[Level] = []
    for level in _runs(course, flat, lasting_s - window):
        if found and _one(found[-1], level, window, still * span):
            before = found.pop()
            level = Level(_merged(before, level), before.from_s, level.until_s)  # noqa: PLW2901
        found.append(level)
    return found


def _between_points(course: Series, still: float, lasting_s: float) -> Iterator[Level]:
    """Yield the levels of points too few for a window: from point to still point."""
    times, values = course.times_s, course.values
    flat = [
        abs(after - before) <= still * (until - since)
        for (since, before), (until, after) in pairwise(zip(times, values, strict=True))
    ]
    for is_still, places in groupby(range(len(flat)), flat.__getitem__):
        run = list(places)
        first, last = run[0], run[-1] + 1
        if is_still and times[last] - times[first] >= lasting_s:
            yield Level(fmean(values[first : last + 1]), times[first], times[last])


def settled_from(course: Series, first: int, last: int, span: float) -> int:
    """Return the place from which a stretch has reached its highest running mean."""
    part = Series(course.times_s[first:last], course.values[first:last], course.noise)
    width = max((part.times_s[-1] - part.times_s[0]) / 20, 0.0)
    means = _moving(part, width).means
    count = max(len(means) / 20, 1)
    short = max(3.5 * course.noise / math.sqrt(count), SETTLING_PART * span)
    top = max(means)
    return first + next(i for i, mean in enumerate(means) if mean >= top - short)


def _window(course: Series, still: float, lasting_s: float) -> float:
    """Return the window, s, in which noise or one rounding does not look like a slope."""
    count = len(course.times_s)
    step = (course.times_s[-1] - course.times_s[0]) / (count - 1)
    # A slope over n samples in w seconds is out by noise·sqrt(12 / n) / w, n = w / step.
    quiet = math.cbrt(12 * step * (4 * course.noise / still) ** 2)
    quiet = max(quiet, 1.5 * course.rounding / still)
    return max(2.01 * step, min(max(lasting_s / 2, quiet), LONGEST_WINDOW_S))


def _moving(course: Series, window: float) -> _Moving:
    times, values = course.times_s, course.values
    start, rest = times[0], values[0]
    us, vs = [t - start for t in times], [v - rest for v in values]
    sums = [
        list(accumulate(column, initial=0.0))
        for column in (
            us,
            vs,
            [u * u for u in us],
            [u * v for u, v in zip(us, vs, strict=True)],
        )
    ]
    moving = _Moving([], [])
    first = last = 0
    for u in us:
        while us[first] < u - window / 2:
            first += 1
        while last < len(us) and us[last] <= u + window / 2:
            last += 1
        n = last - first
        su, sv, suu, suv = (column[last] - column[first] for column in sums)
        spread = suu - su * su / n
        moving.slopes.append((suv - su * sv / n) / spread if spread > 1e-12 else 0.0)
        moving.means.append(rest + sv / n)
    return moving


def _runs(course: Series, flat: list[bool], at_least_s: float) -> Iterator[Level]:
    for still, places in groupby(range(len(flat)), flat.__getitem__):
        run = list(places)
        first, last = run[0], run[-1]
        lasts = course.times_s[last] - course.times_s[first]
        if still and len(run) > 1 and lasts >= at_least_s:
            mean = fmean(course.values[first : last + 1])
            yield Level(mean, course.times_s[first], course.times_s[last])


def _one(before: Level, after: Level, window: float, still: float) -> bool:
    """Say whether noise alone broke a stretch in two: a step leaves a longer break."""
    apart = (after.from_s + after.until_s - before.from_s - before.until_s) / 2
    near = abs(before.value - after.value) <= still * (apart + 1)
    return near and after.from_s - before.until_s <= 0.9 * window


def _merged(before: Level, after: Level) -> float:
    first, second = before.until_s - before.from_s, after.until_s - after.from_s
    return (before.value * first + after.value * second) / (first + second)
