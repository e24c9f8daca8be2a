"""
Everything that falls due in the months to come, again and again, with its window.

The first date of a requirement is the one the register works out. Each later one counts
from the date before, as if the work were done on its due date; what is overdue, as if
it were done today. Usage goes on at the rate of the recent past, or as the running
diary asks; the first date is the register's either way.
"""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from django.db.models import Q

from fleet.engineering.calendar import add_months
from fleet.people.models import Skill
from fleet.register.models import VehicleVersion
from fleet.register.vocabulary import Effect
from fleet.upkeep.due import later
from fleet.upkeep.models import ConcessionPolicy
from fleet.workshop.diary import days_asked
from fleet.workshop.engine.problem import WEEK
from fleet.workshop.falling import Falling, Shop, hours_of, period_of, shop_on
from fleet.workshop.jobs import group_of
from fleet.workshop.models import JobPlanVersion
from fleet.workshop.recurring import next_due
from fleet.workshop.vocabulary import GoesOn, Place

MOST_MONTHS = 36
_NOTHING_TO_CONCEDE = (Effect.ADVISE, Effect.CONDITION)
_MOST_TIMES = 200  # of one requirement: it falls due every week at the most


@dataclass(frozen=True, slots=True)
class Ask:
    """What of the forecast is asked for; nothing set: all of it."""

    months: int = 12
    depot: int | None = None
    vehicle: str = ""  # a number, or part of it
    requirement: str = ""
    skill: str = ""
    place: str = ""
    group: str = ""
    overdue: bool = False
    usage: str = GoesOn.LATE  # how it goes on

    def until(self, today: dt.date) -> dt.date:
        """Return the last day looked ahead to."""
        return add_months(today, max(1, min(self.months, MOST_MONTHS)))

    @property
    def by_diary(self) -> bool:
        """Say whether usage goes on as the running diary asks."""
        return self.usage == GoesOn.DIARY


@dataclass(frozen=True, slots=True)
class ForecastRow:
    """One time that a requirement falls due: its window, and what the work takes."""

    falling: Falling
    plan: JobPlanVersion | None
    time: int  # 0: as recorded; later ones as if done on the due date before
    earliest: dt.date | None
    due: dt.date | None  # None: never done, or cannot be dated
    last_good: dt.date | None
    conceded: dt.date | None  # to when a concession goes, or could go
    standing: bool  # there is such a concession
    today: dt.date

    @property
    def vehicle(self) -> VehicleVersion:
        """Return the vehicle's particulars."""
        return self.falling.vehicle

    @property
    def number(self) -> str:
        """Return the running number."""
        return self.vehicle.number

    @property
    def key(self) -> str:
        """Return a name that stays the same while the date moves."""
        return f"{self.falling.key}/{self.time}"

    @property
    def overdue(self) -> bool:
        """Say whether it is past its last good day, by leave or without, or has no date."""
        if self.due is None:
            return True
        good_to = self.falling.good_to if self.time == 0 else self.last_good
        return (good_to or self.due) < self.today

    @property
    def overdue_since(self) -> dt.date | None:
        """Return the day after its last good one, once that is past, by leave or without."""
        good_to = self.last_good or self.due
        return later(good_to, 1) if good_to and good_to < self.today else None

    @property
    def estimated(self) -> bool:
        """Say whether the date rests on a forecast of usage."""
        return self.falling.forecast and self.time == 0

    @property
    def hours(self) -> Mapping[str, int]:
        """Return the hours by skill; empty where there is no plan."""
        return hours_of(self.plan) if self.plan else {}

    @property
    def hours_words(self) -> str:
        """Return the hours in words: "6 air, 4 gear"; "" without a plan."""
        named = ((Skill(skill).label, n) for skill, n in self.hours.items())
        return ", ".join(f"{n} h {label.lower()}" for label, n in named)

    @property
    def place(self) -> Place | None:
        """Return where it must stand; None without a plan."""
        return Place(self.plan.place) if self.plan else None

    @property
    def group(self) -> str:
        """Return the group of the exchange unit it takes; "" for none."""
        return (group_of(self.falling, self.plan) or "") if self.plan else ""

    @property
    def together(self) -> str:
        """Return the name under which it is done with others; "" alone."""
        return self.plan.together if self.plan else ""

    @property
    def week_of(self) -> dt.date:
        """Return the Monday of the week it falls due in; what is late, of this week."""
        day = max(self.due or self.today, self.today)
        return later(day, -day.weekday())


def forecast(
    ask: Ask, today: dt.date, *, vehicle: int | None = None
) -> list[ForecastRow]:
    """
    Return what is asked for, in order of date; what has none comes first.

    Twelve queries, whatever the fleet, and two where the running diary says how usage
    goes on; `vehicle` keeps one.
    """
    until = ask.until(today)
    shop = shop_on(today, wanted=_wanted(ask, until), vehicle=vehicle)
    if ask.by_diary:
        # Whole weeks only: a part of one would count its weekends too much or too little.
        asked = days_asked(today, (until - today).days // WEEK)
        shop.rates = {key: shop.rate(key).at(days) for key, days in asked.items()}
    policy = ConcessionPolicy.objects.in_force(today).first()
    rows = [
        row
        for falling in shop.falling
        if _asked_vehicle(falling.vehicle, ask) and not falling.never
        for row in _times(falling, shop, policy, today, until)
        if _asked(row, ask)
    ]
    rows.sort(key=lambda r: (r.due or dt.date.min, r.number, r.falling.title))
    return rows


def _wanted(ask: Ask, until: dt.date) -> Q:
    wanted = Q(due_on__lte=until) | Q(due_on__isnull=True)
    return wanted & Q(requirement=ask.requirement) if ask.requirement else wanted


def _asked_vehicle(vehicle: VehicleVersion, ask: Ask) -> bool:
    if ask.depot and vehicle.depot_id != ask.depot:
        return False
    return ask.vehicle.strip().casefold() in vehicle.number.casefold()


def _asked(row: ForecastRow, ask: Ask) -> bool:
    return (
        (not ask.skill or ask.skill in row.hours)
        and (not ask.place or ask.place == row.place)
        and (not ask.group or ask.group == row.group)
        and (not ask.overdue or row.overdue)
    )


def _times(
    falling: Falling,
    shop: Shop,
    policy: ConcessionPolicy | None,
    today: dt.date,
    until: dt.date,
) -> Iterator[ForecastRow]:
    plan = shop.plans.get(falling.code)
    due: dt.date | None = falling.due_on
    last_good = falling.last_good
    for time in range(_MOST_TIMES):
        if due is not None and due > until:
            return
        early = later(due, -plan.early_days) if plan and due else None
        standing = time == 0 and falling.conceded is not None
        conceded = _could_go_to(falling, shop, policy, last_good, today)
        if time == 0 and falling.conceded:
            conceded = falling.conceded[0]
        yield ForecastRow(
            falling,
            plan,
            time,
            max(early, today) if early else (today if plan else None),
            due,
            last_good,
            conceded,
            standing,
            today,
        )
        done = max(due or today, today)
        revision = shop.revision(falling.code, done)
        if revision is None:
            return  # withdrawn by then
        period = period_of(revision)
        due = next_due(done, period, shop.rate(falling.vehicle.vehicle_id))
        if due is None:
            return  # at that rate never again
        last_good = later(due, revision.tolerance_days)


def _could_go_to(
    falling: Falling,
    shop: Shop,
    policy: ConcessionPolicy | None,
    last_good: dt.date | None,
    today: dt.date,
) -> dt.date | None:
    """Return how far a concession could go by the policy; None where it could not, or no longer."""
    if policy is None or last_good is None or falling.effect in _NOTHING_TO_CONCEDE:
        return None
    kind = falling.item.kind if falling.item else ""
    if falling.scope in policy.never_scopes or kind in policy.never_kinds:
        return None
    revision = shop.revision(falling.code, max(last_good, today))
    own = revision.concession_days if revision else None
    days = policy.ceiling_days if own is None else own
    last = later(last_good, days)
    return last if days and last >= today else None


def load_by_week(
    rows: Iterable[ForecastRow], first: dt.date, until: dt.date
) -> dict[dt.date, dict[str, int]]:
    """Return the hours by skill of each week, as if all were done when it falls due."""
    monday = later(first, -first.weekday())
    found: dict[dt.date, dict[str, int]] = {}
    while monday <= until:
        found[monday] = {}
        monday = later(monday, WEEK)
    for row in rows:
        week = found.get(row.week_of, {})
        for skill, hours in row.hours.items():
            week[skill] = week.get(skill, 0) + hours
    return found


def done_together(rows: Iterable[ForecastRow]) -> dict[str, list[str]]:
    """
    Return by row what else its vehicle can have done in the same visit.

    That is what plans name alike, where one window reaches into the other.
    """
    groups: dict[tuple[int, str], list[ForecastRow]] = {}
    for row in rows:
        if row.together:
            key = row.vehicle.vehicle_id, row.together
            groups.setdefault(key, []).append(row)
    return {
        row.key: sorted({o.falling.title for o in group if _meets(row, o)})
        for group in groups.values()
        for row in group
    }


def _meets(row: ForecastRow, other: ForecastRow) -> bool:
    if other.falling.key == row.falling.key:
        return False
    return _begins(row) <= _ends(other) and _begins(other) <= _ends(row)


def _begins(row: ForecastRow) -> dt.date:
    return row.earliest or row.today


def _ends(row: ForecastRow) -> dt.date:
    return max(row.last_good or row.due or row.today, row.today)
