"""Some or all jobs of a programme as a constraint model for CP-SAT, all else standing as it is."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

import numpy as np
from ortools.sat.python import cp_model

from fleet.workshop.engine.desk import Chain
from fleet.workshop.engine.fleet import Fleet
from fleet.workshop.engine.literals import (
    Holds,
    Limit,
    Linear,
    Literal,
    Stay,
    Time,
    Values,
    Worked,
    any_but,
    any_of,
    begun,
    overdue_by,
    total,
)
from fleet.workshop.engine.problem import EFFORT, LATE, MOVES, SHORTFALL, WEEK
from fleet.workshop.engine.shop import PIT, ROAD
from fleet.workshop.engine.work import NEVER, Marks, Work, apart, first_held

PINS = "pins"
LEVELS = (PINS, SHORTFALL, LATE, EFFORT, MOVES)


class Model:
    """Built over a fleet from which the jobs were lifted."""

    def __init__(self, fleet: Fleet, works: Iterable[Work]) -> None:
        self.fleet, self.weeks = fleet, fleet.problem.weeks
        self.model = cp_model.CpModel()
        self.costs: dict[str, list[Linear]] = {level: [] for level in LEVELS}
        self.turns: dict[str, list[Time]] = {}
        self.stays: dict[str, Stay] = {}
        self.derived: list[tuple[Literal, Worked]] = []
        for work in works:
            if work.times:
                self._job(work)
        self._hours()
        self._units()
        places: dict[int, dict[int, list[list[Literal]]]] = {
            PIT: defaultdict(list),
            ROAD: defaultdict(list),
        }
        for stay in self.stays.values():
            self._one_place(stay)
            self._places(stay, places)
        for rank, weeks in places.items():
            there = fleet.shop.places[rank]
            for week, standing in weeks.items():
                if len(standing) > there[week]:
                    holds = total(x for each in standing for x in each)
                    self.limit(("place", rank, week), holds <= int(there[week]))
        if fleet.diary.any:
            self._diary()

    def cost(self, level: str) -> Linear:
        return total(self.costs[level])

    def _new(self) -> Literal:
        return self.model.new_bool_var("")

    def _follows_any(self, literal: Literal, literals: list[Literal]) -> None:
        self.derived.append((literal, lambda v: int(any(v[x.index] for x in literals))))

    def possible(self, work: Work, stay: Stay) -> Marks:
        """Weeks in which a time of a job could begin."""
        return stay.desk.fits(work, share=True)

    def limit(self, of: Limit, holds: Holds) -> None:
        """What there is of the shop."""
        del of
        self.model.add(holds)

    def need(self, row: int, week: int, met: Holds) -> bool:
        """Whether a line of the diary must be met, rather than cost what it is short."""
        del row, week, met
        return False

    def overdue(self, work: Work, holds: Holds) -> None:
        """Overdue work keeps its vehicle out."""
        del work
        self.model.add(holds)

    def _job(self, work: Work) -> None:
        """Its times, each after the one before, and what each costs."""
        job = work.job
        stay = self.stays.setdefault(job.vehicle, Stay(self.fleet.desks[job.vehicle]))
        fits = self.possible(work, stay)
        turns: list[Time] = []
        for time in range(work.times):
            turn = self._turn(work, time, fits, stay)
            if turns:
                self._after(turns[-1], turn)
            else:
                self._first(turn)
            turns.append(turn)
            self._wishes(turn)
        self.turns[job.key] = turns
        stay.turns.append(turns)

    def _turn(self, work: Work, time: int, fits: np.ndarray, stay: Stay) -> Time:
        earliest = work.job.earliest + time * (apart(work.job) if time else 0)
        weeks = [
            int(w)
            for w in np.flatnonzero(fits & (work.extra[time] < NEVER))
            if w >= earliest
        ]
        begins = {week: self._new() for week in weeks}
        undone = self._new()
        self.model.add_exactly_one([*begins.values(), undone])
        start = cp_model.LinearExpr.weighted_sum(
            [*begins.values(), undone], [*weeks, self.weeks]
        )
        for week, literal in begins.items():
            self._stand(work, time, week, literal, stay)
        return Time(work, time, begins, undone, start, self.weeks)

    def _stand(
        self, work: Work, time: int, week: int, literal: Literal, stay: Stay
    ) -> None:
        if week not in stay.visit:
            stay.visit[week] = self._new()
            stay.begins[week] = []
            self._follows_any(stay.visit[week], stay.begins[week])
            if week not in stay.desk.visits:
                self.costs[EFFORT].append(
                    self.fleet.problem.visit_points * stay.visit[week]
                )
        self.model.add_implication(literal, stay.visit[week])
        stay.begins[week].append(literal)
        for w in range(week, week + work.job.weeks):
            if stay.desk.rank[w] < work.rank:
                here = stay.pit[w] if work.rank == PIT else stay.road[w]
                here[work.job.key, time].append(literal)

    def _first(self, turn: Time) -> None:
        job = turn.work.job
        late = [max(0, job.done(w) - job.due) for w in turn.begins]
        early = [max(0, job.due - job.done(w)) * job.waste for w in turn.begins]
        literals = list(turn.begins.values())
        undone = max(0, job.done(self.weeks) - job.due)
        self.costs[LATE].append(
            cp_model.LinearExpr.weighted_sum([*literals, turn.undone], [*late, undone])
        )
        self.costs[EFFORT].append(cp_model.LinearExpr.weighted_sum(literals, early))

    def _after(self, before: Time, turn: Time) -> None:
        """The next time falls due from when this one is done."""
        job = turn.work.job
        interval = job.interval or 0
        days = WEEK * (turn.start - before.start) - interval
        late = self.model.new_int_var(0, WEEK * self.weeks, "")
        early = self.model.new_int_var(0, interval, "")
        self.model.add(late >= days)
        self.model.add(early >= -days - (interval + WEEK * self.weeks) * turn.undone)
        self.model.add_implication(before.undone, turn.undone)
        self.model.add(turn.start >= before.start + apart(job)).only_enforce_if(
            turn.undone.negated()
        )

        def days_in(values: Values) -> int:
            return WEEK * (turn.week(values) - before.week(values)) - interval

        self.derived.append((late, lambda v: max(0, days_in(v))))
        self.derived.append(
            (early, lambda v: 0 if v[turn.undone.index] else max(0, -days_in(v)))
        )
        self.costs[LATE].append(late)
        self.costs[EFFORT].append(job.waste * early)

    def _wishes(self, turn: Time) -> None:
        pins, moves = self.fleet.works.wishes_of(turn.work.job.key, turn.time)
        for weeks in pins:
            met = [x for week, x in turn.begins.items() if week in weeks]
            self.costs[PINS].append(1 - total(met))
        for week in moves:
            met = [turn.begins[week]] if week in turn.begins else []
            self.costs[MOVES].append(1 - total(met))

    def _all_begins(self) -> Iterator[tuple[Work, int, Literal]]:
        for turns in self.turns.values():
            for turn in turns:
                for week, literal in turn.begins.items():
                    yield turn.work, week, literal

    def _hours(self) -> None:
        asked: dict[tuple[str, int], list[tuple[Literal, int]]] = defaultdict(list)
        for work, week, literal in self._all_begins():
            for skill, each in work.hours:
                for n, hours in enumerate(each):
                    if hours:
                        asked[skill, week + n].append((literal, hours))
        for (skill, week), terms in asked.items():
            there = int(self.fleet.shop.hours[skill][week])
            if sum(hours for _, hours in terms) > there:
                asks = total(hours * x for x, hours in terms)
                self.limit(("hours", skill, week), asks <= there)

    def _units(self) -> None:
        fitted: dict[str, list[tuple[int, int, Literal]]] = defaultdict(list)
        for work, week, literal in self._all_begins():
            if work.job.group is not None:
                fitted[work.job.group].append((week, work.job.units, literal))
        for group, terms in fitted.items():
            away, there = self.fleet.shop.away[group], self.fleet.shop.units[group]
            for week in range(self.weeks):
                missing = [units * x for w, units, x in terms if w <= week < w + away]
                if missing:
                    here = total(missing) <= int(there[week])
                    self.limit(("units", group, week), here)

    def _one_place(self, stay: Stay) -> None:
        """While a visit lasts, none begins."""
        if sum(len(turns) for turns in stay.turns) == 1 and not stay.desk.visits:
            return
        for turns in stay.turns:
            work = turns[0].work
            for turn in turns:
                for week, literal in turn.begins.items():
                    for w in range(week + 1, week + work.job.weeks):
                        if w in stay.visit:
                            self.model.add_implication(literal, stay.visit[w].negated())

    def _places(
        self, stay: Stay, places: Mapping[int, dict[int, list[list[Literal]]]]
    ) -> None:
        """A vehicle on a pit needs no road besides."""
        pits: dict[int, list[Literal]] = {}
        for week, standing in stay.pit.items():
            pits[week] = self._stands(list(standing.values()), [])
            places[PIT][week].append(pits[week])
        for week, standing in stay.road.items():
            road = self._stands(list(standing.values()), pits.get(week, []))
            places[ROAD][week].append(road)

    def _stands(
        self, turns: list[list[Literal]], on_pit: list[Literal]
    ) -> list[Literal]:
        """Literals of which one holds where any of these stands in a week.

        A turn stands in it at most once, so its literals can be added up.
        """
        if len(turns) == 1 and not on_pit:
            return turns[0]
        stands = self._new()
        for literals in turns:
            self.model.add(total(literals) <= total([stands, *on_pit]))
        literals = [x for turn in turns for x in turn]
        if not on_pit:  # else a vehicle could do without a road by standing on no pit
            self.model.add(stands <= total(literals))
        self.derived.append((stands, any_but(literals, on_pit)))
        return [stands]

    def _diary(self) -> None:
        """Where too few would be fit if all of these vehicles were out."""
        diary = self.fleet.diary
        for row in range(len(diary.pools)):
            here = [
                s for s in self.stays.values() if diary.rows_of[s.desk.vehicle][row]
            ]
            for week in np.flatnonzero(
                (diary.spare[row] < len(here)) & (diary.cost[row] > 0)
            ):
                self._short(row, int(week), here)

    def _short(self, row: int, week: int, here: list[Stay]) -> None:
        """Vehicles short of one line of the diary."""
        spare = int(self.fleet.diary.spare[row, week])
        out = [self._out(stay, row, week) for stay in here]
        if self.need(row, week, total(out) <= spare):
            return
        short = self.model.new_int_var(0, len(here) + max(0, -spare), "")
        self.model.add(short >= total(out) - spare)
        self.derived.append(
            (
                short,
                lambda v: max(0, sum(v.get(o.index, 1) for o in out) - spare),
            )
        )
        self.costs[SHORTFALL].append(int(self.fleet.diary.cost[row, week]) * short)

    def _out(self, stay: Stay, row: int, week: int) -> Literal:
        """Whether a vehicle is in the shop, or kept from this line by overdue work."""
        if self.fleet.out(stay.desk)[row, week]:
            return self.model.new_constant(1)
        out = self._new()
        inside: list[Literal] = []
        overdue: list[Worked] = []
        for turns in stay.turns:
            work = turns[0].work
            for turn in turns:
                stays = range(week - work.job.weeks + 1, week + 1)
                inside += [turn.begins[w] for w in stays if w in turn.begins]
            if self.fleet.diary.held(work)[row]:
                overdue += self._overdue(turns, week, out)
        for literal in inside:
            self.model.add_implication(literal, out)
        self.derived.append((out, any_of(inside, overdue)))
        return out

    def _overdue(self, turns: list[Time], week: int, out: Literal) -> list[Worked]:
        """Past its last good day, and not begun."""
        work, job = turns[0].work, turns[0].work.job
        worked: list[Worked] = []
        if work.held_from <= week:
            self.overdue(work, out + begun(turns[0], week) >= 1)
            worked.append(lambda v: int(turns[0].week(v) > week))
        if job.interval is None:
            return worked
        for before, turn in zip(turns, [*turns[1:], None], strict=True):
            past = [
                literal
                for w, literal in before.begins.items()
                if first_held(job.done(w) + job.interval + job.tolerance) <= week
            ]
            done = total([]) if turn is None else begun(turn, week)
            if past:
                self.overdue(work, out + done >= total(past))
                worked.append(overdue_by(past, turn, week))
        return worked

    def hint(self, chains: Mapping[str, Chain]) -> None:
        """Every variable from a programme."""
        values: Values = {}
        for key, turns in self.turns.items():
            chain = chains.get(key, ())
            for turn in turns:
                at = chain[turn.time] if turn.time < len(chain) else None
                for week, literal in turn.begins.items():
                    values[literal.index] = int(week == at)
                values[turn.undone.index] = int(at is None)
        for variable, worked in self.derived:
            values[variable.index] = worked(values)
        self.model.clear_hints()  # type: ignore[no-untyped-call]
        for index, number in values.items():
            self.model.add_hint(self.model.get_int_var_from_proto_index(index), number)

    def chains(self, solver: cp_model.CpSolver) -> dict[str, Chain]:
        """What was found."""
        found: dict[str, Chain] = {}
        for key, turns in self.turns.items():
            found[key] = tuple(
                week
                for turn in turns
                for week, literal in turn.begins.items()
                if solver.boolean_value(literal)
            )
        return found
