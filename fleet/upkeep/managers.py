"""Reads of upkeep: which revision is in force on a day, how concessions stand."""

import datetime as dt
from typing import Self

from django.db.models import Exists, OuterRef, Q, Subquery

from fleet.records.models import Kind, VersionQuerySet
from fleet.register.models import EquipmentVersion, VehicleVersion
from fleet.upkeep.vocabulary import ConcessionStatus

_GRANTED = (ConcessionStatus.GRANTED, ConcessionStatus.WITHDRAWN)


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


class ConcessionVersionQuerySet(VersionQuerySet):
    """Reads of what was asked and granted."""

    def granted(self) -> Self:
        """Keep what was granted, withdrawn later or not."""
        return self.current().filter(status__in=_GRANTED)

    def for_list(self) -> Self:
        """Load what a list shows: `number` of the vehicle or `serial` of the item."""
        vehicles = VehicleVersion.objects.current().filter(
            vehicle=OuterRef("concession__vehicle")
        )
        items = EquipmentVersion.objects.current().filter(
            equipment=OuterRef("concession__equipment")
        )
        return (
            self.current()
            .select_related(
                "concession__requirement",
                "concession__defect",
                "concession__equipment",
                "asked_by",
                "agreed_by",
                "accepted_by",
            )
            .annotate(
                number=Subquery(vehicles.order_by("-since_key").values("number")[:1]),
                serial=Subquery(items.order_by("-since_key").values("serial")[:1]),
            )
            .order_by("concession", "renewal")
        )
