"""What a programme takes of the workshop: hours and places by week, units by week."""

from collections import Counter
from dataclasses import dataclass

from fleet.workshop.engine.problem import Float, Problem, Starts


@dataclass(frozen=True, slots=True)
class Load:
    """One thing week by week: what is taken, of what there is."""

    name: str
    taken: tuple[int, ...]
    there: tuple[int, ...]


def hours(problem: Problem, starts: Starts) -> list[Load]:
    """Return the hours of each skill that anything asks for or that there are any of."""
    taken: Counter[tuple[str, int]] = Counter()
    for (key, _), week in starts.items():
        job = problem.job[key]
        for skill in job.hours:
            for n in range(job.weeks):
                taken[skill, week + n] += job.hours_in(skill, n)
    skills = {*problem.capacity.hours, *(s for j in problem.jobs for s in j.hours)}
    none = (0,) * problem.weeks
    return [
        Load(
            skill,
            tuple(taken[skill, week] for week in range(problem.weeks)),
            problem.capacity.hours.get(skill, none),
        )
        for skill in sorted(skills)
    ]


@dataclass(frozen=True, slots=True)
class Units:
    """Exchange units of a group, week by week: fitted, back, and left at its end."""

    group: str
    label: str
    fitted: tuple[int, ...]
    back: tuple[int, ...]
    left: tuple[int, ...]


def units(problem: Problem, starts: Starts) -> list[Units]:
    """Return the course of each group of exchange units that any work takes."""
    fitted: dict[str, Counter[int]] = {}
    for (key, _), week in starts.items():
        job = problem.job[key]
        if job.group is not None:
            fitted.setdefault(job.group, Counter())[week] += job.units
    known = {f.group: f for f in problem.floats}
    wanted = {job.group for job in problem.jobs if job.group is not None}
    return [
        _course(known.get(g, Float(g, g, 0)), fitted.get(g, Counter()), problem.weeks)
        for g in sorted(wanted)
    ]


def _course(stock: Float, fitted: Counter[int], weeks: int) -> Units:
    back: Counter[int] = Counter()
    for week, number in stock.returns:
        back[week] += number
    if stock.turnaround is not None:
        for week, number in fitted.items():
            back[week + stock.turnaround] += number
    left, there = [], stock.stock
    for week in range(weeks):
        there += back[week] - fitted[week]
        left.append(there)
    each = range(weeks)
    return Units(
        stock.group,
        stock.label,
        tuple(fitted[w] for w in each),
        tuple(back[w] for w in each),
        tuple(left),
    )
