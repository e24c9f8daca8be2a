"""Whether a programme keeps every hard rule: code of its own, shared with no solver."""

from collections import Counter
from collections.abc import Iterator, Mapping

from fleet.workshop.engine.problem import (
    WEEK,
    Float,
    Pin,
    Problem,
    Starts,
)
from fleet.workshop.vocabulary import Place, Wish, many


def broken_rules(
    problem: Problem, starts: Starts, names: Mapping[str, str] | None = None
) -> list[str]:
    """Each hard rule that this programme breaks, in words; none: it can be done.

    `names` are those of skills, in place of their keys.
    """
    known = {turn: week for turn, week in starts.items() if turn[0] in problem.job}
    return [
        *(f"There is no job {key}." for key, _ in starts if key not in problem.job),
        *_chains(problem, known),
        *_one_place(problem, known),
        *_hours(problem, known, names or {}),
        *_places(problem, known),
        *_units(problem, known),
        *_pins(problem, known),
    ]


def _name(problem: Problem, key: str) -> str:
    return problem.label.get(key, key)


def _week(problem: Problem, week: int) -> str:
    on = problem.monday(week)
    return f"the week of {on.day} {on:%B %Y}"


def _chains(problem: Problem, starts: Starts) -> Iterator[str]:
    """Within the horizon, not before it is sensible, each time after the one before."""
    for (key, occurrence), week in sorted(starts.items()):
        job, before = problem.job[key], starts.get((key, occurrence - 1))
        name = f"{job.label} ({_name(problem, job.vehicle)})"
        if not 0 <= week <= problem.weeks - job.weeks:
            yield f"{name} is not within the programme's weeks."
        if occurrence == 0:
            too_early = week < job.earliest
        elif job.interval is None or before is None:
            yield f"{name} is planned again, but not the time before."
            continue
        else:
            sensible = job.done(before) + job.interval - job.early
            too_early = WEEK * week < sensible or week < before + job.weeks
        if too_early:
            yield f"{name} is planned for {_week(problem, week)}, before it is sensible."


def _stays(problem: Problem, starts: Starts) -> Iterator[tuple[str, int, int]]:
    """Vehicle, first week and the week after the last, of each visit."""
    ends: dict[tuple[str, int], int] = {}
    for (key, _), week in starts.items():
        job = problem.job[key]
        ends[job.vehicle, week] = max(
            ends.get((job.vehicle, week), 0), week + job.weeks
        )
    for (vehicle, week), end in sorted(ends.items()):
        yield vehicle, week, end


def _one_place(problem: Problem, starts: Starts) -> Iterator[str]:
    """No vehicle in two visits at once, none in a week that is closed."""
    last: dict[str, int] = {}
    for vehicle, week, end in _stays(problem, starts):
        if week < last.get(vehicle, 0):
            yield f"{_name(problem, vehicle)} is still in the shop in {_week(problem, week)}."
        last[vehicle] = max(end, last.get(vehicle, 0))
        for closed in sorted(problem.capacity.closed & set(range(week, end))):
            yield f"{_name(problem, vehicle)} stands in the shop in {_week(problem, closed)}, which is closed."


def _hours(problem: Problem, starts: Starts, names: Mapping[str, str]) -> Iterator[str]:
    """Hours of each skill in each week."""
    asked: Counter[tuple[str, int]] = Counter()
    for (key, _), week in starts.items():
        job = problem.job[key]
        for skill in job.hours:
            for n in range(job.weeks):
                asked[skill, week + n] += job.hours_in(skill, n)
    for (skill, week), hours in sorted(asked.items()):
        there = _at(problem.capacity.hours.get(skill, ()), week)
        if hours > there:
            name = names.get(skill, skill)
            yield f"{name}: {hours} hours asked of {there} in {_week(problem, week)}."


def _at(weeks: tuple[int, ...], week: int) -> int:
    return weeks[week] if 0 <= week < len(weeks) else 0


def _places(problem: Problem, starts: Starts) -> Iterator[str]:
    """Roads and pits: a vehicle on a pit needs no road besides."""
    standing: dict[tuple[int, str], Place] = {}
    for (key, _), week in starts.items():
        job = problem.job[key]
        for w in range(week, week + job.weeks):
            here = standing.get((w, job.vehicle), Place.ANYWHERE)
            standing[w, job.vehicle] = max(here, job.place, key=list(Place).index)
    taken = Counter((week, place) for (week, _), place in standing.items())
    there: Mapping[Place, tuple[int, ...]] = {
        Place.ROAD: problem.capacity.roads,
        Place.PIT: problem.capacity.pits,
    }
    for (week, place), number in sorted(taken.items()):
        if place is not Place.ANYWHERE and number > _at(there[place], week):
            has = _at(there[place], week)
            needs = (
                f"{many(number, 'vehicle')} need{'s' if number == 1 else ''} a {place}"
            )
            there_is = f"there {'is' if has == 1 else 'are'} {has or 'none'}"
            yield f"{needs}, and {there_is}, in {_week(problem, week)}."


def _units(problem: Problem, starts: Starts) -> Iterator[str]:
    """No exchange unit is fitted before it is there."""
    known = {f.group: f for f in problem.floats}
    fitted: dict[str, Counter[int]] = {}
    for (key, _), week in starts.items():
        job = problem.job[key]
        if job.group is not None:
            fitted.setdefault(job.group, Counter())[week] += job.units
    for group, by_week in sorted(fitted.items()):
        stock = known.get(group, Float(group, group, 0))
        for week in sorted(by_week):
            asked = sum(n for w, n in by_week.items() if w <= week)
            there = stock.stock + sum(n for w, n in stock.returns if w <= week)
            if stock.turnaround is not None:
                there += sum(
                    n for w, n in by_week.items() if w + stock.turnaround <= week
                )
            if asked > there:
                yield f"{stock.label}: {asked} needed by {_week(problem, week)}, {there} there."


def _pins(problem: Problem, starts: Starts) -> Iterator[str]:
    for pin in problem.pins:
        if pin.wish is Wish.AT and not _begun(problem, pin, starts):
            yield f"{_of(problem, pin)} does not begin where it is pinned."
        for week in (
            sorted(_stood(problem, pin, starts)) if pin.wish is Wish.NOT_IN else ()
        ):
            yield f"{_of(problem, pin)} stands in the shop in {_week(problem, week)}, against a pin."


def _of(problem: Problem, pin: Pin) -> str:
    if pin.job in problem.job:
        job = problem.job[pin.job]
        return f"{job.label} ({_name(problem, job.vehicle)})"
    return _name(problem, pin.vehicle) if pin.vehicle else pin.job or ""


def _begun(problem: Problem, pin: Pin, starts: Starts) -> bool:
    if pin.job is not None:
        return starts.get((pin.job, pin.occurrence)) in pin.weeks
    return any(
        problem.job[k].vehicle == pin.vehicle and w in pin.weeks
        for (k, _), w in starts.items()
    )


def _stood(problem: Problem, pin: Pin, starts: Starts) -> set[int]:
    """The pin's weeks in which what it names stands in the shop."""
    return {
        week
        for turn, start in starts.items()
        if (
            turn == (pin.job, pin.occurrence)
            if pin.job
            else problem.job[turn[0]].vehicle == pin.vehicle
        )
        for week in range(start, start + problem.job[turn[0]].weeks)
        if week in pin.weeks
    }
