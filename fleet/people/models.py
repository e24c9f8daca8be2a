"""Users who log in, and persons who do the work and sign for it."""

import uuid

from django.contrib.auth.models import AbstractUser
from django.db import models


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
