"""
Brake status kept in step with the facts: reassessed with each deed, or marked stale.

Nobody calls this to change a status. It listens to every deed and, before that commits,
works out what the facts now say of the vehicles it touched.
"""

from collections.abc import Callable, Iterable, Sequence

from django.conf import settings

from fleet.fitness.gather import BATCH, vehicle_files
from fleet.fitness.locks import lock_status
from fleet.fitness.models import Stale
from fleet.fitness.practice import practice_known
from fleet.fitness.rules import BOOK
from fleet.fitness.standing import NOTHING, Standing
from fleet.fitness.storing import Changes, mark_stale, stored_of, unmark_stale
from fleet.fitness.subjects import every_vehicle, touches_policy, vehicles_of
from fleet.fitness.verdict import verdict
from fleet.records.deeds import Subject, deed, overturned, submitted
from fleet.records.models import Channel, Entry

STALE_ABOVE = 50  # vehicles; settings.FLEET_REASSESS_AT_ONCE goes before it

Progress = Callable[[int, int], None]  # vehicles done, vehicles in all


def on_deed(subjects: frozenset[Subject], entry: Entry) -> None:
    """Bring the status of whatever a deed touched up to date, in the deed itself."""
    limit = getattr(settings, "FLEET_REASSESS_AT_ONCE", STALE_ABOVE)
    if touches_policy(subjects):
        vehicles = every_vehicle(at_most=limit)
    else:
        vehicles = vehicles_of(subjects)
    if vehicles is None or len(vehicles) > limit:
        lock_status()
        mark_stale(vehicles, entry)
        _withdraw_citing(vehicles, entry)
    elif vehicles:
        reassess(vehicles, entry)


def reassess(vehicle_ids: Iterable[int], entry: Entry) -> None:
    """
    Work out spans and due dates of vehicles anew and store what differs.

    Spans that still hold stay as they are; others are closed, and new ones opened, under
    `entry`. The number of queries does not depend on that of the vehicles.
    """
    ids = sorted(set(vehicle_ids))
    lock_status()
    stored = stored_of(ids)
    practice = practice_known(None)
    held = practice.policy
    changes = Changes()
    statements = Standing(ids, overturned())
    for file in vehicle_files(ids, practice=practice):
        said = verdict(file, held, BOOK)
        changes.compare(file.id, stored.pop(file.id), said)
        statements.compare(file.id, said)
    for vehicle, rest in stored.items():
        changes.compare(vehicle, rest, None)
        statements.compare(vehicle, NOTHING)
    changes.write(entry, held, BOOK.version)
    unmark_stale(ids)
    statements.withdraw(entry)


def _withdraw_citing(vehicle_ids: Iterable[int] | None, entry: Entry) -> None:
    """Withdraw what cites a version now found wrong; levels are compared later."""
    wrong = overturned()
    if wrong:
        statements = Standing(vehicle_ids, wrong)
        statements.compare_citations()
        statements.withdraw(entry)


def rebuild(
    *,
    vehicle_ids: Iterable[int] | None = None,
    chunk: int = BATCH,
    progress: Progress | None = None,
) -> int:
    """
    Reassess every stale vehicle, a chunk in each transaction; return how many there were.

    `vehicle_ids` are marked stale first. If it is stopped, the rest stay marked, and the
    next call goes on from there.
    """
    with submitted(channel=Channel.COMMAND):
        if vehicle_ids is not None:
            mark_for_rebuild(vehicle_ids)
        total, done = Stale.objects.count(), 0
        while ids := _next_stale(chunk):
            with deed("fitness.rebuild", by=None) as entry:
                reassess(ids, entry)
            done += len(ids)
            if progress is not None:
                progress(done, max(total, done))
    return done


def mark_for_rebuild(vehicle_ids: Iterable[int] | None) -> None:
    """Mark vehicles, all of them for None, as not yet reassessed."""
    with deed("fitness.mark_stale", by=None) as entry:
        lock_status()
        mark_stale(vehicle_ids, entry)


def _next_stale(chunk: int) -> Sequence[int]:
    marked = Stale.objects.order_by("vehicle").values_list("vehicle", flat=True)
    return list(marked[:chunk])
