"""Reads of upkeep: how concessions stand."""

from typing import Self

from django.db.models import OuterRef, Subquery

from fleet.records.models import VersionQuerySet
from fleet.register.models import EquipmentVersion, VehicleVersion
from fleet.upkeep.vocabulary import ConcessionStatus

_GRANTED = (ConcessionStatus.GRANTED, ConcessionStatus.WITHDRAWN)


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
