"""What a programme is made from, and what it is: the plain data everything else meets at.

Days are counted from the first day of the horizon (day 0, a Monday), weeks from week 0.
A visit begins on a Monday; a job is finished on the Friday of its last week. Work left
undone counts as if its visit began in the first week after the horizon, so a vehicle past
its limit never makes a programme impossible: it stands unfit and costs cover.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property

from fleet.workshop.vocabulary import Place, Wish

WEEK = 7
FRIDAY = 4
POINTS = 100_000  # of one life: whole numbers, so that every sum is exact
SHORTFALL, LATE, EFFORT, MOVES = "shortfall", "late", "effort", "moves"


@dataclass(frozen=True, slots=True)
class Vehicle:
    """A vehicle and what the running diary may count it for."""

    key: str
    label: str
    pools: frozenset[str] = (
        frozenset()
    )  # lines of the diary it can fill: "air", "air van"
    kind: str = ""
    depot: str = ""


@dataclass(frozen=True, slots=True)
class Job:
    """One thing that falls due on one vehicle, again and again where it has an interval."""

    key: str
    vehicle: str
    label: str
    due: int  # day
    last_good: int  # day: due with tolerance, or to the end of the concession
    life: int  # days one full life lasts; early work throws part of it away
    hours: Mapping[str, int] = field(default_factory=dict)  # of each skill, in all
    weeks: int = 1  # in the shop
    place: Place = Place.ROAD
    group: str | None = None  # of exchange units, where it takes one
    units: int = 1
    earliest: int = 0  # first sensible week for the first time
    interval: int | None = None  # days from done to next due; None: once
    tolerance: int = 0  # days from due to last good day, for the later times
    early: int = 84  # days before due from which it is sensible, for the later times
    holds: frozenset[str] = (
        frozenset()
    )  # lines of the diary it keeps the vehicle from, overdue

    @property
    def waste(self) -> int:
        """Points of life thrown away by one day."""
        return round(POINTS / self.life)

    def done(self, week: int) -> int:
        """The day it is finished when begun in this week."""
        return WEEK * (week + self.weeks - 1) + FRIDAY

    def hours_in(self, skill: str, week: int) -> int:
        """Hours it takes in the n-th week of its stay: spread evenly, the rest first."""
        each, rest = divmod(self.hours.get(skill, 0), self.weeks)
        return each + (week < rest)


@dataclass(frozen=True, slots=True)
class Capacity:
    """What the workshop has, week by week; a tuple has one number a week."""

    hours: Mapping[str, tuple[int, ...]]  # by skill
    roads: tuple[int, ...]
    pits: tuple[int, ...]
    closed: frozenset[int] = frozenset()  # weeks in which nothing may stand in the shop


@dataclass(frozen=True, slots=True)
class Float:
    """Exchange units of one group that are interchangeable."""

    group: str
    label: str  # "distributors"
    stock: int  # serviceable at the start
    turnaround: int | None = None  # weeks until one taken off is serviceable again
    returns: tuple[tuple[int, int], ...] = ()  # week, number: back from a contractor


@dataclass(frozen=True, slots=True)
class Need:
    """A line of the running diary: so many vehicles fit in one week."""

    pool: str
    week: int
    vehicles: int
    weight: int = 1
    days: int = WEEK  # on which they run


@dataclass(frozen=True, slots=True)
class Pin:
    """A wish of the planner that a programme must keep: of one job, or of a vehicle."""

    wish: Wish
    weeks: frozenset[int]
    job: str | None = None
    vehicle: str | None = None
    occurrence: int = 0  # of the job: 0 is the first time


Turn = tuple[str, int]  # a job's key, and which time it is: 0 the first
Starts = Mapping[
    Turn, int
]  # the week in which each begins; missing: not in the horizon


@dataclass(frozen=True)
class Problem:
    """All that a programme is worked out from."""

    start: date  # a Monday
    weeks: int
    vehicles: tuple[Vehicle, ...]
    jobs: tuple[Job, ...]
    capacity: Capacity
    floats: tuple[Float, ...] = ()
    needs: tuple[Need, ...] = ()
    pins: tuple[Pin, ...] = ()
    published: Starts = field(default_factory=dict)
    rate: float = 0.05  # lives that one visit less is worth

    @cached_property
    def job(self) -> dict[str, Job]:
        """Jobs by key."""
        return {j.key: j for j in self.jobs}

    @cached_property
    def label(self) -> dict[str, str]:
        """What vehicles are called, by key."""
        return {v.key: v.label for v in self.vehicles}

    @cached_property
    def jobs_of(self) -> dict[str, list[Job]]:
        """Jobs by vehicle."""
        found: dict[str, list[Job]] = {v.key: [] for v in self.vehicles}
        for job in self.jobs:
            found[job.vehicle].append(job)
        return found

    @property
    def visit_points(self) -> int:
        """What a visit costs, in points of life."""
        return round(self.rate * POINTS)

    def monday(self, week: int) -> date:
        return self.start + timedelta(days=WEEK * week)

    def date_of(self, day: int) -> date:
        return self.start + timedelta(days=day)

    def day(self, on: date) -> int:
        return (on - self.start).days


@dataclass(frozen=True, slots=True)
class Visit:
    """One stay of a vehicle in the shop."""

    vehicle: str
    week: int
    weeks: int
    turns: tuple[Turn, ...]


@dataclass(frozen=True, slots=True)
class Level:
    """One of the four things counted, in the order in which they are weighed."""

    name: str
    value: int
    bound: int | None = (
        None  # no programme that is as good on the levels before has less
    )

    @property
    def gap(self) -> float | None:
        """How far the value may be from the best, as a part of it."""
        if self.bound is None:
            return None
        return (self.value - self.bound) / self.value if self.value else 0.0


@dataclass(frozen=True, slots=True)
class Programme:
    """Visits, and what they cost."""

    starts: Starts
    visits: tuple[Visit, ...]
    levels: tuple[Level, ...]  # shortfall, late, effort, moves
    wasted: int  # points of life; effort is this and the visits at the rate
    found_by: str

    @property
    def order(self) -> tuple[int, ...]:
        """What programmes are compared by: less is better, the first level first."""
        return tuple(level.value for level in self.levels)

    @property
    def wasted_lives(self) -> float:
        return self.wasted / POINTS
