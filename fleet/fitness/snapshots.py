"""After an accident: a snapshot under a number, a hold, and a log of who opened it."""

import datetime as dt
import json
from collections.abc import Callable, Sequence
from hashlib import sha256
from typing import Any

from django.utils.timezone import make_aware

from fleet.fitness.locks import lock_numbers
from fleet.fitness.models import HoldVersion, Opening, Snapshot
from fleet.fitness.numbering import next_count
from fleet.people.models import Person, User
from fleet.records.clock import today
from fleet.records.deeds import announce, deed, newest, number_at
from fleet.records.refusing import refusing
from fleet.records.versions import continue_version, identify, open_version
from fleet.register.models import Vehicle

FORMAT = 1

# From the number of an entry, 0 for none: what is kept of one vehicle as known there.
Read = Callable[[Vehicle, int], Any]


def take_snapshot(
    *,
    by: User | None,
    person: Person,
    vehicles: Sequence[Vehicle],
    on: dt.date,
    reason: str,
    read: Read,
) -> Snapshot:
    """
    Keep what is recorded of vehicles on a day, as known then and as known now; hold them.

    The order of `vehicles` is that of the formation. Raises ValidationError: `no_reason`,
    `no_vehicles`, `in_the_future`.
    """
    if not reason.strip():
        raise refusing("Say what happened.", code="no_reason", field="reason")
    if not vehicles:
        raise refusing("Name a vehicle at least.", code="no_vehicles", field="numbers")
    if on > today():
        raise refusing(
            "That day has not been yet. Choose the day it happened.",
            code="in_the_future",
            field="on",
        )
    with deed("fitness.take_snapshot", by=by, locking=tuple(vehicles)) as entry:
        lock_numbers()
        now, facts = newest()
        then = number_at(make_aware(dt.datetime.combine(on, dt.time.max)))
        content = [
            {
                "vehicle": vehicle.pk,
                "then": read(vehicle, then),
                "now": read(vehicle, now),
            }
            for vehicle in vehicles
        ]
        values = {
            "number": _next_number(),
            "reason": reason.strip(),
            "on": on,
            "known_then": then,
            "known_now": now,
            "facts": facts,
            "format": FORMAT,
            "content": content,
        }
        digest = digest_of(Snapshot(**values))
        snapshot = identify(Snapshot, entry=entry, by=person, digest=digest, **values)
        for vehicle in vehicles:
            open_version(
                HoldVersion, entry=entry, snapshot=snapshot, vehicle=vehicle, by=person
            )
        announce(*vehicles)
        return snapshot


def open_bundle(*, by: User | None, snapshot: Snapshot) -> Opening:
    """Log that an account opened the bundle of a snapshot."""
    with deed("fitness.open_snapshot", by=by) as entry:
        return identify(Opening, entry=entry, snapshot=snapshot)


def lift_hold(
    *, by: User | None, person: Person, snapshot: Snapshot, reason: str
) -> list[HoldVersion]:
    """
    Lift the hold on every vehicle of a snapshot, saying why; the snapshot stays.

    Raises ValidationError: `no_reason`, `not_held`.
    """
    if not reason.strip():
        raise refusing("Say why it is lifted.", code="no_reason", field="reason")
    vehicles = tuple(Vehicle.objects.filter(holds__snapshot=snapshot).distinct())
    with deed("fitness.lift_hold", by=by, locking=vehicles) as entry:
        held = list(holds_of(snapshot))
        if not held:
            raise refusing("Nothing is held for it any more.", code="not_held")
        announce(*vehicles)
        return [
            continue_version(
                hold, entry=entry, reason=reason.strip(), lifted=True, by=person
            )
            for hold in held
        ]


def holds_of(snapshot: Snapshot) -> Any:
    """Return the holds of a snapshot that are not lifted."""
    return HoldVersion.objects.current().filter(snapshot=snapshot, lifted=False)


def held(vehicle: int) -> Any:
    """Return the holds on a vehicle: while there is one, nothing of it is archived."""
    holds = HoldVersion.objects.current().filter(vehicle=vehicle, lifted=False)
    return holds.select_related("snapshot")


def digest_of(snapshot: Snapshot) -> str:
    """Return the digest of a snapshot from what is stored of it."""
    about = [
        snapshot.format,
        snapshot.number,
        snapshot.reason,
        snapshot.on.isoformat(),
        snapshot.known_then,
        snapshot.known_now,
        snapshot.facts,
        snapshot.content,
    ]
    text = json.dumps(about, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return sha256(text.encode()).hexdigest()


def _next_number() -> str:
    year = today().year
    return f"S-{year}-{next_count(Snapshot, year):03d}"
