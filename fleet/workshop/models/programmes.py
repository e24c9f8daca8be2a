"""The programme: the planner's pins, the search for it, and what was published."""

from typing import Any

from django.db import models
from django.urls import reverse

from fleet.people.models import Person, User
from fleet.records.models import Frozen, Identity, Version
from fleet.records.refusing import refusing
from fleet.register.models import Equipment, Vehicle
from fleet.upkeep.models import Requirement
from fleet.workshop.vocabulary import RunState, Wish


class Pin(Identity):
    """Stands for one wish of the planner."""

    def __str__(self) -> str:
        return f"Pin {self.pk}"


class PinVersion(Version):
    """
    A job begins in given weeks, or a vehicle or a job stays out of the shop in them.

    Without a requirement it is about whatever the vehicle would come in for.
    """

    pin = models.ForeignKey(Pin, models.PROTECT, related_name="versions")
    wish = models.CharField(max_length=6, choices=Wish.choices())
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="+")
    requirement = models.ForeignKey(
        Requirement, models.PROTECT, null=True, blank=True, related_name="+"
    )
    equipment = models.ForeignKey(
        Equipment, models.PROTECT, null=True, blank=True, related_name="+"
    )
    first = models.DateField("from the week of")
    last = models.DateField("to the week of")
    why = models.CharField(max_length=200)

    class Meta:
        ordering = ("first", "pk")

    def __str__(self) -> str:
        return f"{Wish(self.wish).label}: {self.first} to {self.last}"

    def clean(self) -> None:
        """Refuse weeks the wrong way round, and a pinned beginning of nothing."""
        if self.last < self.first:
            raise refusing(
                "The last week is before the first.", code="ends_first", field="last"
            )
        if self.wish == Wish.AT and self.requirement_id is None:
            raise refusing(
                "Say which work begins then.", code="no_job", field="requirement"
            )


class ProgrammeRun(models.Model):
    """
    A search for a programme: what was asked, how far it got, the best it found.

    Working data, not a record: what is decided from it is published.
    """

    title = models.CharField(max_length=100)
    asked_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    asked_at = models.DateTimeField()
    start = models.DateField()  # a Monday
    weeks = models.PositiveSmallIntegerField()
    seconds = models.PositiveSmallIntegerField()
    rate = models.DecimalField(max_digits=5, decimal_places=3)
    # What is supposed otherwise than recorded: "contractor six weeks late".
    supposed: "models.JSONField[Any, Any]" = models.JSONField(default=list)
    beside = models.ForeignKey(
        "self", models.SET_NULL, null=True, related_name="variants"
    )
    state = models.CharField(
        max_length=8, choices=RunState.choices(), default=RunState.WAITING
    )
    stop_asked = models.BooleanField(default=False)
    heard_at = models.DateTimeField(null=True)  # last sign of life of the search
    progress: "models.JSONField[Any, Any]" = models.JSONField(default=list)
    problem: "models.JSONField[Any, Any]" = models.JSONField(default=dict)
    result: "models.JSONField[Any, Any]" = models.JSONField(default=dict)
    # What no programme whatever could meet, in sentences.
    conflicts: "models.JSONField[Any, Any]" = models.JSONField(default=list)
    error = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        ordering = ("-pk",)

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        """Return the page of the search and its programme."""
        return reverse("workshop:run", args=[self.pk])


class Programme(Identity):
    """A published programme; frozen with the problem it answers and a digest of both."""

    number = models.PositiveIntegerField(unique=True)
    title = models.CharField(max_length=100)
    start = models.DateField()  # a Monday
    weeks = models.PositiveSmallIntegerField()
    published_on = models.DateField()
    published_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    note = models.CharField(max_length=300, blank=True, default="")
    problem: "models.JSONField[Any, Any]" = models.JSONField()
    result: "models.JSONField[Any, Any]" = models.JSONField()
    format = models.PositiveSmallIntegerField(default=1)
    digest = models.CharField(max_length=64)

    class Meta:
        ordering = ("-number",)

    def __str__(self) -> str:
        return f"Programme {self.number}: {self.title}"

    def get_absolute_url(self) -> str:
        """Return the programme's page."""
        return reverse("workshop:programme", args=[self.number])


class PlannedVisit(Frozen):
    """One stay of a vehicle in the shop, as published."""

    programme = models.ForeignKey(Programme, models.PROTECT, related_name="visits")
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="planned_visits")
    monday = models.DateField()
    weeks = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ("monday", "pk")
        constraints = (
            models.UniqueConstraint(
                name="workshop_visit_once", fields=("programme", "vehicle", "monday")
            ),
        )

    def __str__(self) -> str:
        return f"{self.vehicle_id} from {self.monday}"


class PlannedJob(Frozen):
    """One job of a visit, as published."""

    visit = models.ForeignKey(PlannedVisit, models.PROTECT, related_name="jobs")
    requirement = models.ForeignKey(Requirement, models.PROTECT, related_name="+")
    equipment = models.ForeignKey(
        Equipment, models.PROTECT, null=True, related_name="+"
    )
    position = models.CharField(max_length=30, blank=True, default="")
    occurrence = models.PositiveSmallIntegerField(default=0)
    due_on = models.DateField()
    done_by = models.DateField()  # the Friday of its last week

    class Meta:
        ordering = ("visit", "pk")

    def __str__(self) -> str:
        return f"{self.requirement_id} by {self.done_by}"
