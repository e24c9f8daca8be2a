"""Depots, vehicle types, and the positions of a type."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from fleet.records.models import Frozen, Identity, Version
from fleet.register.managers import TypeRevisionQuerySet, VehicleTypeQuerySet
from fleet.register.vocabulary import CockPosition, Effect, EquipmentKind, Scope


class Depot(models.Model):
    """A place vehicles belong to and equipment is stored at. A reference table."""

    code = models.SlugField(max_length=12, unique=True)
    name = models.CharField(max_length=80)

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class VehicleType(Identity):
    """A type of vehicle; what it carries is in its revisions."""

    code = models.SlugField(max_length=30, unique=True)

    objects = VehicleTypeQuerySet.as_manager()

    class Meta:
        ordering = ("code",)

    def __str__(self) -> str:
        name = getattr(self, "name", "")  # where `named` was asked for
        return f"{name} ({self.code})" if name else self.code


class TypeRevision(Version):
    """The positions of a type from a date on."""

    type = models.ForeignKey(VehicleType, models.PROTECT, related_name="revisions")
    number = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=80)
    effective_from = models.DateField()
    source = models.CharField(max_length=200, blank=True, default="")

    objects: ClassVar = TypeRevisionQuerySet.as_manager()

    class Meta:
        ordering = ("type", "number")
        constraints = (
            models.UniqueConstraint(
                name="register_type_revision_number",
                fields=("type", "number"),
                condition=Q(closed_by__isnull=True),
            ),
        )

    def __str__(self) -> str:
        return f"{self.name} (revision {self.number})"


class Position(Frozen):
    """A place on a type where an item sits: its code never changes its meaning."""

    revision = models.ForeignKey(TypeRevision, models.PROTECT, related_name="positions")
    code = models.SlugField(max_length=30)
    label = models.CharField(max_length=80)
    kind = models.CharField(max_length=30, choices=EquipmentKind.choices())
    scope = models.CharField(max_length=20, choices=Scope.choices())
    end = models.PositiveSmallIntegerField(
        null=True, blank=True, choices=((1, "No. 1 end"), (2, "No. 2 end"))
    )
    mandatory = models.BooleanField(default=True)
    effect_missing = models.CharField(
        max_length=10, choices=Effect.choices(), default=Effect.ISOLATE
    )
    normal = models.CharField(
        max_length=6,
        choices=CockPosition.choices(),
        blank=True,
        default=CockPosition.NONE,
    )
    group = models.CharField(max_length=30, blank=True, default="")
    bore_mm = models.PositiveSmallIntegerField(null=True, blank=True)
    min_pressure_bar = models.DecimalField(
        max_digits=6, decimal_places=2, null=True, blank=True
    )
    order = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ("revision", "order", "code")
        constraints = (
            models.UniqueConstraint(
                name="register_position_code", fields=("revision", "code")
            ),
        )

    def __str__(self) -> str:
        return self.label
