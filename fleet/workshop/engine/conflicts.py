"""Why season cover falls short, or pins cannot all be kept: a smallest set of demands, in words.

Each demand is an assumption: a pin, a line of the diary, a job that keeps its vehicle in
once it is overdue; and so is each limit of the shop. CP-SAT names assumptions that cannot
all hold; then each is left out in turn, and stays out where the rest still cannot hold.
What remains is as small as it can be: without any one of it, all the rest can be met.
"""

import time
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fleet.workshop.engine.problem import Pin, Problem
from fleet.workshop.vocabulary import Place, Wish, many

if TYPE_CHECKING:
    from fleet.workshop.engine.demands import Asked, Demands, Line

MOST = 5  # conflicts that are named
PLACES = {list(Place).index(place): str(place) for place in Place}


@dataclass(frozen=True, slots=True)
class Conflict:
    """Demands and limits that cannot all hold."""

    demands: tuple[str, ...]  # what is asked
    limits: tuple[str, ...]  # what there is
    smallest: bool  # False: the time ran out before each was tried

    @property
    def words(self) -> str:
        """In one sentence."""
        return "; ".join((*self.demands, *self.limits)) + "."


def conflicts(problem: Problem, *, seconds: float = 60.0) -> list[Conflict]:
    """What cannot be met together: first among the pins, then of the season's cover.

    Within the time; an empty list says that none was found.
    """
    from fleet.workshop.engine.demands import Demands, Held, Line

    demands = Demands(problem)
    limits: list[Asked] = [each for each in demands.asked if isinstance(each, tuple)]
    pins: list[Asked] = [each for each in demands.asked if isinstance(each, Pin)]
    held: list[Asked] = [each for each in demands.asked if isinstance(each, Held)]
    lines: list[Asked] = [each for each in demands.asked if isinstance(each, Line)]
    asking = _Asking(problem, demands, lines, time.monotonic() + seconds)
    asking.about(pins, limits)
    asking.about(lines, [*pins, *held, *limits])  # with the pins that can be kept
    return asking.found


class _Asking:
    """One conflict after the other, each time without what was found."""

    def __init__(
        self, problem: Problem, demands: "Demands", lines: "list[Asked]", until: float
    ) -> None:
        self.problem, self.demands, self.lines = problem, demands, lines
        self.until = until
        self.found: list[Conflict] = []

    def about(self, wanted: "list[Asked]", given: "Sequence[Asked]") -> None:
        """Why these cannot all be met; what cannot is taken out of them."""
        while wanted and len(self.found) < MOST and time.monotonic() < self.until:
            core = self.demands.clash([*wanted, *given])
            if core is None:
                return
            core, smallest = _smallest(self.demands, core, self.until)
            also = _alike(self.demands, core, self.lines)
            self.found.append(
                _in_words(self.problem, [*core, *also], smallest=smallest)
            )
            left_out = [each for each in core if each in wanted][:1]
            if not left_out:
                return
            for each in [*left_out, *also]:
                wanted.remove(each)


def _alike(
    demands: "Demands", core: "list[Asked]", lines: "list[Asked]"
) -> "list[Asked]":
    """Other weeks of the same line of the diary that cannot be met for the same reason."""
    from fleet.workshop.engine.demands import Line

    own = [each for each in core if isinstance(each, Line)]
    if len(own) != 1:
        return []
    rest = [each for each in core if each not in own]
    return [
        line
        for line in lines
        if isinstance(line, Line)
        and line not in own
        and (line.pool, line.vehicles) == (own[0].pool, own[0].vehicles)
        and demands.clash([*rest, line])
    ]


def _smallest(
    demands: "Demands", core: "list[Asked]", until: float
) -> "tuple[list[Asked], bool]":
    """Leave out one after the other, limits first, as long as the rest cannot hold."""
    tried = sorted(core, key=lambda each: not isinstance(each, tuple))
    for each in list(tried):
        if time.monotonic() > until:
            return core, False
        if each not in core:
            continue
        less = demands.clash([other for other in core if other != each])
        if less is not None:
            core = less
    return core, True


def _in_words(problem: Problem, core: "list[Asked]", *, smallest: bool) -> Conflict:
    from fleet.workshop.engine.demands import Held, Line

    jobs = [each.job for each in core if isinstance(each, Held)]
    lines = [each for each in core if isinstance(each, Line)]
    pins = [each for each in core if isinstance(each, Pin)]
    limits = [each for each in core if isinstance(each, tuple)]
    return Conflict(
        (
            *(_pin(problem, pin) for pin in pins),
            *_lines(problem, lines),
            *_jobs(problem, jobs),
        ),
        tuple(_limits(problem, limits)),
        smallest,
    )


def _week(problem: Problem, week: int) -> str:
    on = problem.monday(week)
    return f"the week of {on.day} {on:%B %Y}"


def _weeks(problem: Problem, weeks: Iterable[int]) -> str:
    """Runs of weeks as from and to."""
    runs: list[list[int]] = []
    for week in sorted(weeks):
        if runs and week == runs[-1][1] + 1:
            runs[-1][1] = week
        else:
            runs.append([week, week])
    return " and ".join(
        f"in {_week(problem, first)}"
        if first == last
        else f"from {_week(problem, first)} to {_week(problem, last)}"
        for first, last in runs
    )


def _label(problem: Problem, vehicle: str) -> str:
    return next((v.label for v in problem.vehicles if v.key == vehicle), vehicle)


def _pin(problem: Problem, pin: Pin) -> str:
    if pin.job is not None:
        job = problem.job[pin.job]
        what = f"{job.label} on {_label(problem, job.vehicle)}"
        what += f" (time {pin.occurrence + 1})" if pin.occurrence else ""
    else:
        what = _label(problem, pin.vehicle or "")
    weeks = _weeks(problem, pin.weeks)
    if pin.wish is Wish.AT:
        return f"{what} is pinned to begin {weeks}"
    return f"{what} is pinned not to stand in the shop {weeks}"


def _lines(problem: Problem, lines: "list[Line]") -> Iterator[str]:
    """Weeks with the same need in one phrase."""
    weeks: dict[tuple[str, int], list[int]] = defaultdict(list)
    for line in lines:
        weeks[line.pool, line.vehicles].append(line.week)
    for (pool, vehicles), these in weeks.items():
        there = sum(pool in v.pools for v in problem.vehicles)
        asked = f"{vehicles} of {there} vehicles for {pool} are needed"
        yield f"{asked} {_weeks(problem, these)}"


def _jobs(problem: Problem, keys: Iterable[str]) -> Iterator[str]:
    """Alike work in one phrase."""
    by_label: dict[str, list[str]] = defaultdict(list)
    for key in keys:
        by_label[problem.job[key].label].append(key)
    for label, alike in by_label.items():
        jobs = sorted((problem.job[key] for key in alike), key=lambda job: job.due)
        months = dict.fromkeys(f"{problem.date_of(job.due):%B %Y}" for job in jobs)
        vehicles = ", ".join(_label(problem, job.vehicle) for job in jobs)
        yield (
            f"{label} is due on {len(jobs)} vehicle{'s' if len(jobs) > 1 else ''} "
            f"in {' and '.join(months)} ({vehicles})"
        )


def _limits(
    problem: Problem, limits: Iterable[tuple[str, str | int, int]]
) -> Iterator[str]:
    weeks: dict[tuple[str, str | int], list[int]] = defaultdict(list)
    for kind, name, week in limits:
        weeks[kind, name].append(week)
    for (kind, name), these in weeks.items():
        yield from _limit(problem, kind, name, these)


def _limit(
    problem: Problem, kind: str, name: str | int, weeks: list[int]
) -> Iterator[str]:
    capacity = problem.capacity
    if kind == "closed":
        yield f"the shop is closed {_weeks(problem, weeks)}"
    elif kind == "units":
        yield _units(problem, str(name))
    elif kind == "hours":
        there = {week: _at(capacity.hours.get(str(name), ()), week) for week in weeks}
        yield from _each(problem, there, f"hours of {name}")
    else:
        place = PLACES[int(name)]
        rows = capacity.pits if place == Place.PIT else capacity.roads
        there = {week: _at(rows, week) for week in weeks}
        yield from _each(problem, there, f"{place}s")


def _at(there: tuple[int, ...], week: int) -> int:
    return there[week] if week < len(there) else 0


def _each(problem: Problem, there: Mapping[int, int], what: str) -> Iterator[str]:
    """Weeks with as much in one phrase."""
    alike: dict[int, list[int]] = defaultdict(list)
    for week, number in there.items():
        alike[number].append(week)
    for number, weeks in alike.items():
        a_week = " a week" if len(weeks) > 1 else ""
        yield f"there are {number} {what}{a_week} {_weeks(problem, weeks)}"


def _units(problem: Problem, group: str) -> str:
    stock = next((f for f in problem.floats if f.group == group), None)
    if stock is None:
        return f"there are no exchange units of {group}"
    back = [
        f"{number} come{'s' if number == 1 else ''} back in {_week(problem, week)}"
        for week, number in stock.returns
    ]
    if stock.turnaround is not None:
        back.append(
            f"one taken off serves again after {many(stock.turnaround, 'week')}"
        )
    return ", ".join([f"{stock.stock} {stock.label} are in stock", *back])
