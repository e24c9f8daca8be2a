"""What the workshop has: roads and pits, hours by skill, closures, contractors."""

from django.core.validators import MinValueValidator
from django.db import models

from fleet.people.models import Skill
from fleet.records.models import Identity, Version
from fleet.records.refusing import refusing
from fleet.workshop.vocabulary import Each, Place


class Dated(models.Model):
    """From a day to a day, both included; no last day: until further notice."""

    first = models.DateField("from")
    last = models.DateField("to, this day included", null=True, blank=True)

    class Meta:
        abstract = True

    def clean(self) -> None:
        """Refuse days the wrong way round."""
        super().clean()
        if self.last is not None and self.last < self.first:
            raise refusing(
                "The last day is before the first.", code="ends_first", field="last"
            )


class ShopPlace(Identity):
    """Stands for one berth under cover."""

    def __str__(self) -> str:
        return f"Place {self.pk}"


class ShopPlaceVersion(Version, Dated):
    """A shop road or a pit: one vehicle at a time stands there."""

    place = models.ForeignKey(ShopPlace, models.PROTECT, related_name="versions")
    name = models.CharField(max_length=60)
    kind = models.CharField(
        max_length=8,
        choices=[(p.value, p.label) for p in (Place.ROAD, Place.PIT)],
        default=Place.ROAD,
    )

    class Meta:
        ordering = ("kind", "name")

    def __str__(self) -> str:
        return self.name


class WorkTime(Identity):
    """Stands for one source of hours."""

    def __str__(self) -> str:
        return f"Hours {self.pk}"


class WorkTimeVersion(Version, Dated):
    """Hours of one skill: each week, on working days of volunteers, or bought in."""

    work_time = models.ForeignKey(WorkTime, models.PROTECT, related_name="versions")
    title = models.CharField("whose", max_length=80)
    skill = models.CharField(max_length=12, choices=Skill.choices)
    hours = models.PositiveSmallIntegerField(validators=(MinValueValidator(1),))
    each = models.CharField(max_length=4, choices=Each.choices(), default=Each.WEEK)

    class Meta:
        ordering = ("first", "pk")

    def __str__(self) -> str:
        return f"{self.title}: {self.hours} h {Each(self.each).label}"

    def clean(self) -> None:
        """Refuse hours of single days, or in all, that have no last day."""
        super().clean()
        if self.last is None and self.each != Each.WEEK:
            raise refusing(
                "Give the last day: only hours each week go on until further notice.",
                code="no_end",
                field="last",
            )


class Closure(Identity):
    """Stands for one time in which nothing can be done."""

    def __str__(self) -> str:
        return f"Closure {self.pk}"


class ClosureVersion(Version, Dated):
    """The whole shop, or one place of it, is shut."""

    closure = models.ForeignKey(Closure, models.PROTECT, related_name="versions")
    title = models.CharField("why", max_length=100)
    place = models.ForeignKey(
        ShopPlace, models.PROTECT, null=True, blank=True, related_name="+"
    )  # none: the whole shop

    class Meta:
        ordering = ("first", "pk")

    def __str__(self) -> str:
        return f"{self.title} from {self.first}"

    def clean(self) -> None:
        """Refuse a closure without end: take the place out of use instead."""
        super().clean()
        if self.last is None:
            raise refusing(
                "A closure ends. Take a place out of use to shut it for good.",
                code="no_end",
                field="last",
            )


class Contractor(Identity):
    """Stands for somebody who overhauls for the line."""

    def __str__(self) -> str:
        return f"Contractor {self.pk}"


class ContractorVersion(Version):
    """What a contractor is called and how long he takes."""

    contractor = models.ForeignKey(Contractor, models.PROTECT, related_name="versions")
    name = models.CharField(max_length=80)
    lead_weeks = models.PositiveSmallIntegerField(
        "weeks from sending to return", validators=(MinValueValidator(1),)
    )
    note = models.CharField(max_length=200, blank=True, default="")
    ended_on = models.DateField("no longer used from", null=True, blank=True)

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name
