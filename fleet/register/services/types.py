"""Defining vehicle types, and revising their positions and brake figures."""

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError

from fleet.people.models import User
from fleet.records.deeds import announce, deed
from fleet.records.models import Entry, Kind
from fleet.records.refusing import refusing
from fleet.records.versions import identify, open_version, write_many
from fleet.register.models import BrakeFigures, Position, TypeRevision, VehicleType

Places = Sequence[Mapping[str, Any]]
Given = Sequence[Mapping[str, Any]]


def define_type(
    *,
    by: User | None,
    code: str,
    name: str,
    effective_from: dt.date,
    positions: Places,
    source: str = "",
    figures: Given = (),
) -> VehicleType:
    """
    Define a type of vehicle with its positions, in the order given, and brake figures.

    Each position is a mapping of the columns of `Position`, each of `figures` one of
    those of `BrakeFigures`, once for a system. Raises ValidationError: `type_exists`,
    `position_twice`, `figures_twice`, or what is wrong with a position or a figure.
    """
    with deed("register.define_type", by=by) as entry:
        if VehicleType.objects.filter(code__iexact=code).exists():
            raise _exists(code)
        try:
            type_ = identify(VehicleType, entry=entry, code=code)
        except IntegrityError as error:  # defined by another meanwhile
            raise _exists(code) from error
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
        _give(revision, figures)
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
    figures: Given | None = None,
) -> TypeRevision:
    """
    Give a type another list of positions from a day on; earlier days keep theirs.

    Its brake figures go on as they are where `figures` is None. Raises ValidationError
    at `effective_from`, code `revision_not_later`; else as `define_type`.
    """
    with deed("register.revise_type", by=by, locking=(type,)) as entry:
        newest = TypeRevision.objects.current().filter(type=type).latest("number")
        if effective_from <= newest.effective_from:
            raise refusing(
                f"Revision {newest.number} took effect on "
                f"{newest.effective_from.day} {newest.effective_from:%B %Y}; "
                "a new one takes effect later.",
                code="revision_not_later",
                field="effective_from",
            )
        revision = _revision(entry, newest, name, effective_from, source, reason)
        _place(revision, positions)
        _give(revision, figures_held(newest) if figures is None else figures)
        announce(type)
        return revision


def _exists(code: str) -> ValidationError:
    return refusing(
        f"There is a type {code} already. Revise it, or choose another code.",
        code="type_exists",
        field="code",
    )


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
    list(write_many(rows))


def figures_held(revision: TypeRevision) -> list[dict[str, Any]]:
    """Return the brake figures of a revision as services take them."""
    names = [f.name for f in BrakeFigures._meta.concrete_fields]
    kept = [name for name in names if name not in {"id", "revision"}]
    return [
        {name: getattr(row, name) for name in kept} for row in revision.figures.all()
    ]


def _give(revision: TypeRevision, figures: Given) -> None:
    rows = [BrakeFigures(revision=revision, **values) for values in figures]
    if len({row.system for row in rows}) < len(rows):
        raise refusing(
            "Give the brake figures of a system once.",
            code="figures_twice",
            field="figures",
        )
    for row in rows:
        row.full_clean(
            exclude=["revision"], validate_unique=False, validate_constraints=False
        )
    list(write_many(rows))
