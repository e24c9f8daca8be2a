"""Revisions of what the operator lays down: which rules on a day, writing the next."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any, Self

from django.db import models
from django.db.models import Exists, OuterRef, Q

from fleet.records.clock import today
from fleet.records.models import Entry, Version, VersionQuerySet
from fleet.records.refusing import refusing
from fleet.records.versions import open_version


class RevisionQuerySet(VersionQuerySet):
    """Reads of revisions; `belongs_to` of the model names the identity they revise."""

    def in_force(self, day: dt.date, known_at: int | None = None) -> Self:
        """
        Keep the revisions that rule on a day, one of each identity at most.

        `known_at` is the number of an entry: only what was recorded up to it counts.
        """
        later = self.model._default_manager.known_at(known_at).filter(
            effective_from__lte=day,
            number__gt=OuterRef("number"),
            **{name: OuterRef(name) for name in self._identity()},
        )
        begun = self.known_at(known_at).filter(~Exists(later), effective_from__lte=day)
        if not self._identity():
            return begun
        return begun.filter(
            Q(withdrawn_from__isnull=True) | Q(withdrawn_from__gt=day),
        )

    def newest_first(self) -> Self:
        """Keep what is held true, the revision of the highest number first."""
        return self.current().order_by("-number")

    def _identity(self) -> tuple[str, ...]:
        name: str = self.model.belongs_to
        return (name,) if name else ()


def next_number(model: type[Version], **identity: models.Model) -> int:
    """Return the next number; that of a revision taken back is not used again."""
    used = model._base_manager.filter(**identity)
    return (used.aggregate(last=models.Max("number"))["last"] or 0) + 1


def from_tomorrow(day: dt.date, old: Any) -> dt.date:
    """Return the day a revision takes effect; refuse one before tomorrow."""
    if day <= today():
        raise refusing(
            "A revision takes effect tomorrow at the earliest.",
            code="takes_effect_too_soon",
            field="effective_from",
        )
    if day <= old.effective_from:
        raise refusing(
            f"Revision {old.number} takes effect on {old.effective_from}. Choose a later "
            "day, or take that revision back first.",
            code="before_last_revision",
            field="effective_from",
        )
    return day


def carried_values(
    old: models.Model, names: Sequence[str], values: Mapping[str, Any]
) -> dict[str, Any]:
    """Return the values of the next revision: what is not named stays as it was."""
    strangers = sorted(set(values) - set(names))
    if strangers:
        raise TypeError(f"no such value: {', '.join(strangers)}")
    return {name: values.get(name, getattr(old, name)) for name in names}


def need_reason(reason: str) -> None:
    """Refuse to go on without a reason."""
    if not reason.strip():
        raise refusing("Say why, in a few words.", code="no_reason", field="reason")


def revise_only(
    model: type[Any],
    names: Sequence[str],
    *,
    entry: Entry,
    effective_from: dt.date,
    values: Mapping[str, Any],
    **hands: Any,
) -> Any:
    """
    Write the next revision of what there is only one of; `names` are its values.

    The first may hold from a day long past; after that a revision begins no earlier than
    tomorrow, and what is not named stays as it was.
    """
    old = model.objects.newest_first().first()
    if old is not None:
        effective_from = from_tomorrow(effective_from, old)
        values = carried_values(old, names, values)
    return open_version(
        model,
        entry=entry,
        number=next_number(model),
        effective_from=effective_from,
        **values,
        **hands,
    )
