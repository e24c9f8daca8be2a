"""What the work of a requirement takes in the shop, and who follows it in a calendar."""

import secrets
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from fleet.people.models import Skill, User
from fleet.records.models import Identity, Version
from fleet.records.refusing import refusing
from fleet.upkeep.models import Requirement
from fleet.workshop.vocabulary import Place


class JobPlan(Identity):
    """Stands for the work one requirement asks for."""

    requirement = models.OneToOneField(
        Requirement, models.PROTECT, related_name="job_plan"
    )

    class Meta:
        ordering = ("requirement__code",)

    def __str__(self) -> str:
        return f"Work of {self.requirement_id}"


class JobPlanVersion(Version):
    """Hours of each skill, weeks, place and exchange unit that one job takes."""

    plan = models.ForeignKey(JobPlan, models.PROTECT, related_name="versions")
    hours: "models.JSONField[Any, Any]" = models.JSONField(
        "hours by skill", default=dict
    )  # {"air": 6, "gear": 4}, whole hours in all
    weeks = models.PositiveSmallIntegerField(
        "weeks in the shop",
        default=1,
        validators=(MinValueValidator(1), MaxValueValidator(26)),
    )
    place = models.CharField(
        "where it must stand",
        max_length=8,
        choices=Place.choices(),
        default=Place.ROAD,
    )
    exchange = models.BooleanField("an exchange unit is fitted", default=False)
    early_days = models.PositiveSmallIntegerField(
        "days before due from which it is sensible", default=84
    )
    together = models.SlugField(
        "done together with", max_length=30, blank=True, default=""
    )  # jobs of one name on one vehicle belong in one visit
    parts = models.CharField(max_length=300, blank=True, default="")
    note = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        ordering = ("plan", "pk")

    def __str__(self) -> str:
        return f"Work of plan {self.plan_id}"

    def clean(self) -> None:
        """Refuse hours of no known skill, or none at all."""
        for skill, hours in self.hours.items():
            if skill not in Skill.values or not isinstance(hours, int) or hours < 0:
                raise refusing(
                    f"{skill}: {hours} is not a number of whole hours of a known skill.",
                    code="hours_not_understood",
                    field="hours",
                )


def _token() -> str:
    return secrets.token_urlsafe(24)


class CalendarFeed(models.Model):
    """A private address under which one user's calendar program reads what falls due."""

    user = models.ForeignKey(User, models.CASCADE, related_name="calendar_feeds")
    token = models.CharField(max_length=43, unique=True, default=_token)
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                name="workshop_one_feed_a_user",
                fields=("user",),
                condition=models.Q(revoked_at__isnull=True),
            ),
        )

    def __str__(self) -> str:
        return f"Calendar of user {self.user_id}"
