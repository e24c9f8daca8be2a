"""What a test reads from a trace: start, times, maximum, release, steps, leak in hold."""

from bisect import bisect_left, bisect_right
from dataclasses import replace
from statistics import fmean, median

from fleet.engineering.trace_edges import (
    FOOT,
    NOISE_BAND,
    Mark,
    crossing,
    departure,
)
from fleet.engineering.trace_found import Hold, Step, TracePoints, Wanted, upright
from fleet.engineering.trace_levels import (
    LONGEST_WINDOW_S,
    Level,
    levels,
    settled_from,
)
from fleet.engineering.trace_parts import (
    Application,
    applications,
    mirrored,
    stretch_of,
)
from fleet.engineering.traces import Trace
from fleet.engineering.trend import fit_line

REST_S = 5.0  # the level before the application is taken from its last five seconds


def find_points(trace: Trace, wanted: Wanted | None = None) -> TracePoints:
    """
    Find what a single-vehicle test reads from the trace of a cylinder or a train pipe.

    Meant for an application, graduated or not, and its release. The percentage is of the
    rise from the level before to the maximum, so that a gauge that does not return to zero
    shifts no time; levels are as read. The maximum is that of the smoothed trace, at the
    beginning of the hold. A train pipe, whose pressure or vacuum falls on application, is
    looked at upside down.

    Times hold to within the sampling step for noise up to about three thousandths of the
    maximum at 5 to 20 samples a second; a faster logger gains no more than noise over slope
    allows. Each time says how far it may be out. Raises ValueError for a trace without an
    application in it, or without the one asked for.
    """
    wanted = wanted or Wanted()
    course = mirrored(trace) if wanted.falls else trace
    found = applications(course)
    number = _counted(found, wanted)
    if len(found) > 1:
        course = stretch_of(course, found[number - 1])
    points = replace(
        _Finder(course, wanted).points(), applications=found, counted=number
    )
    return upright(points) if wanted.falls else points


def _counted(found: tuple[Application, ...], wanted: Wanted) -> int:
    """Return the number of the application that counts, from 1."""
    if wanted.application is not None:
        if not 1 <= wanted.application <= max(len(found), 1):
            raise ValueError(
                f"There is no application {wanted.application}: "
                f"{len(found)} found in the trace."
            )
        return wanted.application
    highest = [one.highest for one in found]
    return highest.index(max(highest)) + 1 if found else 1


class _Finder:
    """One trace under examination; holds what the searches share, and the notes."""

    def __init__(self, trace: Trace, wanted: Wanted) -> None:
        self.trace, self.wanted = trace, wanted
        self.sign = -1 if wanted.falls else 1  # of a train pipe, which is upside down
        self.times, self.values = trace.smooth.times_s, trace.smooth.values
        self.notes: list[str] = []
        self.top = max(range(len(self.values)), key=self.values.__getitem__)
        low = min(self.values)
        self.span = self.values[self.top] - low
        if self.span <= max(2 * NOISE_BAND * trace.noise, 1e-9):
            raise ValueError(
                f"The trace stays at {self.sign * self.values[self.top]:.3g} "
                f"{trace.unit}; there is "
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
            self.notes.append(
                "The train pipe was not held: its lowest is where it turned."
                if self.wanted.falls
                else "The pressure was not held: the maximum is its highest."
            )
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
        if self.wanted.fill_to is not None:
            level = self.sign * self.wanted.fill_to
            if not self.rest < level <= maximum:
                self.notes.append(
                    f"The application does not pass {self.wanted.fill_to:g} "
                    f"{self.trace.unit}."
                )
                return None
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
        level = self.sign * target
        found = crossing(self.trace, level, rising=False, after_s=since, most=floor)
        if found is None:
            comes = "back" if self.wanted.falls else "down"
            self.notes.append(
                f"The release does not come {comes} to {target:g} {self.trace.unit}."
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
