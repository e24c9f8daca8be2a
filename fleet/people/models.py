"""Users who log in, and persons who do the work and sign for it."""

import uuid
from typing import ClassVar

from django.contrib.auth.models import AbstractUser
from django.db import models

from fleet.records.guards import NoOverlap
from fleet.records.models import Identity, Lasting, Version


class User(AbstractUser):
    """An account; its groups are its roles (see roles.py)."""

    class Meta:
        ordering = ("username",)
        permissions = (
            ("record_facts", "Record tests, readings, usage, fittings and defects"),
            ("assess_defects", "Assess defects and record isolations"),
            ("release_vehicles", "Release vehicles to traffic and clear defects"),
            ("plan_work", "Take vehicles in hand, store and return them"),
            ("edit_register", "Add and alter vehicles and equipment"),
            ("edit_policy", "Revise requirements, procedures and conditions"),
            ("print_reports", "Print statements and fleet reports"),
        )

    def __str__(self) -> str:
        return self.get_full_name() or self.username


class Skill(models.TextChoices):
    """What a competence is for."""

    AIR = "air", "Air brake tests"
    VACUUM = "vacuum", "Vacuum brake tests"
    GEAR = "gear", "Brake gear and handbrake"
    BENCH = "bench", "Bench tests and overhaul"
    VESSEL = "vessel", "Pressure vessels"
    ASSESS = "assess", "Assessment of defects"
    RELEASE = "release", "Release to traffic"
    APPROVE = "approve", "Approval of procedures"
    CONCEDE = "concede", "Agreeing to concessions"


class PersonQuerySet(models.QuerySet["Person"]):
    """Reads of persons."""

    def active(self) -> "PersonQuerySet":
        """Keep those still with the line."""
        return self.filter(active=True)


class Person(models.Model):
    """
    Somebody who does or signs work; a log-in is optional.

    Names stand here and nowhere else, so that they can be put right or withheld without
    touching a record.
    """

    uuid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=120)
    user = models.OneToOneField(User, models.PROTECT, null=True, blank=True)
    active = models.BooleanField(default=True)

    objects = PersonQuerySet.as_manager()

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class Approved(models.Model):
    """Who drafted a revision and who approved it; unknown for what was loaded whole."""

    drafted_by = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    approved_by = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )

    class Meta:
        abstract = True


class Competence(Identity):
    """Something a person was assessed to be able to do."""

    person = models.ForeignKey(Person, models.PROTECT, related_name="competences")
    skill = models.CharField(max_length=12, choices=Skill.choices)

    class Meta:
        verbose_name_plural = "competences"

    def __str__(self) -> str:
        return f"{Skill(self.skill).label}: {self.person_id}"


class CompetenceVersion(Version, Lasting):
    """A competence from its assessment until it lapses or is taken away."""

    competence = models.ForeignKey(Competence, models.PROTECT, related_name="versions")
    assessed_by = models.CharField(max_length=120)
    grounds = models.CharField(max_length=200, blank=True, default="")

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "people_competence_one_state",
            ("competence_id",),
            "The competence is already recorded for part of that time.",
            "competence_overlap",
            "since",
        ),
    )

    class Meta:
        ordering = ("since_key",)

    def __str__(self) -> str:
        return f"Competence {self.competence_id} from {self.since}"
