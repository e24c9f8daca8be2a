"""A wall chart: what is taken of the workshop so far, and whether one more job fits."""

from collections import Counter

from fleet.workshop.engine.problem import Job, Problem, Turn
from fleet.workshop.vocabulary import Place, Wish

RANK = {place: n for n, place in enumerate(Place)}


class Room:
    """Filled job by job; every hard rule holds of what it holds."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.starts: dict[Turn, int] = {}
        self._hours: Counter[tuple[str, int]] = Counter()
        self._places: Counter[tuple[Place, int]] = Counter()
        self._standing: dict[tuple[str, int], Place] = {}  # vehicle and week
        self._visit: dict[
            tuple[str, int], int
        ] = {}  # the same: the week its visit began
        self._fitted: dict[str, list[tuple[int, int]]] = {}
        self._floats = {f.group: f for f in problem.floats}
        self._only: dict[Turn, frozenset[int]] = {}
        self._kept_free: set[tuple[str | Turn, int]] = set()
        for pin in problem.pins:
            what = pin.vehicle or "" if pin.job is None else (pin.job, pin.occurrence)
            if pin.wish is Wish.NOT_IN:
                self._kept_free |= {(what, week) for week in pin.weeks}
            elif isinstance(what, tuple):
                self._only[what] = self._only.get(what, pin.weeks) & pin.weeks

    def fits(self, turn: Turn, week: int) -> bool:
        """Whether this may begin in this week beside all that is there."""
        job = self.problem.job[turn[0]]
        stay = range(week, week + job.weeks)
        return (
            0 <= week <= self.problem.weeks - job.weeks
            and week in self._only.get(turn, (week,))
            and not any(w in self.problem.capacity.closed for w in stay)
            and not any(
                (k, w) in self._kept_free for k in (job.vehicle, turn) for w in stay
            )
            and self._one_visit(job, stay)
            and self._hours_left(job, week)
            and all(self._place_left(job, w) for w in stay)
            and self._unit_left(job, week)
        )

    def begin(self, turn: Turn, week: int) -> None:
        """Write it down; the caller has asked whether it fits."""
        job = self.problem.job[turn[0]]
        self.starts[turn] = week
        for n in range(job.weeks):
            at = (job.vehicle, week + n)
            for skill in job.hours:
                self._hours[skill, week + n] += job.hours_in(skill, n)
            here = self._standing.get(at)
            if here is not None:
                self._places[here, week + n] -= 1
            self._standing[at] = max(
                here or Place.ANYWHERE, job.place, key=RANK.__getitem__
            )
            self._places[self._standing[at], week + n] += 1
            self._visit[at] = week
        if job.group is not None:
            self._fitted.setdefault(job.group, []).append((week, job.units))

    def _one_visit(self, job: Job, stay: range) -> bool:
        return all(
            self._visit.get((job.vehicle, w), stay.start) == stay.start for w in stay
        )

    def _hours_left(self, job: Job, week: int) -> bool:
        return all(
            self._hours[skill, week + n] + job.hours_in(skill, n) <= there[week + n]
            for skill in job.hours
            for there in (
                self.problem.capacity.hours.get(skill, (0,) * self.problem.weeks),
            )
            for n in range(job.weeks)
        )

    def _place_left(self, job: Job, week: int) -> bool:
        here = self._standing.get((job.vehicle, week), Place.ANYWHERE)
        if RANK[job.place] <= RANK[here]:
            return True
        capacity = self.problem.capacity
        there = capacity.pits if job.place is Place.PIT else capacity.roads
        return self._places[job.place, week] < there[week]

    def _unit_left(self, job: Job, week: int) -> bool:
        """Whether one is there then, and none is missing for what is planned after."""
        if job.group is None:
            return True
        stock = self._floats.get(job.group)
        if stock is None:
            return False
        fitted = [*self._fitted.get(job.group, []), (week, job.units)]
        back = stock.turnaround
        for at in {w for w, _ in fitted if w >= week}:
            there = stock.stock + sum(n for w, n in stock.returns if w <= at)
            if back is not None:
                there += sum(n for w, n in fitted if w + back <= at)
            if sum(n for w, n in fitted if w <= at) > there:
                return False
        return True
