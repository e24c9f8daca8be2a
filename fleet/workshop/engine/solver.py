"""The best programme that can be found in a given time, and how far from the best it may be.

First the rules of thumb; then, where work is late, prices of the workshop's weeks, which
also prove how little lateness there can be, and whole plans of vehicles combined at them;
then a search by small steps. A small fleet
is settled for good by CP-SAT. Slow libraries are imported only here and below.
"""

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fleet.workshop.engine.checker import broken_rules
from fleet.workshop.engine.problem import (
    EFFORT,
    LATE,
    MOVES,
    SHORTFALL,
    Level,
    Problem,
    Programme,
    Starts,
)
from fleet.workshop.engine.rules import earliest_due
from fleet.workshop.engine.score import score

if TYPE_CHECKING:
    from fleet.workshop.engine.fleet import Fleet
    from fleet.workshop.engine.guide import Price

TELLING = 0.5  # seconds between two reports, and between two looks at whether to stop
SOLVER = "solver"
PRICING, COMBINING = 0.08, 0.35  # of the time
SMALL = 8_000  # weeks in which some turn could begin: up to so many CP-SAT settles it
AT_FIRST = 2.0  # seconds at most for prices and search, before it does


@dataclass(frozen=True, slots=True)
class Progress:
    """What a person who waits is told."""

    seconds: float
    works_on: str
    levels: tuple[Level, ...]  # of the best programme so far, with bound and gap


OnProgress = Callable[[Progress], None]
ShouldStop = Callable[[], bool]


def solve(
    problem: Problem,
    *,
    seconds: float,
    on_progress: OnProgress | None = None,
    should_stop: ShouldStop | None = None,
) -> Programme:
    """The best programme found; never worse than the rules of thumb.

    Stops within about a second of being told to, with what it has.
    """
    return _Solving(problem, seconds, on_progress, should_stop).run()


class _Solving:
    """One run: the best so far, what is proven, and the clock."""

    def __init__(
        self,
        problem: Problem,
        seconds: float,
        on_progress: OnProgress | None,
        should_stop: ShouldStop | None,
    ) -> None:
        self.problem, self.seconds = problem, seconds
        self.on_progress, self.should_stop = on_progress, should_stop
        self.began = time.monotonic()
        self.looked = -TELLING
        self.stopped = False
        self.bounds = {SHORTFALL: 0, LATE: 0, MOVES: 0}
        self.best = _start(problem)

    @property
    def spent(self) -> float:
        return time.monotonic() - self.began

    def run(self) -> Programme:
        self.look("rules of thumb")
        if not self.over():
            self._improve()
        self.look("done", at_once=True)
        return self.with_bounds()

    def over(self) -> bool:
        return self.stopped or self.spent >= self.seconds

    def look(self, works_on: str, *, at_once: bool = False) -> None:
        """Tell how it goes, and ask whether to stop."""
        if not at_once and self.spent - self.looked < TELLING:
            return
        self.looked = self.spent
        if self.should_stop is not None and self.should_stop():
            self.stopped = True
        if self.on_progress is not None:
            levels = self.with_bounds().levels
            self.on_progress(Progress(self.looked, works_on, levels))

    def with_bounds(self) -> Programme:
        levels = tuple(
            replace(
                level,
                bound=None
                if (b := self.bounds.get(level.name)) is None
                else min(b, level.value),
            )
            for level in self.best.levels
        )
        return replace(self.best, levels=levels)

    def take(self, starts: Starts) -> None:
        """Take a programme on where it is better, as the independent code counts it."""
        new = score(self.problem, starts, SOLVER)
        self.best = min(self.best, new, key=lambda p: _worth(self.problem, p))

    def part_of(self, seconds: float, works_on: str) -> Callable[[], float]:
        """A clock for one phase: which part of it is over."""
        since = self.spent

        def part() -> float:
            self.look(works_on)
            if self.over():
                return 1.0
            return (self.spent - since) / max(seconds, 1e-6)

        return part

    def _improve(self) -> None:
        from fleet.workshop.engine.fleet import Fleet, least_short
        from fleet.workshop.engine.search import Search
        from fleet.workshop.engine.work import Works

        works = Works(self.problem)
        self.bounds[SHORTFALL] = least_short(works)
        small = works.size <= SMALL
        at_most = AT_FIRST / 3 if small else math.inf
        fleet = Fleet(self.problem, works)
        start, price = self.best.starts, None
        if any(self.best.order[:2]):
            start, price = self._combine(fleet, at_most)
        search = Search(fleet, start, price)
        seconds = min(self.seconds - self.spent, at_most)
        part = self.part_of(seconds, "moving a few jobs at a time")

        def watched() -> float:
            if self.on_progress is not None and self.spent - self.looked >= TELLING:
                self.take(search.found)
            return part()

        search.run(watched)
        self.take(search.found)
        if small and self.seconds - self.spent > 1 and not self.over():
            self._settle(Fleet(self.problem, works))

    def _combine(self, fleet: "Fleet", at_most: float) -> tuple[Starts, "Price"]:
        """Where to begin from, and the worth of the workshop's weeks; proves a bound."""
        from fleet.workshop.engine.combining import Combining
        from fleet.workshop.engine.prices import Prices

        prices = Prices(fleet.works)
        seconds = min(self.seconds * PRICING, at_most)
        prices.improve(self.part_of(seconds, "what each week is worth"))
        self.bounds[LATE] = max(0, math.ceil(prices.bound - 1e-6))
        combining = Combining(fleet, prices.best)
        seconds = min(self.seconds * COMBINING, at_most)
        start = self.best.starts
        if combining.run(self.part_of(seconds, "plans of vehicles, combined")):
            start = fleet.starts()
            self.take(start)
        return start, combining.worth

    def _settle(self, fleet: "Fleet") -> None:
        from fleet.workshop.engine.exact import settle

        fleet.load(self.best.starts)

        def stopped() -> bool:
            self.look("every possible programme")
            return self.over()

        settled = settle(fleet, lambda: self.seconds - self.spent, stopped)
        self.take(fleet.starts())
        for level in (SHORTFALL, LATE, EFFORT, MOVES):
            if level in settled.bounds:
                self.bounds[level] = max(
                    settled.bounds[level], self.bounds.get(level, 0)
                )


def _start(problem: Problem) -> Programme:
    """The best of both rules and of what was published, those that keep every rule first."""
    known = [earliest_due(problem, grouped=grouped) for grouped in (False, True)]
    if problem.published:
        known.append(score(problem, problem.published, "published"))
    return min(known, key=lambda programme: _worth(problem, programme))


def _worth(problem: Problem, programme: Programme) -> tuple[int, ...]:
    return len(broken_rules(problem, programme.starts)), *programme.order
