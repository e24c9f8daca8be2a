"""Reads of the register."""

import datetime as dt
from typing import Any, Self

from django.db import models
from django.db.models import Count, Exists, F, Max, OuterRef, Q, Subquery
from django.db.models.functions import Lower

from fleet.records.models import Kind, VersionQuerySet
from fleet.register.vocabulary import kinds_called


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

    def for_list(self) -> Self:
        """Keep each type's newest revision, with the number of its positions."""
        later = self.model._base_manager.filter(
            type=OuterRef("type"),
            closed_by__isnull=True,
            number__gt=OuterRef("number"),
        ).exclude(change=Kind.RETRACTED)
        newest = self.current().filter(~Exists(later)).select_related("type")
        return newest.annotate(places=Count("positions"))

    def for_page(self, type_: Any) -> Self:
        """Load the revisions of a type with their positions, the newest first."""
        rows = self.filter(type=type_).order_by("-number")
        return rows.prefetch_related("positions", "figures").select_related(
            "opened_by__user"
        )


class VehicleQuerySet(models.QuerySet[Any]):
    """Reads of vehicle identities."""


class VehicleVersionQuerySet(VersionQuerySet):
    """Reads of vehicle particulars."""

    def numbered(self, number: str) -> Self:
        """Keep those bearing a running number, ignoring case and spaces too many."""
        return self.filter(number__iexact=" ".join(number.split()))

    def called(self, words: str) -> Self:
        """Keep vehicles that bear, or ever bore, a number with these words in it."""
        bore = self.model._base_manager.filter(
            closed_by__isnull=True, number__icontains=words.strip()
        ).exclude(change=Kind.RETRACTED)
        return self.filter(vehicle__in=bore.values("vehicle"))

    def newest(self) -> Self:
        """Keep what holds with no end, one row for each vehicle."""
        return self.current().open_ended()

    def for_list(self) -> Self:
        """Load what a list of vehicles shows; one row for each vehicle."""
        from fleet.register.models import TypeRevision

        drawn = TypeRevision.objects.current().filter(type=OuterRef("type"))
        named = Subquery(drawn.order_by("-number").values("name")[:1])
        rows = self.newest().annotate(type_name=named)
        return rows.select_related("type", "depot").order_by("number")


class VehicleTypeQuerySet(models.QuerySet[Any]):
    """Reads of types of vehicle."""

    def named(self) -> Self:
        """Add what the newest revision calls the type as `name`, for choices."""
        from fleet.register.models import TypeRevision

        drawn = TypeRevision.objects.current().filter(type=OuterRef("pk"))
        return self.annotate(
            name=Subquery(drawn.order_by("-number").values("name")[:1])
        ).order_by("name")


class EquipmentQuerySet(models.QuerySet[Any]):
    """Reads of equipment identities."""


class EquipmentVersionQuerySet(VersionQuerySet):
    """Reads of what is held of items."""

    def called(self, words: str) -> Self:
        """Keep items by serial, designation or group, or by a word of the trade."""
        words = words.strip()
        return self.filter(
            Q(serial__icontains=words)
            | Q(designation__icontains=words)
            | Q(group__icontains=words)
            | Q(kind__in=kinds_called(words))
        )

    def newest(self) -> Self:
        """Keep what holds with no end, one row for each item."""
        return self.current().open_ended()

    def with_place(self) -> Self:
        """Add where the item is now: `at_vehicle`, `at_number`, `at_label`, `at_store`."""
        from fleet.register.models import Fitting

        now = (
            Fitting.objects.current()
            .open_ended()
            .filter(equipment=OuterRef("equipment"))
        )
        return self.annotate(
            at_vehicle=Subquery(now.values("vehicle")[:1]),
            at_number=Subquery(now.with_number().values("number")[:1]),
            at_position=Subquery(now.values("position")[:1]),
            at_label=Subquery(now.with_label().values("label")[:1]),
            at_store=Subquery(now.values("store__name")[:1]),
        )

    def in_stores(self) -> Self:
        """Keep items that lie in a store now."""
        from fleet.register.models import Fitting

        lying = Fitting.objects.current().open_ended().filter(store__isnull=False)
        return self.filter(equipment__in=lying.values("equipment"))

    def for_list(self) -> Self:
        """Load what a list of items shows; one row for each item."""
        return self.newest().with_place().order_by("kind", Lower("serial"))


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

    def with_number(self) -> Self:
        """Add the vehicle's newest running number as `number`."""
        from fleet.register.models import VehicleVersion

        newest = (
            VehicleVersion.objects.current()
            .open_ended()
            .filter(vehicle=OuterRef("vehicle"))
        )
        return self.annotate(number=Subquery(newest.values("number")[:1]))

    def with_label(self) -> Self:
        """Add what a fitter calls the position as `label`; null if the type has it not."""
        from fleet.register.models import Position, VehicleVersion

        types = (
            VehicleVersion.objects.current()
            .open_ended()
            .filter(vehicle=OuterRef(OuterRef("vehicle")))
        )
        named = Position.objects.filter(
            code=OuterRef("position"),
            revision__closed_by__isnull=True,
            revision__type__in=types.values("type"),
        ).order_by("-revision__number")
        return self.annotate(label=Subquery(named.values("label")[:1]))

    def for_life(self) -> Self:
        """Load where something was, oldest first, with who recorded it."""
        rows = self.with_serial().with_number().with_label()
        rows = rows.select_related("store", "opened_by__user")
        return rows.order_by("since_key", "pk")

    def put_right(self) -> Self:
        """Keep corrections and retractions, with what they replaced."""
        changed = self.filter(change__in=(Kind.CORRECTED, Kind.RETRACTED))
        return changed.for_life().select_related("replaces__store")


class OverhaulQuerySet(VersionQuerySet):
    """Reads of overhauls."""

    def for_item(self, equipment: Any) -> Self:
        """Load every version of an item's overhauls, the newest day first."""
        rows = self.filter(equipment=equipment).select_related("opened_by__user")
        return rows.order_by(F("on_earliest").desc(nulls_last=True), "-pk")

    def done(self, overhauler: str, kit_batch: str) -> Self:
        """Keep those held true by an overhauler or with a kit, whichever are named."""
        rows = self.current()
        if overhauler:
            rows = rows.filter(overhauler__iexact=overhauler)
        return rows.filter(kit_batch__iexact=kit_batch) if kit_batch else rows

    def overhaulers(self, newest: int = 200) -> list[str]:
        """Return the names used so far, those used last first, to be suggested."""
        names = self.current().values("overhauler").annotate(last=Max("pk"))
        return list(
            names.order_by("-last").values_list("overhauler", flat=True)[:newest]
        )
