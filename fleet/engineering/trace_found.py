"""What is looked for in a trace, and what is found: points, hold and steps."""

from dataclasses import dataclass, replace

from fleet.engineering.trace_edges import Mark
from fleet.engineering.trace_parts import Application


@dataclass(frozen=True, slots=True)
class Wanted:
    """
    What to look for.

    `percent` of the rise to time from the start (95: filling time as in position P, common
    practice); `release_to` the value at which the release ends, in the trace's unit (0.4 bar
    or kg/cm², common practice). A stretch counts as still below `still` of the rise a
    second for `lasting_s`: a test held for less is not seen as held. `falls` for a train
    pipe, which falls on application: `fill_to` is then the level it falls to, in place of
    a percentage, and `release_to` the one it comes back to. Of several applications in
    the recording the one numbered `application` counts, from 1; None: the highest.
    """

    percent: float = 95.0
    release_to: float | None = None
    fill_to: float | None = None
    falls: bool = False
    application: int | None = None
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
    Of a train pipe `falls` is set and `maximum` is its lowest value. `counted` is the
    number, from 1, of the application among the `applications` these points are of.
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
    falls: bool = False
    applications: tuple[Application, ...] = ()
    counted: int = 1

    @property
    def fill_s(self) -> float | None:
        """Return the time from the start to the percentage of the maximum, s."""
        return _from_to(self.start, self.filled)

    @property
    def release_s(self) -> float | None:
        """Return the time from the start of the release to its threshold, s."""
        return _from_to(self.release_start, self.released)


def upright(points: TracePoints) -> TracePoints:
    """Return the points of a train pipe as they lie on its own trace."""
    names = ("start", "filled", "peak", "release_start", "released")
    marks = {name: getattr(points, name) for name in names}
    hold = points.hold
    return replace(
        points,
        falls=True,
        rest=-points.rest,
        maximum=-points.maximum,
        hold=hold and replace(hold, fall_per_min=-hold.fall_per_min + 0.0),
        steps=tuple(replace(step, value=-step.value) for step in points.steps),
        applications=tuple(
            replace(one, highest=-one.highest) for one in points.applications
        ),
        **{name: m and replace(m, value=-m.value + 0.0) for name, m in marks.items()},
    )


def _from_to(first: Mark | None, second: Mark | None) -> float | None:
    return None if first is None or second is None else second.at_s - first.at_s
