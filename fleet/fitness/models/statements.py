"""Fitness statements as issued, and how each stands."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from fleet.fitness.models.numbers import figure
from fleet.people.models import CompetenceVersion, Person
from fleet.records.models import Identity, Version
from fleet.register.models import Vehicle


class Statement(Identity):
    """A fitness statement issued under a number, as it was: never drawn anew."""

    number = models.CharField(max_length=12, unique=True)  # 2026-0012
    year = figure(1, 4)
    count = figure(6)
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="statements")
    on = models.DateField()
    # The first day it no longer says what it says; null: no such day is known.
    fit_until = models.DateField(null=True, blank=True)
    known_at = models.BigIntegerField()  # number of the entry it rests on
    facts = models.CharField(max_length=64)  # seal of that entry
    format = models.PositiveSmallIntegerField()
    paper = models.JSONField()  # what the paper says, in order
    stated = models.JSONField()  # the levels it states, from its day on
    # The versions it leans on: table, key, and what the paper calls it. From format 2 on.
    cited = models.JSONField(default=list, blank=True)
    digest = models.CharField(max_length=64)  # of all the above
    token = models.CharField(max_length=32, unique=True)  # of the page that vouches

    class Meta:
        ordering = ("-year", "-count")
        constraints = (
            models.UniqueConstraint(
                name="fitness_statement_count",
                fields=["year", "count"],
                violation_error_code="number_taken",
                violation_error_message="This number was taken meanwhile. Try again.",
            ),
        )

    def __str__(self) -> str:
        return f"Statement {self.number}"

    def get_absolute_url(self) -> str:
        """Return the statement's page."""
        return reverse("reports:issued", args=[self.number])


class StatementStatus(models.TextChoices):
    """How a statement stands."""

    VALID = "valid", "Valid"
    WITHDRAWN = "withdrawn", "Withdrawn"
    SUPERSEDED = "superseded", "Superseded"


class StatementVersion(Version):
    """How a statement stands from one entry to another, and by whose word."""

    statement = models.ForeignKey(Statement, models.PROTECT, related_name="versions")
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="+")
    status = models.CharField(max_length=10, choices=StatementStatus.choices)
    by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    competence = models.ForeignKey(
        CompetenceVersion, models.PROTECT, null=True, related_name="+"
    )
    words = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        ordering = ("pk",)
        indexes = (
            models.Index(
                fields=["vehicle"],
                condition=Q(closed_by__isnull=True, status="valid"),
                name="fitness_statement_valid",
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_status_display()} from entry {self.opened_by_id}"
