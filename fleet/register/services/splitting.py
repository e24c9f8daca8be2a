"""How particulars change from a date on: the old ones end there, new ones begin."""

from typing import Any, TypeVar

from django.db.models import QuerySet

from fleet.engineering.calendar import Moment
from fleet.records.models import Entry, Lasting, Version
from fleet.records.moments import refuse_future, refuse_unknown
from fleet.records.refusing import refusing
from fleet.records.versions import continue_version, correct_version, open_version

R = TypeVar("R", bound=Version)

_NOT_COPIED = {
    field.name for model in (Version, Lasting) for field in model._meta.local_fields
} | {"id"}


def split(held: R, *, since: Moment, entry: Entry, **changes: Any) -> R:
    """
    End the newest particulars at a moment and let altered ones go on from there.

    Earlier intervals are left as they are: a conversion never rewrites the past.
    Raises ValidationError at `since`: in the future, unknown, or before `held` began.
    """
    refuse_unknown(since, "since")
    refuse_future(since, "since")
    begun: Moment = held.since  # type: ignore[attr-defined]  # every R lasts
    if (since.key or 0) < (begun.key or 0):
        raise refusing(
            f"Particulars from {begun} on are recorded already. Give a later date, "
            "or correct those.",
            code="later_particulars",
            field="since",
        )
    kept = values_of(held) | changes
    continue_version(held, entry=entry, until=since)
    begins: R = open_version(type(held), entry=entry, since=since, **kept)
    return begins


def mend(
    held: R, *, siblings: QuerySet[R], entry: Entry, reason: str, **changes: Any
) -> R:
    """
    Correct particulars; where their beginning moves, the end of those before moves along.

    Raises ValidationError at `since`, code `particulars_overlap`, if it would pass the
    beginning of those before.
    """
    since: Moment | None = changes.get("since")
    begun: Moment = held.since  # type: ignore[attr-defined]  # every R lasts
    before = None
    if since is not None and begun.known:
        before = siblings.filter(until_key=begun.key).exclude(pk=held.pk).last()
        _refuse_passing(before, since)
    earlier = since is not None and (since.key or 0) < (begun.key or 0)
    if before is not None and earlier:
        correct_version(before, entry=entry, reason=reason, until=since)
    corrected: R = correct_version(held, entry=entry, reason=reason, **changes)
    if before is not None and not earlier:
        correct_version(before, entry=entry, reason=reason, until=since)
    return corrected


def _refuse_passing(before: Any, since: Moment) -> None:
    if before is not None and (since.key or 0) < before.since_key:
        raise refusing(
            f"Other particulars hold from {before.since}. Correct those first.",
            code="particulars_overlap",
            field="since",
        )


def values_of(row: Version) -> dict[str, Any]:
    """Return what a version says, without when it held and who recorded it."""
    fields = (f for f in row._meta.concrete_fields if f.name not in _NOT_COPIED)
    return {field.name: getattr(row, field.name) for field in fields}


def refuse_strangers(changes: dict[str, Any], allowed: frozenset[str]) -> None:
    """Stop a caller who names what cannot be changed; a wrong call, not a wrong fact."""
    unknown = sorted(set(changes) - allowed)
    if unknown:
        raise TypeError(f"cannot change {', '.join(unknown)}")
