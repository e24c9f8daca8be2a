"""Reads of the register."""

import datetime as dt
from typing import Any, Self

from django.db import models
from django.db.models import OuterRef, Q, Subquery

from fleet.records.models import VersionQuerySet


class TypeRevisionQuerySet(VersionQuerySet):
    """Reads of type revisions."""

    def of_type(self, type_id: int, day: dt.date | None) -> Any:
        """
        Return the revision of a type in force on a day.

        Before the first took effect, and for an unknown day, the first counts: what was
        there before it was written down is not recorded anywhere. None: no revision.
        """
        held = self.current().filter(type=type_id).order_by("effective_from", "number")
        if day is not None:
            in_force = held.filter(effective_from__lte=day).last()
            if in_force is not None:
                return in_force
        return held.first()


class VehicleQuerySet(models.QuerySet[Any]):
    """Reads of vehicle identities."""


class VehicleVersionQuerySet(VersionQuerySet):
    """Reads of vehicle particulars."""

    def numbered(self, number: str) -> Self:
        """Keep those bearing a running number, ignoring case and spaces around."""
        return self.filter(number__iexact=number.strip())


class EquipmentQuerySet(models.QuerySet[Any]):
    """Reads of equipment identities."""


class EquipmentVersionQuerySet(VersionQuerySet):
    """Reads of what is held of items."""

    def matching(self, word: str) -> Self:
        """Keep items whose serial, designation or group contains a word."""
        return self.filter(
            Q(serial__icontains=word)
            | Q(designation__icontains=word)
            | Q(group__icontains=word)
        )


class RatingsQuerySet(VersionQuerySet):
    """Reads of the particulars a kind has of its own."""


class UsageQuerySet(VersionQuerySet):
    """Reads of usage."""

    def sharing_days(self, first: dt.date, last: dt.date) -> Self:
        """Keep rows with a day between two, both included."""
        return self.filter(first__lte=last, last__gte=first)

    def by_meter(self) -> Self:
        """Keep meter readings, the oldest first."""
        return self.filter(meter_miles__isnull=False).order_by("last")


class StorageQuerySet(VersionQuerySet):
    """Reads of periods out of use."""


class FittingQuerySet(VersionQuerySet):
    """Reads of where items are and were."""

    def on_vehicles(self) -> Self:
        """Leave stores out."""
        return self.filter(vehicle__isnull=False)

    def with_serial(self) -> Self:
        """Add the item's newest serial number as `serial`."""
        from fleet.register.models import EquipmentVersion

        newest = (
            EquipmentVersion.objects.current()
            .open_ended()
            .filter(equipment=OuterRef("equipment"))
        )
        return self.annotate(serial=Subquery(newest.values("serial")[:1]))
