"""Reads of procedures and test records."""

import datetime as dt
from typing import TYPE_CHECKING, Self

from django.db.models import Count, OuterRef, Q, Subquery

from fleet.examination.vocabulary import Result, TestSubject
from fleet.records.models import VersionQuerySet

if TYPE_CHECKING:
    from fleet.register.models import Equipment, Vehicle


class ProcedureRevisionQuerySet(VersionQuerySet):
    """Reads of procedure revisions."""

    def in_force(self, day: dt.date) -> Self:
        """Keep, of each procedure, the revision in force on a day."""
        newest = (
            self.model.objects.current()
            .filter(procedure=OuterRef("procedure"), effective_from__lte=day)
            .order_by("-effective_from", "-number")
        )
        return self.current().filter(pk=Subquery(newest.values("pk")[:1]))

    def for_list(self) -> Self:
        """Add how many lines there are, and how many say not what is good enough."""
        from fleet.examination.criteria import lacking

        return self.select_related("procedure").annotate(
            line_count=Count("lines"),
            without_criterion=Count("lines", lacking("lines__")),
        )

    def for_page(self) -> Self:
        """Load every revision with its lines and who brought it in, oldest first."""
        return (
            self.current()
            .select_related("opened_by__user", "drafted_by", "approved_by")
            .prefetch_related("lines")
            .order_by("number")
        )

    def on_vehicles(self) -> Self:
        """Keep procedures carried out on a vehicle."""
        return self.filter(subject=TestSubject.VEHICLE)

    def on_items_of(self, kind: str) -> Self:
        """Keep procedures carried out on items of a kind, or of any kind."""
        return self.filter(subject=TestSubject.EQUIPMENT, kind__in=("", kind))


class TestRecordQuerySet(VersionQuerySet):
    """Reads of test records."""

    __test__ = False

    def for_list(self) -> Self:
        """Load what a list of tests shows: procedure, person, numbers of the subject."""
        return self.select_related(
            "procedure_revision__procedure", "done_by", "vehicle", "equipment"
        ).with_numbers()

    def with_numbers(self) -> Self:
        """Add the subject's newest `vehicle_number` or `item_serial`."""
        from fleet.register.models import EquipmentVersion, VehicleVersion

        vehicles = VehicleVersion.objects.current().filter(vehicle=OuterRef("vehicle"))
        items = EquipmentVersion.objects.current().filter(
            equipment=OuterRef("equipment")
        )
        return self.annotate(
            vehicle_number=Subquery(
                vehicles.order_by("-since_key").values("number")[:1]
            ),
            item_serial=Subquery(items.order_by("-since_key").values("serial")[:1]),
        )

    def for_page(self) -> Self:
        """Load what the page of a test shows of each version."""
        return (
            self.for_list()
            .select_related("place", "opened_by__user", "closed_by")
            .prefetch_related("readings__line", "procedure_revision__lines")
        )

    def of(
        self, *, vehicle: "Vehicle | None" = None, equipment: "Equipment | None" = None
    ) -> Self:
        """Keep tests of one vehicle, or of one item."""
        if vehicle is not None:
            return self.filter(vehicle=vehicle)
        return self.filter(equipment=equipment)

    def by_day(self, day: dt.date) -> Self:
        """Keep tests done by the close of a day; one of unknown date too."""
        return self.filter(Q(on_earliest__lte=day) | Q(on_earliest__isnull=True))

    def with_result(self, result: str) -> Self:
        """Keep tests that came to a result."""
        if result == Result.PASSED:
            return self.filter(passed=True)
        incomplete = Q(unanswered__gt=0, failed=0)
        rest = self.filter(passed=False)
        if result == Result.INCOMPLETE:
            return rest.filter(incomplete)
        return rest.exclude(incomplete)

    def of_vehicle_numbered(self, text: str) -> Self:
        """Keep tests of vehicles that bear, or bore, a running number like this."""
        from fleet.register.models import VehicleVersion

        bearers = VehicleVersion.objects.current().filter(
            number__icontains=text.strip()
        )
        return self.filter(vehicle__in=bearers.values("vehicle"))

    def of_item_with_serial(self, text: str) -> Self:
        """Keep tests of items with a serial number like this."""
        from fleet.register.models import EquipmentVersion

        items = EquipmentVersion.objects.current().filter(
            serial__icontains=text.strip()
        )
        return self.filter(equipment__in=items.values("equipment"))
