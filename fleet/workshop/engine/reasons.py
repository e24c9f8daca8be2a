"""Why a visit stands where it stands: what other weeks lack, and what they would cost."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fleet.workshop.engine.checker import broken_rules
from fleet.workshop.engine.problem import WEEK, Need, Problem, Starts, Visit
from fleet.workshop.engine.score import fit_vehicles, play, score, visits_of

ROUND = 8  # weeks looked at either side of a visit
FARTHEST = 26  # weeks back to the one its due date asks for


@dataclass(frozen=True, slots=True)
class Choice:
    """A week the visit could begin in: what it lacks, else what moving there would cost."""

    week: int
    lacks: tuple[str, ...]
    cost: tuple[
        int, ...
    ]  # less or more on each level; empty where something is lacking

    @property
    def here(self) -> bool:
        """Say whether this is where the visit stands."""
        return not self.lacks and not any(self.cost)


def visit_at(problem: Problem, starts: Starts, vehicle: str, week: int) -> Visit | None:
    """Return the visit of a vehicle that begins in a week."""
    return next(
        (
            v
            for v in visits_of(problem, starts)
            if (v.vehicle, v.week) == (vehicle, week)
        ),
        None,
    )


def moved(starts: Starts, visit: Visit, week: int) -> Starts:
    """Return the programme with a visit in another week, all else as it is."""
    return {**starts, **dict.fromkeys(visit.turns, week)}


def choices(
    problem: Problem,
    starts: Starts,
    visit: Visit,
    names: Mapping[str, str] | None = None,
) -> list[Choice]:
    """
    Return the weeks about a visit, and those from when its due date would have it done.

    Each is tried by itself: all other visits stay where they are. What a week lacks is
    what the check of the hard rules says of the programme with the visit moved there;
    `names` are those of skills.
    """
    now = score(problem, starts, "").order
    already = set(broken_rules(problem, starts, names))
    found = []
    for week in _weeks(problem, starts, visit):
        other = moved(starts, visit, week)
        broken = broken_rules(problem, other, names)
        lacks = tuple(words for words in broken if words not in already)
        order = () if lacks else score(problem, other, "").order
        cost = tuple(there - here for there, here in zip(order, now, strict=False))
        found.append(Choice(week, lacks, cost))
    return found


def _weeks(problem: Problem, starts: Starts, visit: Visit) -> range:
    due = min(
        turn.due
        for key, time in visit.turns
        for turn in play(problem.job[key], starts, problem.weeks)
        if turn.occurrence == time
    )
    wanted = max(due // WEEK, visit.week - FARTHEST)
    first = max(0, min(visit.week - ROUND, wanted))
    return range(first, min(problem.weeks - visit.weeks, visit.week + ROUND) + 1)


@dataclass(frozen=True, slots=True)
class Short:
    """A line of the diary in a week with too few vehicles, and where the others are."""

    need: Need
    fit: int
    inside: tuple[str, ...]  # in the shop
    overdue: tuple[tuple[str, str], ...]  # vehicle, and the job that keeps it out

    @property
    def missing(self) -> int:
        """Return how many vehicles are lacking."""
        return self.need.vehicles - self.fit


def short_lines(problem: Problem, starts: Starts) -> list[Short]:
    """Return each line and week in which cover falls short, in order of week."""
    inside = {
        (v.vehicle, v.week + n)
        for v in visits_of(problem, starts)
        for n in range(v.weeks)
    }
    late = _overdue(problem, starts)
    found = []
    for need, fit in fit_vehicles(problem, starts).items():
        if len(fit) >= need.vehicles:
            continue
        away = [
            v for v in problem.vehicles if need.pool in v.pools and v.key not in fit
        ]
        stood = tuple(v.key for v in away if (v.key, need.week) in inside)
        kept = tuple(
            (v.key, label)
            for v in away
            if v.key not in stood
            for label in late.get((v.key, need.pool, need.week), ())[:1]
        )
        found.append(Short(need, len(fit), stood, kept))
    return sorted(found, key=lambda short: (short.need.week, short.need.pool))


def _overdue(problem: Problem, starts: Starts) -> dict[tuple[str, str, int], list[str]]:
    """Return the work by which a vehicle is kept from a line in a week."""
    found: dict[tuple[str, str, int], list[str]] = defaultdict(list)
    for job in problem.jobs:
        for turn in play(job, starts, problem.weeks):
            until = problem.weeks if turn.start is None else turn.start
            first = max(0, (turn.last_good - WEEK + 1) // WEEK + 1)
            for week in range(first, until):
                for pool in job.holds:
                    found[job.vehicle, pool, week].append(job.label)
    return found


def moved_visits(
    before: Starts, after: Starts, keys: Iterable[str]
) -> list[tuple[str, int, int | None, int | None]]:
    """Return what stands elsewhere: job, which time, week before and after (None: not in)."""
    known = set(keys)
    return [
        (key, time, before.get((key, time)), after.get((key, time)))
        for key, time in sorted({*before, *after})
        if key in known and before.get((key, time)) != after.get((key, time))
    ]
