"""The best programme that can be found in a given time, and how far from the best it may be.

Slow libraries are imported only here and below, when a programme is asked for.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from fleet.workshop.engine.checker import broken_rules
from fleet.workshop.engine.problem import (
    LATE,
    SHORTFALL,
    Level,
    Problem,
    Programme,
    Starts,
)
from fleet.workshop.engine.rules import earliest_due
from fleet.workshop.engine.score import score

TELLING = 0.5  # seconds between two reports
SOLVER = "solver"


@dataclass(frozen=True, slots=True)
class Progress:
    """What a person who waits is told."""

    seconds: float
    works_on: str
    levels: tuple[Level, ...]  # of the best programme so far


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
    def __init__(
        self,
        problem: Problem,
        seconds: float,
        on_progress: OnProgress | None,
        should_stop: ShouldStop | None,
    ) -> None:
        self.problem, self.seconds = problem, seconds
        self.tell, self.told_to_stop = on_progress, should_stop
        self.began = time.monotonic()
        self.told = 0.0
        self.stopped = False

    @property
    def spent(self) -> float:
        return time.monotonic() - self.began

    def run(self) -> Programme:
        best = _start(self.problem)
        self._report("rules of thumb", best)
        if self.spent < self.seconds and not self._told_to_stop():
            best = self._improved(best)
        best = _with_bounds(best)
        self._report("done", best)
        return best

    def _improved(self, best: Programme) -> Programme:
        from fleet.workshop.engine.fleet import Fleet
        from fleet.workshop.engine.search import Search
        from fleet.workshop.engine.work import Works

        fleet = Fleet(self.problem, Works(self.problem))
        search = Search(fleet, best.starts)
        since, shown = self.spent, best

        def part() -> float:
            nonlocal shown
            if self.spent - self.told > TELLING:
                if self._told_to_stop():
                    return 1.0
                shown = score(self.problem, search.found, SOLVER)
                self._report("moving a few jobs at a time", shown)
            return (self.spent - since) / max(self.seconds - since, 1e-6)

        search.run(part)
        return _better(self.problem, best, search.found)

    def _told_to_stop(self) -> bool:
        if self.told_to_stop is not None and self.told_to_stop():
            self.stopped = True
        return self.stopped

    def _report(self, works_on: str, programme: Programme) -> None:
        self.told = self.spent
        if self.tell is not None:
            self.tell(Progress(self.told, works_on, _with_bounds(programme).levels))


def _start(problem: Problem) -> Programme:
    """The best of both rules and of what was published, those that keep every rule first."""
    known = [earliest_due(problem, grouped=grouped) for grouped in (False, True)]
    if problem.published and not broken_rules(problem, problem.published):
        known.append(score(problem, problem.published, "published"))
    return min(known, key=lambda p: (_broken(problem, p.starts), p.order))


def _better(problem: Problem, old: Programme, starts: Starts) -> Programme:
    new = score(problem, starts, SOLVER)
    return min(new, old, key=lambda p: (_broken(problem, p.starts), p.order))


def _broken(problem: Problem, starts: Starts) -> int:
    return len(broken_rules(problem, starts))


def _with_bounds(programme: Programme) -> Programme:
    """Nothing is less than nothing."""
    levels = tuple(
        replace(level, bound=0)
        if level.name in {SHORTFALL, LATE} and not level.value
        else level
        for level in programme.levels
    )
    return replace(programme, levels=levels)
