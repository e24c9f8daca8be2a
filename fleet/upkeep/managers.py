"""Reads of upkeep: which revision is in force on a day."""

import datetime as dt
from typing import Self

from django.db.models import Exists, OuterRef, Q

from fleet.records.models import Kind, VersionQuerySet


class RevisionQuerySet(VersionQuerySet):
    """Reads of revisions; `belongs_to` of the model names the identity they revise."""

    def in_force(self, day: dt.date) -> Self:
        """Keep the revisions that rule on a day, one of each identity at most."""
        later = self.model._base_manager.filter(
            closed_by__isnull=True,
            effective_from__lte=day,
            number__gt=OuterRef("number"),
            **{name: OuterRef(name) for name in self._identity()},
        ).exclude(change=Kind.RETRACTED)
        begun = self.current().filter(~Exists(later), effective_from__lte=day)
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
