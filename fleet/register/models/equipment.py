"""Items of equipment and what is held of them."""

import uuid
from typing import ClassVar

from django.db import models
from django.db.models.functions import Upper
from django.urls import reverse

from fleet.engineering.calendar import Moment
from fleet.records.guards import NoOverlap
from fleet.records.models import Identity, Lasting, Version
from fleet.register.managers import (
    EquipmentQuerySet,
    EquipmentVersionQuerySet,
    RatingsQuerySet,
)
from fleet.register.vocabulary import EquipmentKind, EquipmentState, Timing


class Equipment(Identity):
    """An item of equipment, wherever it is."""

    uuid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=30, choices=EquipmentKind.choices())

    objects = EquipmentQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "equipment"

    def __str__(self) -> str:
        return f"{EquipmentKind(self.kind).label} {self.pk}"

    def get_absolute_url(self) -> str:
        """Return the item's page."""
        return reverse("register:equipment", args=[self.pk])


class EquipmentVersion(Version, Lasting):
    """What is held of an item over an interval: serial, make date, standing."""

    equipment = models.ForeignKey(Equipment, models.PROTECT, related_name="versions")
    kind = models.CharField(max_length=30, choices=EquipmentKind.choices())
    serial = models.CharField("serial number", max_length=30)
    designation = models.CharField(
        "type designation", max_length=30, blank=True, default=""
    )
    group = models.CharField(
        "interchangeability group", max_length=30, blank=True, default=""
    )
    made_earliest = models.DateField(null=True, blank=True)
    made_latest = models.DateField(null=True, blank=True)
    bore_mm = models.PositiveSmallIntegerField("bore (mm)", null=True, blank=True)
    pressure_bar = models.DecimalField(
        "rated pressure (bar)", max_digits=6, decimal_places=2, null=True, blank=True
    )
    state = models.CharField(
        max_length=13,
        choices=EquipmentState.choices(),
        default=EquipmentState.SERVICEABLE,
    )

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "register_equipment_one_state",
            ("equipment_id",),
            "The item already has a standing for part of that time.",
            "particulars_overlap",
            "since",
        ),
        NoOverlap(
            "register_equipment_serial_taken",
            ("kind", "serial"),
            "Another item of this kind bears this serial number.",
            "serial_taken",
            "serial",
            caseless=("serial",),
        ),
    )

    objects: ClassVar = EquipmentVersionQuerySet.as_manager()

    class Meta:
        ordering = ("kind", "serial")
        indexes = (
            models.Index(fields=["equipment", "closed_by"], name="register_itemver"),
            models.Index(fields=["serial"], name="register_item_serial"),
            models.Index(Upper("serial"), name="register_item_serialled"),
        )

    def __str__(self) -> str:
        return f"{EquipmentKind(self.kind).label} {self.serial}"

    @property
    def made(self) -> Moment:
        """Return when it was made; ages count from its earliest day."""
        return Moment(self.made_earliest, self.made_latest)


class DistributorParticulars(Version, Lasting):
    """Ratings of a distributor or triple valve."""

    equipment = models.ForeignKey(
        Equipment, models.PROTECT, related_name="distributor_particulars"
    )
    timing = models.CharField(
        max_length=10, choices=Timing.choices(), blank=True, default=Timing.NONE
    )
    bracket = models.CharField(max_length=30, blank=True, default="")
    max_cylinder_bar = models.DecimalField(
        "maximum cylinder pressure (bar)",
        max_digits=4,
        decimal_places=2,
        null=True,
        blank=True,
    )

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "register_distributor_one_rating",
            ("equipment_id",),
            "The item already has ratings for part of that time.",
            "particulars_overlap",
        ),
    )

    objects: ClassVar = RatingsQuerySet.as_manager()

    def __str__(self) -> str:
        return f"Ratings of distributor {self.equipment_id}"


class HoseParticulars(Version, Lasting):
    """Particulars of a hose and its coupling."""

    equipment = models.ForeignKey(
        Equipment, models.PROTECT, related_name="hose_particulars"
    )
    length_mm = models.PositiveSmallIntegerField("length (mm)", null=True, blank=True)
    coupling = models.CharField("hose coupling", max_length=40, blank=True, default="")
    batch = models.CharField(max_length=30, blank=True, default="")

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "register_hose_one_rating",
            ("equipment_id",),
            "The item already has particulars for part of that time.",
            "particulars_overlap",
        ),
    )

    objects: ClassVar = RatingsQuerySet.as_manager()

    def __str__(self) -> str:
        return f"Particulars of hose {self.equipment_id}"
