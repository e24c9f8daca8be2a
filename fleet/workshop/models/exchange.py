"""Exchange units: groups that are interchangeable, and what is away for overhaul."""

from django.core.validators import MinValueValidator
from django.db import models

from fleet.records.models import Frozen, Identity, Kind, Version
from fleet.records.refusing import refusing
from fleet.register.models import Equipment
from fleet.register.vocabulary import EquipmentState
from fleet.workshop.models.capacity import Contractor

_HELD = models.Q(closed_by__isnull=True) & ~models.Q(change=Kind.RETRACTED)


class ExchangeGroup(Identity):
    """An interchangeability group, by the code its items and positions carry."""

    code = models.CharField(max_length=30, unique=True)

    class Meta:
        ordering = ("code",)

    def __str__(self) -> str:
        return self.code


class ExchangeGroupVersion(Version):
    """What the units are called, who overhauls them and how long that takes."""

    group = models.ForeignKey(ExchangeGroup, models.PROTECT, related_name="versions")
    label = models.CharField("what they are, many", max_length=80)  # "distributors"
    alike = models.CharField(
        "what makes them interchangeable", max_length=200, blank=True, default=""
    )  # type, bracket, timing, pressure
    contractor = models.ForeignKey(
        Contractor, models.PROTECT, null=True, blank=True, related_name="+"
    )  # none: overhauled in the own shop
    turnaround_weeks = models.PositiveSmallIntegerField(
        "weeks until one taken off is serviceable again",
        null=True,
        blank=True,
        validators=(MinValueValidator(1),),
    )  # none: as the contractor takes; without one, it does not come back
    least = models.PositiveSmallIntegerField("warn below so many in store", default=0)

    class Meta:
        ordering = ("group",)
        constraints = (
            models.UniqueConstraint(
                name="workshop_group_described_once",
                fields=("group",),
                condition=_HELD,
                violation_error_message="This group is described already. Revise that.",
            ),
        )

    def __str__(self) -> str:
        return self.label


class Consignment(Identity):
    """Stands for units sent away together."""

    group = models.ForeignKey(
        ExchangeGroup, models.PROTECT, related_name="consignments"
    )

    def __str__(self) -> str:
        return f"Consignment {self.pk}"


class ConsignmentVersion(Version):
    """Where units are for overhaul, since when, and when they are expected back."""

    consignment = models.ForeignKey(
        Consignment, models.PROTECT, related_name="versions"
    )
    contractor = models.ForeignKey(
        Contractor, models.PROTECT, null=True, blank=True, related_name="+"
    )  # none: on the own bench
    reference = models.CharField(max_length=60, blank=True, default="")
    sent_on = models.DateField()
    expected_on = models.DateField()

    class Meta:
        ordering = ("expected_on", "pk")

    def __str__(self) -> str:
        return f"Expected {self.expected_on}"

    def clean(self) -> None:
        """Refuse a return before the sending."""
        if self.expected_on < self.sent_on:
            raise refusing(
                "That is before they were sent.",
                code="before_it_was_sent",
                field="expected_on",
            )


class ConsignmentItem(Frozen):
    """A unit in a consignment."""

    consignment = models.ForeignKey(Consignment, models.PROTECT, related_name="items")
    equipment = models.ForeignKey(Equipment, models.PROTECT, related_name="+")

    class Meta:
        constraints = (
            models.UniqueConstraint(
                name="workshop_consignment_item", fields=("consignment", "equipment")
            ),
        )

    def __str__(self) -> str:
        return f"{self.consignment_id}: item {self.equipment_id}"


BACK_AS = (
    EquipmentState.SERVICEABLE,
    EquipmentState.UNSERVICEABLE,
    EquipmentState.SCRAPPED,
)


class UnitReturn(Version):
    """A unit is back from its consignment; until then it is away."""

    item = models.ForeignKey(ConsignmentItem, models.PROTECT, related_name="returns")
    returned_on = models.DateField()
    state = models.CharField(
        "came back",
        max_length=13,
        choices=[(state.value, state.label) for state in BACK_AS],
        default=EquipmentState.SERVICEABLE,
    )

    class Meta:
        ordering = ("returned_on", "pk")
        constraints = (
            models.UniqueConstraint(
                name="workshop_unit_back_once",
                fields=("item",),
                condition=_HELD,
                violation_error_message="This unit is recorded as back already.",
            ),
        )

    def __str__(self) -> str:
        return f"Item {self.item_id} back on {self.returned_on}"
