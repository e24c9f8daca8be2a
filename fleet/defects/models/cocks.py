"""Cocks found in the wrong position: each an event that wants its cause."""

from django.db import models
from django.urls import reverse

from fleet.examination.models import Test
from fleet.people.models import CompetenceVersion, Person
from fleet.records.models import Happened, Identity, Version
from fleet.register.models import Vehicle
from fleet.register.vocabulary import CockPosition, Scope


class WrongCock(Identity):
    """A cock that stood otherwise than it should; all about it is in its versions."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="wrong_cocks")
    position = models.SlugField(max_length=30)

    def __str__(self) -> str:
        return f"Wrong cock {self.pk}"

    def get_absolute_url(self) -> str:
        """Return the event's page."""
        return reverse("defects:cock", args=[self.pk])


class WrongCockVersion(Version, Happened):
    """How it was found and left, whether a test proved the brake, and the cause."""

    cock = models.ForeignKey(WrongCock, models.PROTECT, related_name="versions")
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="+")
    label = models.CharField(max_length=100)
    scope = models.CharField(max_length=20, choices=Scope.choices())
    normal = models.CharField(max_length=6, choices=CockPosition.choices())
    found = models.CharField(max_length=6, choices=CockPosition.choices())
    left = models.CharField(max_length=6, choices=CockPosition.choices())
    where = models.CharField("where, in which train", max_length=120)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    # How many stood wrong on the vehicle within the operator's period before this one.
    earlier = models.PositiveSmallIntegerField(default=0)
    proved_by = models.ForeignKey(
        Test, models.PROTECT, null=True, blank=True, related_name="+"
    )
    cause = models.CharField(max_length=300, blank=True, default="")
    closed_on = models.DateField(null=True, blank=True)
    closed_person = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="+"
    )
    competence = models.ForeignKey(
        CompetenceVersion, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("cock", "pk")
        indexes = (
            models.Index(fields=["vehicle", "closed_by"], name="defects_cock_of"),
        )

    def __str__(self) -> str:
        return f"{self.label} found {self.get_found_display().lower()}, {self.on}"

    @property
    def is_open(self) -> bool:
        """Say whether its cause is still to be recorded."""
        return not self.cause
