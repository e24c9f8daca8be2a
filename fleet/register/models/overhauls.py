"""Who overhauled an item, when, and with which kit."""

from typing import ClassVar

from django.db import models
from django.db.models.functions import Upper

from fleet.records.models import Happened, Identity, Version
from fleet.register.managers import OverhaulQuerySet
from fleet.register.models.equipment import Equipment


class Overhaul(Identity):
    """An overhaul of an item, by whomever."""

    equipment = models.ForeignKey(
        Equipment, models.PROTECT, related_name="overhaul_records"
    )

    def __str__(self) -> str:
        return f"Overhaul {self.pk}"


class OverhaulVersion(Version, Happened):
    """What is held of an overhaul: its day, the overhauler, the paper, the kit."""

    overhaul = models.ForeignKey(Overhaul, models.PROTECT, related_name="versions")
    equipment = models.ForeignKey(Equipment, models.PROTECT, related_name="overhauls")
    overhauler = models.CharField("overhauled by", max_length=80)
    certificate = models.CharField(
        "certificate or job number", max_length=60, blank=True, default=""
    )
    kit_batch = models.CharField(
        "kit or batch of seals", max_length=40, blank=True, default=""
    )

    objects: ClassVar = OverhaulQuerySet.as_manager()

    class Meta:
        ordering = ("overhaul", "pk")
        indexes = (
            models.Index(fields=["equipment", "closed_by"], name="register_overhauls"),
            models.Index(Upper("overhauler"), name="register_overhauler"),
            models.Index(Upper("kit_batch"), name="register_kit_batch"),
        )

    def __str__(self) -> str:
        return f"Overhauled by {self.overhauler}, {self.on}"
