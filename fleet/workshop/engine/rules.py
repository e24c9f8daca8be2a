"""What people do with a wall chart: earliest due date first, plain and grouped per vehicle."""

import heapq

from fleet.workshop.engine.problem import WEEK, Job, Problem, Programme, Turn
from fleet.workshop.engine.room import Room
from fleet.workshop.engine.score import score
from fleet.workshop.vocabulary import Wish

TOGETHER = 13  # weeks ahead of which a vehicle's other jobs are taken with the first


def earliest_due(problem: Problem, *, grouped: bool) -> Programme:
    """Each job as late as is still in time, else as soon after as there is room.

    Grouped, what else the vehicle has due within a quarter is done in the same visit.
    """
    room, queue = Room(problem), _first_times(problem)
    while queue:
        _, _, key, occurrence, earliest, due = heapq.heappop(queue)
        job = problem.job[key]
        turn = (key, occurrence)
        if turn in room.starts:
            continue
        week = _week_for(room, job, turn, earliest, due)
        if week is None:
            continue
        _begin(problem, room, queue, turn, week)
        if grouped:
            _take_along(problem, room, queue, job, week)
    return score(problem, room.starts, "grouped" if grouped else "plain")


def best_rule(problem: Problem) -> Programme:
    """The better of the two by the order of levels: the fall-back of every search."""
    both = [earliest_due(problem, grouped=grouped) for grouped in (False, True)]
    return min(both, key=lambda programme: programme.order)


Waiting = tuple[
    bool, int, str, int, int, int
]  # not pinned, due, job, time, earliest, due


def _first_times(problem: Problem) -> list[Waiting]:
    """Pinned work goes first, as a person would write it on the chart first."""
    pinned = {
        (p.job, p.occurrence) for p in problem.pins if p.wish is Wish.AT and p.job
    }
    queue = [
        ((j.key, 0) not in pinned, j.due, j.key, 0, j.earliest, j.due)
        for j in problem.jobs
    ]
    heapq.heapify(queue)
    return queue


def _week_for(room: Room, job: Job, turn: Turn, earliest: int, due: int) -> int | None:
    """The last week in time with room, else the first after it."""
    target = (due - job.done(0)) // WEEK
    in_time = range(target, earliest - 1, -1)
    after = range(max(earliest, target + 1), room.problem.weeks)
    return next(
        (w for span in (in_time, after) for w in span if room.fits(turn, w)), None
    )


def _begin(
    problem: Problem, room: Room, queue: list[Waiting], turn: Turn, week: int
) -> None:
    """Write it on the chart, and note when it falls due again."""
    room.begin(turn, week)
    job = problem.job[turn[0]]
    if job.interval is None:
        return
    due = job.done(week) + job.interval
    if due < WEEK * problem.weeks:
        earliest = max(week + job.weeks, -(-(due - job.early) // WEEK))
        heapq.heappush(queue, (True, due, job.key, turn[1] + 1, earliest, due))


def _take_along(
    problem: Problem, room: Room, queue: list[Waiting], job: Job, week: int
) -> None:
    """The vehicle's other work that waits, is sensible by then and due within a quarter."""
    for _, _, key, occurrence, earliest, due in sorted(queue):
        turn, other = (key, occurrence), problem.job[key]
        waits = other.vehicle == job.vehicle and turn not in room.starts
        soon = earliest <= week and due <= WEEK * (week + TOGETHER)
        if waits and soon and room.fits(turn, week):
            _begin(problem, room, queue, turn, week)
