"""What the planner wants kept: a pin is set with a reason, and taken out with one."""

import datetime as dt
from collections.abc import Iterable

from fleet.people.models import User
from fleet.records.deeds import deed
from fleet.records.refusing import refusing
from fleet.records.versions import identify, open_version, retract_version
from fleet.register.models import Equipment, Vehicle
from fleet.upkeep.models import Requirement
from fleet.workshop.engine.problem import WEEK, Job, Problem
from fleet.workshop.engine.problem import Pin as EnginePin
from fleet.workshop.models import Pin, PinVersion
from fleet.workshop.suppositions import weeks_of
from fleet.workshop.vocabulary import Wish

Work = tuple[Requirement, Equipment | None]


def set_pin(
    *,
    by: User | None,
    wish: str,
    vehicle: Vehicle,
    first: dt.date,
    last: dt.date,
    why: str,
    work: Iterable[Work] = (),
) -> list[Pin]:
    """
    Pin work to begin in the weeks of two days, or keep a vehicle or its work out of them.

    Without `work` it is about the vehicle, whatever it would come in for. Raises
    ValidationError: `no_reason`, `ends_first`, `no_job`.
    """
    if not why.strip():
        raise refusing("Say why, in a few words.", code="no_reason", field="why")
    pins = []
    with deed("workshop.set_pin", by=by, locking=(vehicle,)) as entry:
        every: list[tuple[Requirement | None, Equipment | None]] = [*work]
        for requirement, equipment in every or [(None, None)]:
            pin = identify(Pin, entry=entry)
            open_version(
                PinVersion,
                entry=entry,
                pin=pin,
                wish=wish,
                vehicle=vehicle,
                requirement=requirement,
                equipment=equipment,
                first=first,
                last=last,
                why=why.strip(),
            )
            pins.append(pin)
    return pins


def take_out_pin(*, by: User | None, pin: Pin, reason: str) -> PinVersion:
    """
    Take a pin out; it stays to be seen with what was said.

    Raises ValidationError: `no_reason`, `already_superseded`.
    """
    with deed("workshop.take_out_pin", by=by, locking=(pin,)) as entry:
        held: PinVersion | None = PinVersion.objects.current().filter(pin=pin).first()
        if held is None:
            raise refusing("It was taken out already.", code="already_superseded")
        return retract_version(held, entry=entry, reason=reason)


def engine_pins(problem: Problem) -> tuple[EnginePin, ...]:
    """Return the pins that bear on the weeks and the work of a problem; one query."""
    rows = PinVersion.objects.current().select_related("requirement")
    found = []
    for row in rows.order_by("first", "pk"):
        weeks, key = weeks_of(problem, row.first, row.last), job_key(row)
        known = key in problem.job if key else str(row.vehicle_id) in problem.jobs_of
        if not weeks or not known:
            continue
        wish = Wish(row.wish)
        if key:
            time = time_of(problem.job[key], weeks)
            found.append(EnginePin(wish, weeks, job=key, occurrence=time))
        else:
            found.append(EnginePin(wish, weeks, vehicle=str(row.vehicle_id)))
    return tuple(found)


def time_of(job: Job, weeks: frozenset[int]) -> int:
    """Return which time a job falls due nearest to the middle of weeks: 0 the first."""
    if job.interval is None:
        return 0
    middle = WEEK * (min(weeks) + max(weeks) + 1) // 2
    return max(0, round((middle - job.due) / job.interval))


def job_key(row: PinVersion) -> str:
    """Return the key of the work a pin is about; "" where it is about the vehicle."""
    if row.requirement is None:
        return ""
    parts = [row.requirement.code, str(row.vehicle_id)]
    if row.equipment_id is not None:
        parts.append(str(row.equipment_id))
    return "/".join(parts)
