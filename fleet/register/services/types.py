"""Defining vehicle types and revising their positions."""

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from fleet.people.models import User
from fleet.records.deeds import announce, deed
from fleet.records.models import Entry, Kind
from fleet.records.refusing import refusing
from fleet.records.versions import identify, open_version
from fleet.register.models import Position, TypeRevision, VehicleType

Places = Sequence[Mapping[str, Any]]


def define_type(
    *,
    by: User | None,
    code: str,
    name: str,
    effective_from: dt.date,
    positions: Places,
    source: str = "",
) -> VehicleType:
    """
    Define a type of vehicle with its positions, in the order given.

    Each position is a mapping of the columns of `Position`. Raises ValidationError:
    `type_exists`, `position_twice`, or what is wrong with a position.
    """
    with deed("register.define_type", by=by) as entry:
        if VehicleType.objects.filter(code=code).exists():
            raise refusing(
                f"There is a type {code} already. Revise it, or choose another code.",
                code="type_exists",
                field="code",
            )
        type_ = identify(VehicleType, entry=entry, code=code)
        revision = open_version(
            TypeRevision,
            entry=entry,
            type=type_,
            number=1,
            name=name,
            effective_from=effective_from,
            source=source,
        )
        _place(revision, positions)
        announce(type_)
        return type_


def revise_type(
    *,
    by: User | None,
    type: VehicleType,  # the word the callers read
    name: str,
    effective_from: dt.date,
    positions: Places,
    source: str = "",
    reason: str = "",
) -> TypeRevision:
    """
    Give a type another list of positions from a day on; earlier days keep theirs.

    Raises ValidationError at `effective_from`, code `revision_not_later`.
    """
    with deed("register.revise_type", by=by, locking=(type,)) as entry:
        newest = TypeRevision.objects.current().filter(type=type).latest("number")
        if effective_from <= newest.effective_from:
            raise refusing(
                f"Revision {newest.number} took effect on {newest.effective_from}; "
                "a new one takes effect later.",
                code="revision_not_later",
                field="effective_from",
            )
        revision = _revision(entry, newest, name, effective_from, source, reason)
        _place(revision, positions)
        announce(type)
        return revision


def _revision(
    entry: Entry,
    newest: TypeRevision,
    name: str,
    effective_from: dt.date,
    source: str,
    reason: str,
) -> TypeRevision:
    return open_version(
        TypeRevision,
        entry=entry,
        change=Kind.OPENED,
        reason=reason,
        type=newest.type,
        number=newest.number + 1,
        name=name,
        effective_from=effective_from,
        source=source,
    )


def _place(revision: TypeRevision, positions: Places) -> None:
    counted = Counter(str(place["code"]) for place in positions)
    twice = sorted(code for code, times in counted.items() if times > 1)
    if twice:
        raise refusing(
            f"Each position needs a code of its own; given twice: {', '.join(twice)}.",
            code="position_twice",
            field="positions",
        )
    rows = [
        Position(revision=revision, **{"order": order, **place})
        for order, place in enumerate(positions, start=1)
    ]
    for row in rows:
        row.full_clean(
            exclude=["revision"], validate_unique=False, validate_constraints=False
        )
    Position.objects.bulk_create(rows)
