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

from fleet.workshop.engine.absence import MARK
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


def conflicts(
    problem: Problem, *, seconds: float = 60.0, names: Mapping[str, str] | None = None
) -> list[Conflict]:
    """What cannot be met together: first among the pins, then of the season's cover.

    Within the time; an empty list says that none was found. `names` are those of the
    diary's lines and of skills, in place of their keys.
    """
    from fleet.workshop.engine.demands import Demands, Held, Line

    demands = Demands(problem)
    limits: list[Asked] = [each for each in demands.asked if isinstance(each, tuple)]
    pins: list[Asked] = [each for each in demands.asked if isinstance(each, Pin)]
    held: list[Asked] = [each for each in demands.asked if isinstance(each, Held)]
    lines: list[Asked] = [each for each in demands.asked if isinstance(each, Line)]
    words = _Words(problem, names or {})
    asking = _Asking(words, demands, lines, time.monotonic() + seconds)
    asking.about(pins, limits)
    asking.about(lines, [*pins, *held, *limits])  # with the pins that can be kept
    return asking.found


class _Asking:
    """One conflict after the other, each time without what was found."""

    def __init__(
        self, words: "_Words", demands: "Demands", lines: "list[Asked]", until: float
    ) -> None:
        self.words, self.demands, self.lines = words, demands, lines
        self.until = until
        self.found: list[Conflict] = []

    def about(self, wanted: "list[Asked]", given: "Sequence[Asked]") -> None:
        """Why these cannot all be met; what cannot is taken out of them."""
        most = len(self.found) + MOST
        while wanted and len(self.found) < most and time.monotonic() < self.until:
            core = self.demands.clash([*wanted, *given])
            if core is None:
                return
            core, smallest = _smallest(self.demands, core, self.until)
            also = self._alike(core, wanted)
            self.found.append(self.words.conflict([*core, *also], smallest=smallest))
            left_out = [each for each in core if each in wanted][:1]
            if not left_out:
                return
            for each in [*left_out, *also]:
                wanted.remove(each)

    def _alike(self, core: "list[Asked]", wanted: "list[Asked]") -> "list[Asked]":
        """What else cannot be met for the same reason, as far as there is time to ask.

        Other weeks of the same line of the diary; other pins of the same visit.
        """
        from fleet.workshop.engine.demands import Line

        own = [each for each in core if each in wanted]
        if len(own) == 1 and isinstance(own[0], Line):
            asked = own[0].pool, own[0].vehicles
            others: list[Asked] = [
                line
                for line in self.lines
                if isinstance(line, Line) and (line.pool, line.vehicles) == asked
            ]
        elif own and isinstance(own[0], Pin):
            visit = self.words.visit(own[0])
            others = [
                pin
                for pin in wanted
                if isinstance(pin, Pin) and self.words.visit(pin) == visit
            ]
        else:
            return []
        rest = [each for each in core if each != own[0]]
        return [
            other
            for other in others
            if other not in core
            and time.monotonic() < self.until
            and self.demands.clash([*rest, other])
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


class _Words:
    """A problem's demands and limits as people call them."""

    def __init__(self, problem: Problem, names: Mapping[str, str]) -> None:
        self.problem, self.names = problem, names

    def conflict(self, core: "list[Asked]", *, smallest: bool) -> Conflict:
        from fleet.workshop.engine.demands import Held, Line

        jobs = [each.job for each in core if isinstance(each, Held)]
        lines = [each for each in core if isinstance(each, Line)]
        pins = [each for each in core if isinstance(each, Pin)]
        limits = [each for each in core if isinstance(each, tuple)]
        return Conflict(
            (*self._pins(pins), *self._lines(lines), *self._jobs(jobs)),
            tuple(self._limits(limits)),
            smallest,
        )

    def visit(self, pin: Pin) -> tuple[str, Wish, frozenset[int]]:
        """The vehicle a pin speaks of, and what it wants of which weeks."""
        vehicle = self.problem.job[pin.job].vehicle if pin.job else pin.vehicle or ""
        return vehicle, pin.wish, pin.weeks

    def _name(self, key: str) -> str:
        """Of a skill, or of a line of the diary, whoever it is without."""
        line = key.split(MARK, maxsplit=1)[0]
        return self.names.get(line, line)

    def _label(self, vehicle: str) -> str:
        return self.problem.label.get(vehicle, vehicle)

    def _week(self, week: int) -> str:
        on = self.problem.monday(week)
        return f"the week of {on.day} {on:%B %Y}"

    def _weeks(self, weeks: Iterable[int]) -> str:
        """Runs of weeks as from and to."""
        runs: list[list[int]] = []
        for week in sorted(weeks):
            if runs and week == runs[-1][1] + 1:
                runs[-1][1] = week
            else:
                runs.append([week, week])
        return " and ".join(
            f"in {self._week(first)}"
            if first == last
            else f"from {self._week(first)} to {self._week(last)}"
            for first, last in runs
        )

    def _pins(self, pins: Iterable[Pin]) -> Iterator[str]:
        """What is pinned of one visit in one phrase."""
        visits: dict[tuple[str, Wish, frozenset[int]], list[str]] = defaultdict(list)
        for pin in pins:
            if pin.job is not None:
                what = self.problem.job[pin.job].label
                what += f" (time {pin.occurrence + 1})" if pin.occurrence else ""
                visits[self.visit(pin)].append(what)
            else:
                visits[self.visit(pin)].append("")
        for (vehicle, wish, weeks), jobs in visits.items():
            what, verb = self._label(vehicle), "is"
            named = [job for job in jobs if job]
            if named:
                what = f"{_and(named)} on {what}"
                verb = "is" if len(named) == 1 else "are"
            if wish is Wish.AT:
                yield f"{what} {verb} pinned to begin {self._weeks(weeks)}"
            else:
                yield f"{what} {verb} pinned not to stand in the shop {self._weeks(weeks)}"

    def _lines(self, lines: "list[Line]") -> Iterator[str]:
        """Weeks with the same need in one phrase."""
        asked: dict[tuple[str, int], list[int]] = defaultdict(list)
        able: dict[tuple[str, int], set[int]] = defaultdict(set)
        for line in lines:
            key = self._name(line.pool), line.vehicles
            asked[key].append(line.week)
            able[key].add(sum(line.pool in v.pools for v in self.problem.vehicles))
        for (name, vehicles), weeks in asked.items():
            few, most = min(able[name, vehicles]), max(able[name, vehicles])
            there = f"{few or 'none'}" if few == most else f"{few or 'none'} to {most}"
            yield (
                f"{name} asks for {many(vehicles, 'vehicle')} {self._weeks(weeks)}, "
                f"and there {'is' if most == 1 else 'are'} {there} to fill it"
            )

    def _jobs(self, keys: Iterable[str]) -> Iterator[str]:
        """Alike work in one phrase."""
        by_label: dict[str, list[str]] = defaultdict(list)
        for key in keys:
            by_label[self.problem.job[key].label].append(key)
        for label, alike in by_label.items():
            jobs = sorted((self.problem.job[key] for key in alike), key=lambda j: j.due)
            days = (self.problem.date_of(job.due) for job in jobs)
            months = dict.fromkeys(f"{day:%B %Y}" for day in days)
            vehicles = ", ".join(self._label(job.vehicle) for job in jobs)
            yield (
                f"{label} is due on {many(len(jobs), 'vehicle')} "
                f"in {_and(list(months))} ({vehicles})"
            )

    def _limits(self, limits: Iterable[tuple[str, str | int, int]]) -> Iterator[str]:
        weeks: dict[tuple[str, str | int], list[int]] = defaultdict(list)
        for kind, name, week in limits:
            weeks[kind, name].append(week)
        for (kind, name), these in weeks.items():
            yield from self._limit(kind, name, these)

    def _limit(self, kind: str, name: str | int, weeks: list[int]) -> Iterator[str]:
        capacity = self.problem.capacity
        if kind == "closed":
            yield f"the shop is closed {self._weeks(weeks)}"
        elif kind == "units":
            yield self._units(str(name))
        elif kind == "hours":
            rows, what = capacity.hours.get(str(name), ()), "hour"
            of = f" of {self._name(str(name)).lower()}"
            yield from self._each({w: _at(rows, w) for w in weeks}, what, of)
        else:
            place = PLACES[int(name)]
            rows = capacity.pits if place == Place.PIT else capacity.roads
            yield from self._each({w: _at(rows, w) for w in weeks}, place)

    def _each(self, there: Mapping[int, int], what: str, of: str = "") -> Iterator[str]:
        """Weeks with as much in one phrase."""
        alike: dict[int, list[int]] = defaultdict(list)
        for week, number in there.items():
            alike[number].append(week)
        for number, weeks in alike.items():
            verb = "is" if number == 1 else "are"
            said = many(number, what) if number else f"no {what}s"
            a_week = " a week" if number and len(weeks) > 1 else ""
            yield f"there {verb} {said}{of}{a_week} {self._weeks(weeks)}"

    def _units(self, group: str) -> str:
        stock = next((f for f in self.problem.floats if f.group == group), None)
        if stock is None:
            return f"there are no exchange units of {group}"
        back = [
            f"{number} come{'s' if number == 1 else ''} back in {self._week(week)}"
            for week, number in stock.returns
        ]
        if stock.turnaround is not None:
            weeks = many(stock.turnaround, "week")
            back.append(f"one taken off serves again after {weeks}")
        verb = "is" if stock.stock == 1 else "are"
        return ", ".join(
            [f"{stock.stock or 'no'} {stock.label} {verb} in stock", *back]
        )


def _at(there: tuple[int, ...], week: int) -> int:
    return there[week] if week < len(there) else 0


def _and(words: list[str]) -> str:
    """A list in words."""
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last
