"""Reads of defects, work in hand, isolations and the policy for clearing them."""

import datetime as dt
from typing import Any, Self

from django.apps import apps
from django.db import models
from django.db.models import Case, Exists, OuterRef, Prefetch, Q, Subquery, Value, When

from fleet.defects.vocabulary import Brake, Step
from fleet.examination.models import TestRecord
from fleet.records.models import VersionQuerySet
from fleet.register.models import EquipmentVersion, Fitting, VehicleVersion

_ENDS = [step for step in Step if step.ends]


def number_of(vehicle: str) -> Subquery:
    """Return the newest running number of the vehicle in column `vehicle`."""
    versions = VehicleVersion.objects.current().filter(vehicle=OuterRef(vehicle))
    return Subquery(versions.order_by("-since_key").values("number")[:1])


def serial_of(equipment: str) -> Subquery:
    """Return the newest serial number of the item in column `equipment`."""
    versions = EquipmentVersion.objects.current().filter(equipment=OuterRef(equipment))
    return Subquery(versions.order_by("-since_key").values("serial")[:1])


class DefectQuerySet(models.QuerySet[Any]):
    """Reads of defect tickets."""

    def like(self, defect: Any) -> Self:
        """Keep earlier tickets of the same item, or of the same place on a vehicle."""
        same = Q(pk__in=[])
        if defect.equipment_id:
            same |= Q(equipment=defect.equipment_id)
        if defect.vehicle_id and defect.position:
            same |= Q(vehicle=defect.vehicle_id, position=defect.position)
        return self.filter(same, pk__lt=defect.pk).order_by("-pk")


class DefectStepQuerySet(VersionQuerySet):
    """Reads of defect steps; the newest step stands for its defect."""

    def by_day(self, day: dt.date, known_at: int | None = None) -> Self:
        """Keep what had happened by the close of a day: a clearing only for certain."""
        surely = Q(step__in=_ENDS, on_latest__lte=day)
        maybe = ~Q(step__in=_ENDS) & (
            Q(on_earliest__lte=day) | Q(on_earliest__isnull=True)
        )
        return self.known_at(known_at).filter(surely | maybe)

    def newest(self, day: dt.date | None = None, known_at: int | None = None) -> Self:
        """
        Keep the newest step of each defect, as it stands now or stood on a day.

        `known_at` is the number of an entry: only what was recorded up to it counts.
        """
        pool = self.model._default_manager.all()
        held, later = self.known_at(known_at), pool.known_at(known_at)
        if day is not None:
            held, later = self.by_day(day, known_at), pool.by_day(day, known_at)
        after = later.filter(defect=OuterRef("defect"), number__gt=OuterRef("number"))
        return held.filter(~Exists(after))

    def open(self) -> Self:
        """Leave out what is cleared; meaningful on newest steps."""
        return self.exclude(step__in=_ENDS)

    def of_vehicle(
        self, vehicle: Any, day: dt.date, known_at: int | None = None
    ) -> Self:
        """
        Keep what bears on a vehicle on a day.

        A defect of the vehicle itself stays with it; a defect of an item is where the
        item is.
        """
        known = Fitting.objects.known_at(known_at)
        aboard = known.holding_on(day).filter(vehicle=vehicle)
        return self.filter(
            Q(defect__equipment__isnull=True, defect__vehicle=vehicle)
            | Q(defect__equipment__in=aboard.values("equipment"))
        )

    def of_equipment(self, equipment: Any) -> Self:
        """Keep the defects of an item."""
        return self.filter(defect__equipment=equipment)

    def for_list(self) -> Self:
        """
        Load what a list of defects shows, in one query.

        Adds `vehicle_number`, `serial`, `number_now` and `vehicle_now` (the vehicle that
        carries the item today) and `raised_on`; open ones first, newest first.
        """
        raised = self.model._default_manager.current().filter(
            defect=OuterRef("defect"), step=Step.RAISED
        )
        carries = (
            Fitting.objects.current()
            .open_ended()
            .filter(equipment=OuterRef("defect__equipment"), vehicle__isnull=False)
            .annotate(bears=number_of("vehicle"))
        )
        return (
            self.select_related("defect__equipment", "by")
            .annotate(
                vehicle_number=number_of("defect__vehicle"),
                serial=serial_of("defect__equipment"),
                number_now=Subquery(carries.values("bears")[:1]),
                vehicle_now=Subquery(carries.values("vehicle")[:1]),
                raised_on=Subquery(raised.values("on_earliest")[:1]),
                cleared=models.Case(
                    models.When(step__in=_ENDS, then=1),
                    default=0,
                    output_field=models.PositiveSmallIntegerField(),
                ),
            )
            .order_by("cleared", "-defect")
        )

    def for_history(self) -> Self:
        """Load what a defect's page shows: every version, in the order of the steps."""
        loaded = self.select_related("by", "opened_by__user", "closed_by", "test")
        return loaded.order_by("number", "pk")


class WorkQuerySet(VersionQuerySet):
    """Reads of work in hand."""

    def for_list(self) -> Self:
        """Load what a list of work in hand shows."""
        loaded = self.select_related("vehicle", "done_by", "released_by", "defect")
        return loaded.annotate(number=number_of("vehicle"))

    def released(self) -> Self:
        """Keep what somebody signed back to traffic."""
        return self.filter(until_key__isnull=False, released_by__isnull=False)

    def newest_released(self, vehicle: Any, day: dt.date) -> Self:
        """Keep what of a vehicle was released up to a day, the newest first."""
        held = self.released().filter(vehicle=vehicle, until_latest__lte=day)
        return held.select_related("released_by").order_by("-until_key", "-pk")


class MoveAuthorityQuerySet(VersionQuerySet):
    """Reads of authorities to move."""

    def in_force(self, day: dt.date, known_at: int | None) -> Self:
        """Keep those that hold at the close of a day, with what they are for isolated."""
        records: Any = apps.get_model("defects", "IsolationVersion").objects
        standing = records.known_at(known_at).holding_on(day)
        held = self.known_at(known_at).holding_on(day)
        return held.filter(
            Exists(standing.filter(isolation=OuterRef("isolation")))
        ).select_related("isolation", "given_by")


class IsolationQuerySet(models.QuerySet[Any]):
    """Reads of isolations."""


class IsolationVersionQuerySet(VersionQuerySet):
    """Reads of isolation records."""

    def for_list(self) -> Self:
        """Load what a list of isolations shows, in one query; adds `number`."""
        loaded = self.select_related("isolation", "by", "restored_by", "defect")
        return loaded.annotate(number=number_of("vehicle"))

    def for_register(self) -> Self:
        """
        Load what the isolation register shows, in two queries however many rows.

        Adds to `for_list` the authorities to move, as `isolation.moves`, and `tested`:
        the first test with lines on that brake that was passed after the restoring.
        """
        scopes = [
            When(isolation__system=brake, then=Value(brake.scope.value))
            for brake in Brake
        ]
        that_day = Q(on_earliest=OuterRef("until_earliest"))
        after = Q(on_earliest__gt=OuterRef("until_latest"))
        after |= that_day & Q(on_at__gte=OuterRef("until_at"))
        passed = TestRecord.objects.current().filter(
            after,
            vehicle=OuterRef("vehicle"),
            passed=True,
            procedure_revision__lines__scope=OuterRef("brake"),
        )
        first = passed.order_by("on_earliest", "on_at", "pk").values("test")[:1]
        moves = apps.get_model("defects", "MoveAuthority").objects.current()
        return (
            self.for_list()
            .annotate(brake=Case(*scopes))
            .annotate(tested=Subquery(first))
            .prefetch_related(
                Prefetch(
                    "isolation__authorities",
                    moves.select_related("given_by"),
                    to_attr="moves",
                )
            )
        )

    def for_history(self) -> Self:
        """Load what an isolation's page shows: every version, with its lines."""
        loaded = self.select_related("by", "restored_by", "opened_by__user")
        return loaded.prefetch_related("lines").order_by("since_key", "pk")
