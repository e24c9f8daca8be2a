"""Visiting vehicles taken onto the line on their owner's regime."""

import datetime as dt

from django.db import models
from django.urls import reverse

from fleet.examination.models import Test
from fleet.people.models import CompetenceVersion, Person
from fleet.records.models import Frozen, Identity, Version
from fleet.records.refusing import refusing
from fleet.register.models import Vehicle


class VisitAcceptance(Identity):
    """One visit of a vehicle, as somebody accepted it."""

    vehicle = models.ForeignKey(
        Vehicle, models.PROTECT, related_name="visit_acceptances"
    )

    def __str__(self) -> str:
        return f"Acceptance {self.pk}"

    def get_absolute_url(self) -> str:
        """Return the visit's page."""
        return reverse("web:visit", args=[self.pk])


class VisitAcceptanceVersion(Version):
    """On whose regime, on what evidence, from when and up to which last good day."""

    acceptance = models.ForeignKey(
        VisitAcceptance, models.PROTECT, related_name="versions"
    )
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="+")
    owner = models.CharField(max_length=80)
    regime = models.CharField("owner's regime, with its document", max_length=200)
    condition = models.CharField(
        "condition, as train crew should read it",
        max_length=200,
        blank=True,
        default="",
    )
    since = models.DateField()
    last_day = models.DateField("last good day")
    accepted_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    competence = models.ForeignKey(
        CompetenceVersion, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("since", "pk")
        indexes = (
            models.Index(fields=["vehicle", "closed_by"], name="upkeep_visit_of"),
        )

    def __str__(self) -> str:
        return f"{self.owner}, {self.since} to {self.last_day}"

    def clean(self) -> None:
        """Refuse an acceptance that ends before it begins."""
        if self.last_day < self.since - dt.timedelta(days=1):
            raise refusing(
                "It ends before it begins. Give a later last day.",
                code="ends_before_it_begins",
                field="last_day",
            )


class VisitEvidence(Frozen):
    """
    A piece of evidence seen: which document, of which day, valid how long.

    It is of one version of the acceptance; lines kept before that was said are of the
    acceptance as it was first recorded, in words only.
    """

    acceptance = models.ForeignKey(
        VisitAcceptance, models.PROTECT, related_name="evidence"
    )
    version = models.ForeignKey(
        VisitAcceptanceVersion, models.PROTECT, null=True, related_name="evidence"
    )
    words = models.CharField("document", max_length=200)
    number = models.CharField(max_length=60, blank=True, default="")
    issued_by = models.CharField(max_length=80, blank=True, default="")
    dated = models.DateField(null=True, blank=True)
    valid_until = models.DateField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.words} {self.number}".strip()


class VisitTest(Frozen):
    """A test made here before the vehicle was accepted."""

    acceptance = models.ForeignKey(
        VisitAcceptance, models.PROTECT, related_name="tests"
    )
    test = models.ForeignKey(Test, models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"Test {self.test_id}"
