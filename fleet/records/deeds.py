"""
The unit of work: one deed, one transaction, one entry; locks first, numbers last.

Services write inside `deed`; what they touched they `announce`, and whoever listens
(the fitness slice) works it through once, before the outermost deed commits.
"""

import datetime as dt
import uuid as uuids
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any, TypeAlias

from django.db import connection, models, transaction
from django.db.models import Max
from django.utils.timezone import get_current_timezone

from fleet.records.clock import now
from fleet.records.guards import refusals
from fleet.records.models import Channel, Entry, Mention, Seal
from fleet.records.sealing import FORMAT, Closing, Line, row_line, seal_digest

NUMBER_LOCK = 7_301  # advisory locks of this application on PostgreSQL
POLICY_LOCK = 7_302

Subject: TypeAlias = tuple[str, int]  # model label in lower case, primary key
Listener: TypeAlias = Callable[[frozenset[Subject], Entry], None]

_listeners: list[Listener] = []


class AlreadyRecorded(Exception):
    """The same submission came in before; `entry` is what it became."""

    def __init__(self, entry: Entry) -> None:
        super().__init__(f"already recorded as entry {entry.number}")
        self.entry = entry


@dataclass(slots=True)
class _Deed:
    entry: Entry
    subjects: set[Subject] = field(default_factory=set)
    written: list[Line] = field(default_factory=list)
    closed: list[Closing] = field(default_factory=list)
    overturned: list[tuple[Subject, str]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Submission:
    uuid: uuids.UUID | None = None
    channel: str = Channel.PAGE
    device_time: dt.datetime | None = None


_current: ContextVar[_Deed | None] = ContextVar("deed", default=None)
_NOWHERE = _Submission()
_submission: ContextVar[_Submission] = ContextVar("submission", default=_NOWHERE)


def listen(listener: Listener) -> None:
    """Have `listener(subjects, entry)` called before each outermost deed commits."""
    if listener not in _listeners:
        _listeners.append(listener)


@contextmanager
def submitted(
    *,
    uuid: uuids.UUID | None = None,
    channel: str = Channel.PAGE,
    device_time: dt.datetime | None = None,
) -> Iterator[None]:
    """
    Say where the deeds inside come from; a `uuid` makes recording it twice harmless.

    A second deed under the same uuid raises AlreadyRecorded and writes nothing.
    """
    token = _submission.set(_Submission(uuid, channel, device_time))
    try:
        yield
    finally:
        _submission.reset(token)


@contextmanager
def deed(
    name: str,
    *,
    by: Any,
    locking: tuple[models.Model | None, ...] = (),
    policy: bool = False,
) -> Iterator[Entry]:
    """
    Do everything inside in one transaction under one entry.

    `by` is the user (None for the system itself). `locking` are the identities the
    service will read and write; `policy` keeps every other deed out meanwhile. A deed
    inside a deed joins it. What a guard refuses is raised as ValidationError.
    """
    running = _current.get()
    if running is not None:
        lock(*locking)
        marks = len(running.written), len(running.closed), len(running.overturned)
        try:
            yield running.entry
        except BaseException:  # what it wrote may be rolled back without us
            del running.written[marks[0] :]
            del running.closed[marks[1] :]
            del running.overturned[marks[2] :]
            raise
        return
    with refusals(), transaction.atomic():
        _share_policy(exclusive=policy)
        lock(*locking)
        mine = _Deed(_new_entry(name, by))
        token = _current.set(mine)
        try:
            yield mine.entry
            _close(mine)
        finally:
            _current.reset(token)


def announce(*subjects: models.Model | None) -> None:
    """Name the identities this deed touched; outside a deed this is an error."""
    running = _current.get()
    if running is None:
        raise RuntimeError("announce belongs inside a deed")
    running.subjects.update(
        (row._meta.label_lower, row.pk) for row in subjects if row is not None
    )


def wrote(rows: Iterable[models.Model]) -> None:
    """Have rows just inserted sealed with the running deed."""
    running = _current.get()
    if running is None:
        return  # no fact is written outside a deed; the check of the chain would tell
    for row in rows:
        running.written.append(row_line(row))
        closed_by = getattr(row, "closed_by_id", None)
        if closed_by is not None:  # history brought in: closed when it was inserted
            running.closed.append((row._meta.label_lower, row.pk, closed_by))


def closed(row: models.Model, entry: Entry) -> None:
    """Have the closing of a row sealed with the running deed."""
    running = _current.get()
    if running is not None:
        running.closed.append((row._meta.label_lower, row.pk, entry.pk))


def overturn(row: models.Model, words: str) -> None:
    """Note that the running deed says of a version that it was wrong, and how."""
    running = _current.get()
    if running is not None:
        running.overturned.append(((row._meta.label_lower, row.pk), words))


def overturned() -> dict[Subject, str]:
    """Return the versions the running deed corrected or retracted, and why, in words."""
    running = _current.get()
    return dict(running.overturned) if running is not None else {}


def lock(*rows: models.Model | None) -> None:
    """Lock identity rows in one order for all: by table, then by key."""
    if not connection.features.has_select_for_update:
        return  # SQLite: the transaction already holds the only write lock
    kept = sorted(
        (row for row in rows if row is not None and row.pk is not None),
        key=lambda row: (row._meta.label_lower, row.pk),
    )
    for _label, same in groupby(kept, key=lambda row: row._meta.label_lower):
        group = list(same)
        keys = [row.pk for row in group]
        held = type(group[0])._base_manager.filter(pk__in=keys).order_by("pk")
        list(held.select_for_update(no_key=True).values_list("pk"))


def _share_policy(*, exclusive: bool) -> None:
    if connection.vendor == "postgresql":
        shared = "" if exclusive else "_shared"
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT pg_advisory_xact_lock{shared}(%s)", [POLICY_LOCK])


def _new_entry(name: str, by: Any) -> Entry:
    source = _submission.get()
    if source.uuid is not None:
        before = Entry.objects.filter(uuid=source.uuid).first()
        if before is not None:
            raise AlreadyRecorded(before)
    return Entry.objects.create(
        deed=name,
        made_at=now(),
        user=by,
        uuid=source.uuid or uuids.uuid4(),
        channel=source.channel,
        device_time=source.device_time,
    )


def _close(mine: _Deed) -> None:
    subjects = frozenset(mine.subjects)
    wrote(
        Mention.objects.bulk_create(
            Mention(entry=mine.entry, kind=kind, key=key)
            for kind, key in sorted(subjects)
        )
    )
    if subjects:
        for listener in _listeners:
            listener(subjects, mine.entry)
    _number(mine)


def _lock_numbers() -> None:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [NUMBER_LOCK])


def _number(mine: _Deed) -> None:
    _lock_numbers()
    last, previous = newest()
    entry = mine.entry
    entry.number = last + 1
    Entry.objects.filter(pk=entry.pk).update(number=entry.number)
    _seal(entry, previous, mine.written, mine.closed).save(force_insert=True)


def newest() -> tuple[int, str]:
    """Return the number of the newest entry and its seal; 0 and "" before the first."""
    numbered = Entry.objects.filter(number__isnull=False).order_by("-number")
    number, digest = numbered.values_list("number", "seal__digest").first() or (0, "")
    return number or 0, digest or ""


def _seal(
    entry: Entry,
    previous: str,
    written: Iterable[Line] = (),
    closings: Iterable[Closing] = (),
) -> Seal:
    lines, shut = list(written), list(closings)
    digest = seal_digest(FORMAT, previous, entry, lines, shut)
    return Seal(entry=entry, format=FORMAT, digest=digest, rows=lines, closings=shut)


def number_at(moment: dt.datetime) -> int:
    """Return the number of the newest entry made by a time; 0 if there was none."""
    known = Entry.objects.filter(made_at__lte=moment, number__isnull=False)
    return known.aggregate(newest=Max("number"))["newest"] or 0


def import_days(name: str, days: list[dt.date], *, by: Any) -> dict[dt.date, Entry]:
    """
    Make one entry a day for records brought in with their history, oldest first.

    For an import into a register that nobody uses yet: the entries bear the days they
    stand for, so that what was known when can be asked. Numbers follow the days.
    """
    with transaction.atomic():
        _lock_numbers()
        last, digest = newest()
        evening = dt.time(18)
        rows = [
            Entry(
                number=last + 1 + place,
                deed=name,
                made_at=dt.datetime.combine(day, evening, get_current_timezone()),
                user=by,
                channel=Channel.IMPORT,
            )
            for place, day in enumerate(sorted(days))
        ]
        Entry.objects.bulk_create(rows, batch_size=1000)
        seals = []
        for row in rows:  # what cites them is sealed with the deed that brings it in
            seals.append(_seal(row, digest))
            digest = seals[-1].digest
        Seal.objects.bulk_create(seals, batch_size=1000)
    return dict(zip(sorted(days), rows, strict=True))
