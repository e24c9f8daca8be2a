"""The applications a recording holds, and a train pipe's course turned upside down."""

from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass

from fleet.engineering.traces import Trace

# Parts of the whole rise: above the one an application has begun, below the other it is
# over. Between them a graduated release may pause. Common practice sets neither.
BEGUN, OVER = 0.3, 0.15


@dataclass(frozen=True, slots=True)
class Application:
    """One application: when it rises, the stretch it is looked for in, its highest value."""

    rises_s: float
    from_s: float
    until_s: float
    highest: float


def applications(trace: Trace) -> tuple[Application, ...]:
    """
    Return the applications of a cylinder's trace, in order of time.

    One begins above three tenths of the highest rise in the recording, and is over once
    the trace has come down to three twentieths of it; a smaller one is not seen. The
    stretch of each reaches back to the release before and on to the next rise.
    """
    times, values = trace.smooth.times_s, trace.smooth.values
    low, high = min(values), max(values)
    begun, over = (low + part * (high - low) for part in (BEGUN, OVER))
    rises = list(_rises(values, begun, over)) if high > low else []
    found = []
    for at, (risen, gone) in enumerate(rises):
        first = rises[at - 1][1] if at else 0
        last = _leaves(values, rises[at + 1][0], over) if at + 1 < len(rises) else None
        found.append(
            Application(
                times[_leaves(values, risen, over)],
                times[first],
                trace.last_s if last is None else times[last],
                max(values[risen : gone + 1]),
            )
        )
    return tuple(found)


def stretch_of(trace: Trace, application: Application) -> Trace:
    """Return the part of a trace that one of its applications is looked for in."""
    first = bisect_left(trace.times_s, application.from_s)
    last = bisect_right(trace.times_s, application.until_s)
    part = slice(first, last)
    return Trace(trace.times_s[part], trace.values[part], trace.unit, trace.skipped)


def mirrored(trace: Trace) -> Trace:
    """Return a trace upside down: a train pipe that falls then rises as a cylinder does."""
    upside = array("d", (-value for value in trace.values))
    return Trace(trace.times_s, upside, trace.unit, trace.skipped)


def _rises(values: list[float], begun: float, over: float) -> Iterator[tuple[int, int]]:
    """Yield where each application is first well up, and where it is over."""
    risen: int | None = None
    for at, value in enumerate(values):
        if risen is None and value >= begun:
            risen = at
        elif risen is not None and value <= over:
            yield risen, at
            risen = None
    if risen is not None:
        yield risen, len(values) - 1


def _leaves(values: list[float], risen: int, over: float) -> int:
    """Return the last place before a rise at which the trace was still down."""
    return next((at for at in range(risen, -1, -1) if values[at] <= over), 0)
