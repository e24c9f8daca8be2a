"""
What falls due, as the jobs a programme is made from.

A vehicle's key is its primary key; a job's is its requirement, vehicle and item. Days
count from the start, a Monday. The calendar's months become days here, because a
programme repeats a job so many days after it was done, and the length of months differs:
the exact dates are on the forecast, and a repeat may be out by a few days.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil

from fleet.register.vocabulary import System
from fleet.upkeep.due import later
from fleet.workshop.engine.problem import WEEK, Job
from fleet.workshop.falling import Falling, Shop, hours_of, period_of, shop_on
from fleet.workshop.models import JobPlanVersion
from fleet.workshop.recurring import DAYS_A_YEAR, lasts
from fleet.workshop.vocabulary import Place

# Lines of the diary that a vehicle may fill, by system, by vehicle.
Pools = Mapping[str, Mapping[System, frozenset[str]]]

NO_PLAN = "no plan: the programme cannot place it"
NOT_REACHED = "at the recorded usage it is not reached"
NOT_REASSESSED = "not yet reassessed: its dates may be out"


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Something that falls due and that no programme can place, and why."""

    falling: Falling
    why: str


@dataclass(frozen=True, slots=True)
class Loaded:
    """The jobs of a programme, and what had to be left out."""

    jobs: list[Job]
    left_out: list[LeftOut]


def engine_jobs(
    start: dt.date, weeks: int, *, pools_of: Pools | None = None
) -> list[Job]:
    """Return the jobs of so many weeks from a Monday; see `load_jobs`."""
    return load_jobs(start, weeks, pools_of=pools_of).jobs


def load_jobs(start: dt.date, weeks: int, *, pools_of: Pools | None = None) -> Loaded:
    """
    Return the jobs of so many weeks from a Monday, and what was left out.

    What is not sensible before the end of those weeks is no job of theirs. What was never
    done, or cannot be dated, counts as overdue from the start. `pools_of` names the
    lines of the diary that stand for a system on each vehicle; without it a job holds
    the systems themselves. Raises ValueError where the start is no Monday.
    """
    if start.weekday():
        raise ValueError(f"not a Monday: {start}")
    shop = shop_on(start)
    found = Loaded([], [])
    for falling in shop.falling:
        plan = shop.plans.get(falling.code)
        why = _unplaceable(falling, plan)
        if why or plan is None:
            found.left_out.append(LeftOut(falling, why))
            continue
        job = _job(falling, plan, shop, start, pools_of)
        if job.earliest < weeks:
            found.jobs.append(job)
    return found


def _unplaceable(falling: Falling, plan: JobPlanVersion | None) -> str:
    if falling.stale:
        return NOT_REASSESSED
    if falling.never:
        return NOT_REACHED
    return NO_PLAN if plan is None else ""


def _job(
    falling: Falling,
    plan: JobPlanVersion,
    shop: Shop,
    start: dt.date,
    pools_of: Pools | None,
) -> Job:
    yesterday = later(start, -1)
    due = falling.due_on or yesterday
    last_good = falling.good_to or due
    revision = shop.revision(falling.code, max(due, start))
    interval = None
    if revision is not None:
        rate = shop.rate(falling.vehicle.vehicle_id)
        interval = lasts(max(due, start), period_of(revision), rate)
    vehicle = str(falling.vehicle.vehicle_id)
    return Job(
        key=falling.key,
        vehicle=vehicle,
        label=label_of(falling),
        due=(due - start).days,
        last_good=(max(due, last_good) - start).days,
        life=interval or DAYS_A_YEAR,
        hours=hours_of(plan),
        weeks=plan.weeks,
        place=Place(plan.place),
        group=group_of(falling, plan),
        earliest=earliest_week(due, plan.early_days, start),
        interval=interval,
        tolerance=revision.tolerance_days if revision else 0,
        early=plan.early_days,
        holds=_holds(falling, vehicle, pools_of),
    )


def label_of(falling: Falling) -> str:
    """Return what a job is called: its title, and the item where there is one."""
    if falling.item is None:
        return falling.title
    return f"{falling.title}, {falling.item.serial}"


def group_of(falling: Falling, plan: JobPlanVersion) -> str | None:
    """
    Return the group of the exchange unit a job takes; None: it takes none.

    An item of no recorded group gets one of its own, of which there is no unit: what is
    not known to be in store never helps a programme.
    """
    if not plan.exchange or falling.item is None:
        return None
    return falling.group or f"no group: {falling.item.kind}"


def earliest_week(due: dt.date, early_days: int, start: dt.date) -> int:
    """Return the first week from the start whose Monday is sensible."""
    return max(0, ceil(((due - start).days - early_days) / WEEK))


def _holds(falling: Falling, vehicle: str, pools_of: Pools | None) -> frozenset[str]:
    if pools_of is None:
        return frozenset(system.value for system in falling.holds)
    pools = pools_of.get(vehicle, {})
    return frozenset(
        pool for system in falling.holds for pool in pools.get(system, frozenset())
    )
