"""What a test reads from a trace: start, times, maximum, release, steps, leak in hold."""

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from statistics import fmean, median

from fleet.engineering.trace_edges import (
    FOOT,
    NOISE_BAND,
    Mark,
    crossing,
    departure,
)
from fleet.engineering.trace_levels import (
    LONGEST_WINDOW_S,
    Level,
    levels,
    settled_from,
)
from fleet.engineering.traces import Trace
from fleet.engineering.trend import fit_line

REST_S = 5.0  # the level before the application is taken from its last five seconds


@dataclass(frozen=True, slots=True)
class Wanted:
    """
    What to look for.

    `percent` of the rise to time from the start (95: filling time as in position P, common
    practice); `release_to` the value at which the release ends, in the trace's unit (0.4 bar
    or kg/cm², common practice). A stretch counts as still below `still` of the rise a
    second for `lasting_s`: a test held for less is not seen as held.
    """

    percent: float = 95.0
    release_to: float | None = None
    still: float = 0.005
    lasting_s: float = 1.0

    def __post_init__(self) -> None:
        if not 0 < self.percent < 100:
            raise ValueError(
                f"Time to a percentage between 0 and 100, not {self.percent:g}."
            )
        if self.still <= 0 or self.lasting_s <= 0:
            raise ValueError("Give a slope and a duration above zero for a hold.")


@dataclass(frozen=True, slots=True)
class Hold:
    """
    The stretch at the maximum: fall in units a minute, positive where it falls.

    `error_per_min` is the standard error from the scatter; None for two samples. Drift
    of the gauge and air that cools after filling look like a leak and are not told apart.
    """

    from_s: float
    until_s: float
    fall_per_min: float
    error_per_min: float | None


@dataclass(frozen=True, slots=True)
class Step:
    """A step of a graduated application: the level it reached, when it rose half of it."""

    value: float
    rise: float
    risen_at_s: float | None
    from_s: float
    until_s: float


@dataclass(frozen=True, slots=True)
class TracePoints:
    """
    The found points, times in s, values in `unit`; None where `notes` say why not.

    `fill_s` runs from `start` to `filled`, `release_s` from `release_start` to `released`.
    """

    unit: str
    rest: float
    maximum: float
    start: Mark | None
    filled: Mark | None
    peak: Mark
    release_start: Mark | None
    released: Mark | None
    hold: Hold | None
    steps: tuple[Step, ...]
    notes: tuple[str, ...]

    @property
    def fill_s(self) -> float | None:
        """Return the time from the start to the percentage of the maximum, s."""
        return _from_to(self.start, self.filled)

    @property
    def release_s(self) -> float | None:
        """Return the time from the start of the release to its threshold, s."""
        return _from_to(self.release_start, self.released)


def find_points(trace: Trace, wanted: Wanted | None = None) -> TracePoints:
    """
    Find what a single-vehicle test reads from the trace of a cylinder that fills.

    Meant for one application, graduated or not, and its release; of several the one with
    the highest value is taken. The percentage is of the rise from the level before to the
    maximum, so that a gauge that does not return to zero shifts no time; `release_to` is
    as read. The maximum is that of the smoothed trace, at the beginning of the hold. A train
    pipe, whose pressure or vacuum falls on application, is judged by `crossing` alone.

    Times hold to within the sampling step for noise up to about three thousandths of the
    maximum at 5 to 20 samples a second; a faster logger gains no more than noise over slope
    allows. Each time says how far it may be out. Raises ValueError for a trace without an
    application in it.
    """
    return _Finder(trace, wanted or Wanted()).points()


class _Finder:
    """One trace under examination; holds what the searches share, and the notes."""

    def __init__(self, trace: Trace, wanted: Wanted) -> None:
        self.trace, self.wanted = trace, wanted
        self.times, self.values = trace.smooth.times_s, trace.smooth.values
        self.notes: list[str] = []
        self.top = max(range(len(self.values)), key=self.values.__getitem__)
        low = min(self.values)
        self.span = self.values[self.top] - low
        if self.span <= max(2 * NOISE_BAND * trace.noise, 1e-9):
            raise ValueError(
                f"The trace stays at {self.values[self.top]:.3g} {trace.unit}; there is "
                "no application in it. Choose the right column or recording."
            )
        self.rest, self.rests = self._rest()
        if self.rests:
            self.span = self.values[self.top] - self.rest
        else:
            self.rest = low

    def points(self) -> TracePoints:
        """Find them in order of dependence: levels, maximum, times."""
        still = self._levels()
        held = self._held(still)
        maximum, hold, peak = self._maximum(held)
        start = self._start(maximum)
        filled = self._filled(start, maximum)
        gone, released = self._release(held, hold, maximum)
        steps = self._steps(still, start, peak, maximum)
        self._warn(start, filled, gone, released)
        return TracePoints(
            self.trace.unit, self.rest, maximum, start, filled, peak,
            gone, released, hold, steps, tuple(self.notes),
        )  # fmt: skip

    def _rest(self) -> tuple[float, bool]:
        """Return the level before the application, and whether it was seen at all."""
        before = self.values[: self.top + 1]
        low, thresh = min(before), 0.1 * self.span
        end = max((i for i, v in enumerate(before) if v < low + thresh), default=0)
        begin = next((i for i in range(end, -1, -1) if before[i] >= low + thresh), -1)
        since = bisect_left(self.times, self.times[end] - REST_S)
        quiet = before[max(begin + 1, min(since, end - 2), 0) : end + 1]
        first = median(sorted(quiet)[: (len(quiet) + 1) // 2])
        near = max(NOISE_BAND * self.trace.noise, FOOT * self.span)
        rest = median([v for v in quiet if abs(v - first) <= near] or [first])
        return rest, end < self.top and self.values[0] < low + 2 * thresh

    def _levels(self) -> list[Level]:
        wanted = self.wanted
        return levels(
            self.trace.smooth,
            self.span,
            still=wanted.still,
            lasting_s=wanted.lasting_s,
        )

    def _held(self, still: list[Level]) -> Level | None:
        """Return the still stretch at the maximum, which a filling may still creep up to."""
        near = self.wanted.lasting_s + LONGEST_WINDOW_S / 2
        at, low = self.times[self.top], self.rest + 0.7 * self.span
        high = (s for s in still if s.value >= low)
        return next(
            (s for s in high if s.from_s - near <= at <= s.until_s + near), None
        )

    def _maximum(self, held: Level | None) -> tuple[float, Hold | None, Mark]:
        at, value = self.times[self.top], self.values[self.top]
        if held is None:
            self.notes.append("The pressure was not held: the maximum is its highest.")
            return value, None, Mark(at, value, self.trace.step_s)
        first = bisect_left(self.times, held.from_s)
        last = bisect_right(self.times, held.until_s)
        first = settled_from(self.trace.smooth, first, last, self.span)
        times, values = self._unsmoothed(first, last)
        line = fit_line([t - times[0] for t in times], values)
        error = line.standard_error
        falls = line.slope < 0 and (error is None or -line.slope > 3 * error)
        maximum = line.intercept if falls else fmean(values)
        hold = Hold(
            self.times[first],
            held.until_s,
            -line.slope * 60 + 0.0,
            None if error is None else error * 60,
        )
        return maximum, hold, Mark(self.times[first], maximum, self.trace.step_s)

    def _unsmoothed(self, first: int, last: int) -> tuple[list[float], list[float]]:
        """
        Return a stretch, two samples at least, as read but for spikes.

        Smoothing makes neighbours alike, and the error of a slope would come out small.
        """
        first = min(first, last - 2)
        times, smooth = self.times[first:last], self.values[first:last]
        if len(self.trace) > len(self.times):
            return times, smooth
        raw, spike = self.trace.values[first:last], 6 * self.trace.noise
        pairs = zip(raw, smooth, strict=True)
        return times, [r if abs(r - s) <= spike else s for r, s in pairs]

    def _start(self, maximum: float) -> Mark | None:
        if not self.rests:
            self.notes.append(
                "The trace begins after the application did: its start is not in it."
            )
            return None
        return departure(
            self.trace,
            self.rest,
            maximum,
            after_s=self._last_low(),
            before_s=self.times[self.top],
        )

    def _last_low(self) -> float:
        low = self.rest + 0.1 * self.span
        at = (i for i in range(self.top, -1, -1) if self.values[i] < low)
        return self.times[next(at, 0)]

    def _filled(self, start: Mark | None, maximum: float) -> Mark | None:
        level = self.rest + (maximum - self.rest) * self.wanted.percent / 100
        since = start.at_s if start else self.trace.first_s
        found = crossing(self.trace, level, rising=True, after_s=since, most=maximum)
        if found is None:
            self.notes.append(
                f"The trace begins above {self.wanted.percent:g} % of its maximum."
            )
        return found

    def _release(
        self, held: Level | None, hold: Hold | None, maximum: float
    ) -> tuple[Mark | None, Mark | None]:
        target = self.wanted.release_to
        since = held.until_s if held else self.times[self.top]
        after = self.values[bisect_left(self.times, since) :]
        floor = min(after)
        if maximum - floor < 0.2 * self.span:
            self.notes.append("There is no release in the trace.")
            return None, None
        top = maximum
        if hold is not None:
            top -= hold.fall_per_min / 60 * (hold.until_s - hold.from_s)
        gone = self._leaves(top, floor, since)
        if gone is not None and hold is not None:
            # The leak goes on from the end of the hold as seen to the release itself.
            top -= hold.fall_per_min / 60 * (gone.at_s - hold.until_s)
            gone = self._leaves(top, floor, since)
        if target is None:
            return gone, None
        return gone, self._released(target, since, floor)

    def _leaves(self, top: float, floor: float, since: float) -> Mark | None:
        last = self.trace.last_s
        return departure(self.trace, top, floor, after_s=since, before_s=last)

    def _released(self, target: float, since: float, floor: float) -> Mark | None:
        found = crossing(self.trace, target, rising=False, after_s=since, most=floor)
        if found is None:
            self.notes.append(
                f"The release does not come down to {target:g} {self.trace.unit}."
            )
        return found

    def _steps(
        self, still: list[Level], start: Mark | None, peak: Mark, maximum: float
    ) -> tuple[Step, ...]:
        """Return the levels between the start and the maximum, each higher than the last."""
        since = start.at_s if start else self.trace.first_s
        steps: list[Step] = []
        below = self.rest
        for level in still:
            value = maximum if level.until_s >= peak.at_s else level.value
            if level.until_s <= since or value < below + 0.03 * self.span:
                continue
            risen = crossing(
                self.trace, (below + value) / 2, rising=True, after_s=since, most=value
            )
            from_s = level.from_s
            steps.append(
                Step(
                    value,
                    value - below,
                    risen.at_s if risen else None,
                    from_s,
                    level.until_s,
                )
            )
            below, since = value, level.until_s
            if level.until_s >= peak.at_s:
                break
        return tuple(steps)

    def _warn(self, *marks: Mark | None) -> None:
        for gap in self.trace.gaps:
            if any(m and gap.from_s <= m.at_s <= gap.until_s for m in marks):
                self.notes.append(
                    f"No samples from {gap.from_s:.2f} s to {gap.until_s:.2f} s, where "
                    "one of the points lies."
                )
        if self.trace.skipped:
            self.notes.append(f"{self.trace.skipped} samples had no number in them.")


def _from_to(first: Mark | None, second: Mark | None) -> float | None:
    return None if first is None or second is None else second.at_s - first.at_s
