"""Runs: statements for a whole set of vehicles, and what each of them came to."""

from typing import Self

from django.db import models
from django.db.models import Count, F, OuterRef, Q, Subquery
from django.urls import reverse

from fleet.fitness.models.statements import Statement, StatementVersion
from fleet.people.models import Person
from fleet.records.models import Frozen, Identity
from fleet.register.models import Vehicle, VehicleVersion
from fleet.register.vocabulary import System


class StatementRunQuerySet(models.QuerySet["StatementRun"]):
    """Reads of runs."""

    def for_list(self) -> Self:
        """Add how far each has got, and what the list shows; newest first."""
        settled = Count("places__outcome", distinct=True)
        return (
            self.select_related("by", "created_by", "end")
            .annotate(
                total=Count("places", distinct=True),
                settled=settled,
                issued=Count("places__outcome__statement", distinct=True),
            )
            .annotate(waiting=F("total") - settled, refused=settled - F("issued"))
            .order_by("-pk")
        )


class StatementRun(Identity):
    """A set of vehicles that are to get a statement each, and what it is held to."""

    on = models.DateField()  # for the close of which day
    system = models.CharField(max_length=6, blank=True, choices=System.choices())
    # Below this a vehicle gets none; null: whatever it is.
    least = models.PositiveSmallIntegerField(null=True, blank=True)
    asked = models.CharField(max_length=300)  # how they were chosen, in words
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    objects = StatementRunQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)

    def __str__(self) -> str:
        return f"Run {self.pk}"

    def get_absolute_url(self) -> str:
        """Return the run's page."""
        return reverse("reports:run", args=[self.pk])


class RunPlaceQuerySet(models.QuerySet["RunPlace"]):
    """Reads of the vehicles of runs."""

    def waiting(self) -> Self:
        """Keep those that came to nothing yet, in their order."""
        return self.filter(outcome__isnull=True).order_by("pk")

    def for_list(self) -> Self:
        """Add running number and how its statement stands; refused first, then waiting."""
        number = VehicleVersion.objects.current().filter(vehicle=OuterRef("vehicle"))
        stands = StatementVersion.objects.current().filter(
            statement=OuterRef("outcome__statement")
        )
        issued = Q(outcome__statement__isnull=False)
        return (
            self.select_related("outcome__statement", "outcome__by")
            .annotate(
                number=Subquery(number.order_by("-since_key").values("number")[:1]),
                stands=Subquery(stands.values("status")[:1]),
                rank=models.Case(
                    models.When(issued, then=2),
                    models.When(outcome__isnull=True, then=1),
                    default=0,
                ),
            )
            .order_by("rank", "pk")
        )


class RunPlace(Frozen):
    """A vehicle of a run; it waits until there is an outcome."""

    run = models.ForeignKey(StatementRun, models.PROTECT, related_name="places")
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="+")

    objects = RunPlaceQuerySet.as_manager()

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.UniqueConstraint(
                name="fitness_run_vehicle_once",
                fields=["run", "vehicle"],
                violation_error_code="twice_in_run",
                violation_error_message="A vehicle stands in a run only once.",
            ),
        )

    def __str__(self) -> str:
        return f"Vehicle {self.vehicle_id} in run {self.run_id}"


class RunOutcome(Identity):
    """What a vehicle of a run came to: a statement, or why it was refused one."""

    # One to one: whatever tabs do, a vehicle comes to one thing in a run.
    place = models.OneToOneField(RunPlace, models.PROTECT, related_name="outcome")
    statement = models.OneToOneField(
        Statement, models.PROTECT, null=True, related_name="+"
    )
    refused = models.CharField(max_length=300, blank=True, default="")
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.CheckConstraint(
                name="fitness_run_outcome_is_one",
                condition=Q(statement__isnull=False, refused="")
                | (Q(statement__isnull=True) & ~Q(refused="")),
                violation_error_message="Either a statement, or why there is none.",
            ),
        )

    def __str__(self) -> str:
        return self.refused or f"Statement {self.statement_id}"


class RunEnd(Identity):
    """A run that was cancelled: what waits in it gets none from it."""

    run = models.OneToOneField(StatementRun, models.PROTECT, related_name="end")
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return self.reason
