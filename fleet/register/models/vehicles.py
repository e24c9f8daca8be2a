"""Vehicles, their particulars, usage and periods out of use."""

import uuid
from typing import ClassVar

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models.functions import Upper
from django.urls import reverse

from fleet.records.guards import NoOverlap
from fleet.records.models import Identity, Lasting, Version
from fleet.records.refusing import refusing
from fleet.register.managers import (
    StorageQuerySet,
    UsageQuerySet,
    VehicleQuerySet,
    VehicleVersionQuerySet,
)
from fleet.register.models.types import Depot, VehicleType
from fleet.register.vocabulary import (
    Fitment,
    MainReservoirPipe,
    Timing,
    VehicleStatus,
    arrangement_words,
)


class Vehicle(Identity):
    """A vehicle, whatever number it bears."""

    uuid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)

    objects = VehicleQuerySet.as_manager()

    def __str__(self) -> str:
        return f"Vehicle {self.pk}"

    def get_absolute_url(self) -> str:
        """Return the vehicle's page."""
        return reverse("web:vehicle", args=[self.pk])


class VehicleVersion(Version, Lasting):
    """A vehicle's particulars over an interval."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="versions")
    number = models.CharField("running number", max_length=20)
    type = models.ForeignKey(VehicleType, models.PROTECT, related_name="+")
    tare_t = models.DecimalField(
        "tare (t)",
        max_digits=6,
        decimal_places=2,
        null=True,
        blank=True,
        validators=(MinValueValidator(1),),
    )
    depot = models.ForeignKey(Depot, models.PROTECT, null=True, blank=True)
    air = models.CharField(
        max_length=6, choices=Fitment.choices(), default=Fitment.NONE
    )
    vacuum = models.CharField(
        max_length=6, choices=Fitment.choices(), default=Fitment.NONE
    )
    main_reservoir_pipe = models.CharField(
        max_length=7,
        choices=MainReservoirPipe.choices(),
        default=MainReservoirPipe.NONE,
    )
    timing = models.CharField(
        max_length=10, choices=Timing.choices(), blank=True, default=Timing.NONE
    )
    empty_load = models.BooleanField("empty/load gear", default=False)
    hand_brake = models.BooleanField("handbrake", default=True)
    status = models.CharField(
        max_length=12,
        choices=VehicleStatus.choices(),
        default=VehicleStatus.NOT_ACCEPTED,
    )

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "register_vehicle_one_state",
            ("vehicle_id",),
            "The vehicle already has particulars for part of that time.",
            "particulars_overlap",
            "since",
        ),
        NoOverlap(
            "register_vehicle_number_taken",
            ("number",),
            "Another vehicle bears this running number at that time.",
            "number_taken",
            "number",
            caseless=("number",),
        ),
    )

    objects: ClassVar = VehicleVersionQuerySet.as_manager()

    class Meta:
        ordering = ("number",)
        indexes = (
            models.Index(fields=["vehicle", "closed_by"], name="register_vehiclever"),
            models.Index(fields=["number"], name="register_vehicle_number"),
            models.Index(Upper("number"), name="register_vehicle_numbered"),
        )

    def __str__(self) -> str:
        return self.number

    @property
    def arrangement(self) -> str:
        """Return the brake arrangement in words."""
        return arrangement_words(self.air, self.vacuum, self.main_reservoir_pipe)

    def clean(self) -> None:
        """Refuse arrangements that cannot be built."""
        piped = self.main_reservoir_pipe != MainReservoirPipe.NONE
        if piped and self.air == Fitment.NONE:
            raise refusing(
                "A main reservoir pipe needs air pipes.",
                code="pipe_without_air",
                field="main_reservoir_pipe",
            )


class Usage(Version):
    """Miles run and days in service between two days, both included."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="usage")
    first = models.DateField("from")
    last = models.DateField("to")
    miles = models.DecimalField(
        max_digits=9, decimal_places=1, validators=(MinValueValidator(0),)
    )
    days = models.PositiveSmallIntegerField("days in service")
    meter_miles = models.DecimalField(
        "meter reading (miles)", max_digits=10, decimal_places=1, null=True, blank=True
    )

    objects: ClassVar = UsageQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "usage"
        ordering = ("vehicle", "first")
        indexes = (
            models.Index(fields=["vehicle", "closed_by"], name="register_usage_of"),
        )

    def __str__(self) -> str:
        return f"{self.miles} miles, {self.first} to {self.last}"


class StoragePeriod(Version, Lasting):
    """A period out of use."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="storage")
    place = models.CharField(max_length=80, blank=True, default="")
    preserved = models.CharField(
        "how preserved", max_length=200, blank=True, default=""
    )

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "register_storage_one_at_a_time",
            ("vehicle_id",),
            "The vehicle is already recorded as stored for part of that time.",
            "storage_overlap",
            "since",
        ),
    )

    objects: ClassVar = StorageQuerySet.as_manager()

    class Meta:
        ordering = ("since_key",)
        indexes = (
            models.Index(fields=["vehicle", "closed_by"], name="register_storage_of"),
        )

    def __str__(self) -> str:
        return f"Stored from {self.since}"
