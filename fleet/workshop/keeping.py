"""What the planner keeps of the workshop: added, revised, corrected, retracted alike."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from fleet.people.models import User
from fleet.records.deeds import deed
from fleet.records.models import Identity, Version
from fleet.records.refusing import refusing
from fleet.records.versions import (
    continue_version,
    correct_version,
    identify,
    open_version,
    retract_version,
)
from fleet.register.models import VehicleVersion
from fleet.register.vocabulary import Fitment
from fleet.upkeep.due import later, written
from fleet.workshop.models import (
    Closure,
    ClosureVersion,
    Contractor,
    ContractorVersion,
    DiaryLine,
    DiaryLineVersion,
    ShopPlace,
    ShopPlaceVersion,
    WorkTime,
    WorkTimeVersion,
)
from fleet.workshop.vocabulary import Each

V = TypeVar("V", bound=Version)


@dataclass(frozen=True, slots=True)
class Sort(Generic[V]):
    """One sort of thing that is kept: its word, its tables, what must hold besides."""

    noun: str
    identity: type[Identity]
    version: type[V]
    key: str  # the column of a version that names its identity
    check: Callable[[V], None] | None = None

    def checked(self, row: V) -> V:
        """Return a row just written, unless something speaks against it."""
        if self.check is not None:
            self.check(row)
        return row


def _refuse_unbraked(line: DiaryLineVersion) -> None:
    """Refuse a vehicle by name that could not run braked in such a train at all."""
    if line.vehicle_id is None:
        return
    held = VehicleVersion.objects.newest().filter(vehicle=line.vehicle_id).first()
    if held is None or getattr(held, line.system) != Fitment.BRAKED:
        raise refusing(
            f"It has no {line.system} brake of its own.",
            code="not_braked",
            field="vehicle",
        )


LINES = Sort("diary_line", DiaryLine, DiaryLineVersion, "line", check=_refuse_unbraked)
PLACES = Sort("place", ShopPlace, ShopPlaceVersion, "place")
HOURS = Sort("hours", WorkTime, WorkTimeVersion, "work_time")
CLOSURES = Sort("closure", Closure, ClosureVersion, "closure")
CONTRACTORS = Sort("contractor", Contractor, ContractorVersion, "contractor")


def add(sort: Sort[V], *, by: User | None, **facts: Any) -> V:
    """Take something new into what is kept. Raises ValidationError keyed by field."""
    with deed(f"workshop.add_{sort.noun}", by=by) as entry:
        facts[sort.key] = identify(sort.identity, entry=entry)
        return sort.checked(open_version(sort.version, entry=entry, **facts))


def revise(sort: Sort[V], *, by: User | None, version: V, **changes: Any) -> V:
    """
    Record that it is otherwise now: plans changed, it has ended, it takes longer.

    Raises ValidationError: `already_superseded`, and what the table refuses.
    """
    subject = getattr(version, sort.key)
    with deed(f"workshop.revise_{sort.noun}", by=by, locking=(subject,)) as entry:
        return sort.checked(continue_version(version, entry=entry, **changes))


def change_from(
    sort: Sort[V], *, by: User | None, version: V, day: dt.date, **facts: Any
) -> V:
    """
    Record that hours or a place are otherwise from a day on; return what begins then.

    What was there ends the day before, and something new begins; closures of a place
    from that day on hold for what the place is then. One deed. Raises ValidationError:
    `not_while_it_holds`, `first_day_moved`, `in_all`, `already_superseded`, and what the
    table refuses.
    """
    _refuse_splitting(version, day, facts)
    subject = getattr(version, sort.key)
    with deed(f"workshop.revise_{sort.noun}", by=by, locking=(subject,)):
        revise(sort, by=by, version=version, last=later(day, -1))
        new = add(sort, by=by, **facts | {"first": day})
        if sort.identity is ShopPlace:
            _shut_as_before(subject, new, day, by=by)
        return new


def _refuse_splitting(version: Any, day: dt.date, facts: dict[str, Any]) -> None:
    ended = version.last is not None and version.last < day
    if day <= version.first or ended:
        held = f"after {written(version.first)}"
        if version.last is not None:
            held += f" and up to {written(version.last)}"
        raise refusing(
            f"Give a day {held}, or leave this empty to change the whole time.",
            code="not_while_it_holds",
            field="holds_from",
        )
    if facts.get("first", version.first) != version.first:
        raise refusing(
            f"Leave {written(version.first)} here: what stands until the change is kept.",
            code="first_day_moved",
            field="first",
        )
    if getattr(version, "each", "") == Each.ONCE:
        raise refusing(
            "Hours in all are spread over all their days. Leave this empty, and add "
            "what comes later as a source of its own.",
            code="in_all",
            field="holds_from",
        )


def _shut_as_before(old: ShopPlace, new: Any, day: dt.date, *, by: User | None) -> None:
    """Let the closures of a place from a day on hold for what takes its place."""
    closures = ClosureVersion.objects.current().filter(place=old, last__gte=day)
    for row in closures.order_by("pk"):
        if row.first >= day:
            revise(CLOSURES, by=by, version=row, place_id=new.place_id)
            continue
        revise(CLOSURES, by=by, version=row, last=later(day, -1))
        rest = {"title": row.title, "first": day, "last": row.last}
        add(CLOSURES, by=by, place_id=new.place_id, **rest)


def correct(
    sort: Sort[V], *, by: User | None, version: V, reason: str, **changes: Any
) -> V:
    """
    Record that it was written down wrongly; both versions stay.

    Raises ValidationError: `no_reason`, `already_superseded`, and what the table refuses.
    """
    subject = getattr(version, sort.key)
    with deed(f"workshop.correct_{sort.noun}", by=by, locking=(subject,)) as entry:
        row = correct_version(version, entry=entry, reason=reason, **changes)
        return sort.checked(row)


def retract(sort: Sort[V], *, by: User | None, version: V, reason: str) -> V:
    """
    Take something out again; that it stood there is kept.

    Raises ValidationError: `no_reason`, `already_superseded`.
    """
    subject = getattr(version, sort.key)
    with deed(f"workshop.retract_{sort.noun}", by=by, locking=(subject,)) as entry:
        return retract_version(version, entry=entry, reason=reason)
