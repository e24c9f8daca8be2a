"""Where items were: on a vehicle or in a store."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from fleet.records.guards import NoOverlap
from fleet.records.models import Lasting, Version
from fleet.records.refusing import refusing
from fleet.register.managers import FittingQuerySet
from fleet.register.models.equipment import Equipment
from fleet.register.models.types import Depot
from fleet.register.models.vehicles import Vehicle


class Fitting(Version, Lasting):
    """Where an item was over an interval: in a position of a vehicle, or in a store."""

    equipment = models.ForeignKey(Equipment, models.PROTECT, related_name="fittings")
    vehicle = models.ForeignKey(
        Vehicle, models.PROTECT, null=True, blank=True, related_name="fittings"
    )
    position = models.SlugField(max_length=30, blank=True, default="")
    store = models.ForeignKey(
        Depot, models.PROTECT, null=True, blank=True, related_name="+"
    )
    remark = models.CharField(max_length=200, blank=True, default="")

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "register_fitting_item_elsewhere",
            ("equipment_id",),
            "This item is recorded somewhere else for part of that time. Take it off "
            "there first, or give times of day.",
            "item_elsewhere",
            "equipment",
        ),
        NoOverlap(
            "register_fitting_position_taken",
            ("vehicle_id", "position"),
            "Something is already fitted at this position for part of that time. Take "
            "it off first, exchange it, or give times of day.",
            "position_taken",
            "position",
        ),
    )

    objects: ClassVar = FittingQuerySet.as_manager()

    class Meta:
        ordering = ("since_key",)
        constraints = (
            models.CheckConstraint(
                name="register_fitting_one_place",
                condition=(
                    Q(vehicle__isnull=False, store__isnull=True) & ~Q(position="")
                )
                | Q(vehicle__isnull=True, store__isnull=False, position=""),
                violation_error_message="Give a vehicle and position, or a store.",
            ),
        )
        indexes = (
            models.Index(
                fields=["vehicle", "position", "closed_by"], name="register_fit_place"
            ),
            models.Index(fields=["equipment", "closed_by"], name="register_fit_item"),
        )

    def __str__(self) -> str:
        return f"Item {self.equipment_id} at {self.position or 'store'}"

    def clean(self) -> None:
        """Refuse an end before the beginning."""
        if self.until_key is not None and self.until_key < self.since_key:
            raise refusing(
                f"It was fitted on {self.since}; it cannot come off before.",
                code="removed_before_fitted",
                field="until",
            )
