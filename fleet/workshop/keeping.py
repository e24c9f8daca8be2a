"""What the planner keeps of the workshop: added, revised, corrected, retracted alike."""

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
