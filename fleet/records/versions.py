"""Writing facts: open a version, continue it, correct it, retract it."""

from collections.abc import Iterable, Iterator
from itertools import islice
from typing import Any, TypeVar

from django.db import models

from fleet.records.deeds import closed as closed_now
from fleet.records.deeds import overturn, wrote
from fleet.records.models import Entry, Identity, Kind, Version
from fleet.records.refusing import refusing

V = TypeVar("V", bound=Version)
I = TypeVar("I", bound=Identity)  # noqa: E741  # the identity beside its versions
M = TypeVar("M", bound=models.Model)

_OWN = {"id", "opened_by", "closed_by", "change", "reason", "replaces"}


def identify(model: type[I], *, entry: Entry, **values: Any) -> I:
    """Make the identity row of a new thing."""
    row = model(created_by=entry, **values)
    _check(row)
    row.save(force_insert=True)
    wrote([row])
    return row


def open_version(
    model: type[V],
    *,
    entry: Entry,
    change: str = Kind.OPENED,
    reason: str = "",
    replaces: V | None = None,
    **values: Any,
) -> V:
    """
    Record a fact; `since`, `until` and `on` take a Moment.

    Raises ValidationError keyed by field if the row itself is wrong.
    """
    row = model(
        opened_by=entry, change=change, reason=reason, replaces=replaces, **values
    )
    _check(row)
    row.save(force_insert=True)
    wrote([row])
    return row


def continue_version(old: V, *, entry: Entry, reason: str = "", **changes: Any) -> V:
    """Record how a fact went on (an interval that ended, a state that moved)."""
    return _replace(old, entry=entry, change=Kind.CONTINUED, reason=reason, **changes)


def correct_version(old: V, *, entry: Entry, reason: str, **changes: Any) -> V:
    """Record that a fact was written down wrongly; both versions stay."""
    _need(reason)
    return _replace(old, entry=entry, change=Kind.CORRECTED, reason=reason, **changes)


def retract_version(old: V, *, entry: Entry, reason: str) -> V:
    """Record that a fact never was; the retraction is a version too."""
    _need(reason)
    return _replace(old, entry=entry, change=Kind.RETRACTED, reason=reason)


def _need(reason: str) -> None:
    if not reason.strip():
        raise refusing("Say why, in a few words.", code="no_reason", field="reason")


def _replace(old: V, *, entry: Entry, change: str, reason: str, **changes: Any) -> V:
    closed = type(old)._base_manager.filter(pk=old.pk, closed_by__isnull=True)
    if old.change == Kind.RETRACTED or not closed.update(closed_by=entry):
        raise refusing(
            "This record has been superseded meanwhile. Open the newest version and "
            "start from there.",
            code="already_superseded",
        )
    values = {
        f.attname: getattr(old, f.attname)
        for f in old._meta.concrete_fields
        if f.name not in _OWN
    }
    new = type(old)(
        **values, opened_by=entry, change=change, reason=reason, replaces_id=old.pk
    )
    for name, value in changes.items():
        setattr(new, name, value)
    _check(new)
    new.save(force_insert=True)
    closed_now(old, entry)
    if change != Kind.CONTINUED:
        overturn(old, f"{Kind(change).label.lower()}: {reason.strip()}")
    wrote([new])
    return new


def _check(row: models.Model) -> None:
    """Validate a row without asking the database whether its foreign keys exist."""
    keys = [f.name for f in row._meta.fields if f.is_relation]
    row.full_clean(exclude=keys, validate_unique=False)


def write_many(rows: Iterable[M], *, batch: int = 2_000) -> Iterator[int]:
    """
    Insert rows of one model in batches inside the running deed; yield the count so far.

    The one bulk writer: for the demo, imports and benchmarks, where a service call for
    each row would take hours. Guards hold here too; rows are not cleaned one by one.
    """
    stream, done = iter(rows), 0
    while chunk := list(islice(stream, batch)):
        type(chunk[0])._base_manager.bulk_create(chunk)
        wrote(chunk)
        done += len(chunk)
        yield done
