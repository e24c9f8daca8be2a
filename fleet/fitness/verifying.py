"""Stored brake status held against a fresh recomputation of everything."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

from fleet.fitness.gather import BATCH, vehicle_files
from fleet.fitness.models import Stale, StatusSpan
from fleet.fitness.practice import practice_known
from fleet.fitness.rules import BOOK
from fleet.fitness.services import Progress
from fleet.fitness.storing import Changes, stored_of
from fleet.fitness.verdict import verdict
from fleet.register.models import Vehicle


@dataclass(frozen=True, slots=True)
class Difference:
    """A vehicle of which something else is stored than its facts say."""

    vehicle: int
    missing: tuple[str, ...]  # spans the facts give and nothing stored says
    surplus: int  # stored spans the facts do not give
    due_differs: bool


def differences(
    *, chunk: int = BATCH, progress: Progress | None = None
) -> Iterator[Difference]:
    """
    Recompute every vehicle and yield those of which something else is stored.

    Vehicles marked stale are left out: they are shown as not yet reassessed, and nothing
    stored of them counts. Writes nothing; memory does not grow with the fleet.
    """
    stale = set(Stale.objects.values_list("vehicle", flat=True))
    everything = Vehicle.objects.order_by("pk").values_list("pk", flat=True)
    total, done = everything.count(), 0
    vehicles = everything.iterator(chunk_size=chunk)
    while ids := list(islice(vehicles, chunk)):
        found = _differ([vehicle for vehicle in ids if vehicle not in stale])
        suspects = [difference.vehicle for difference in found]
        # Somebody may have written between two of the queries: look once more.
        yield from _differ(suspects) if suspects else ()
        done += len(ids)
        if progress is not None:
            progress(done, total)


def _differ(ids: list[int]) -> list[Difference]:
    stored = stored_of(ids)
    practice = practice_known(None)
    found = []
    for file in vehicle_files(ids, practice=practice):
        changes = Changes()
        said = verdict(file, practice.policy, BOOK)
        changes.compare(file.id, stored.pop(file.id), said)
        found.append(_difference(file.id, changes))
    for vehicle, rest in stored.items():
        changes = Changes()
        changes.compare(vehicle, rest, None)
        found.append(_difference(vehicle, changes))
    return [one for one in found if one.missing or one.surplus or one.due_differs]


def _difference(vehicle: int, changes: Changes) -> Difference:
    missing = tuple(
        f"{row[0]} from {row[1]} to {row[2] or 'further notice'}"
        for _, row in changes.opened
    )
    return Difference(vehicle, missing, len(changes.closed), bool(changes.due_of))


def assessed_by_another_book() -> int:
    """Return how many current spans another version of the rules gave."""
    spans = StatusSpan.objects.current().exclude(rulebook=BOOK.version)
    return spans.count()
