"""Tables of concessions: the policy they are granted under, their versions, re-checks."""

import datetime as dt
from typing import ClassVar

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse

from fleet.defects.models import Defect
from fleet.people.models import Approved, Person
from fleet.records.models import Identity, Version
from fleet.records.refusing import refusing
from fleet.records.revisions import RevisionQuerySet
from fleet.register.models import Equipment, Vehicle
from fleet.register.vocabulary import EquipmentKind, Scope
from fleet.upkeep.managers import ConcessionVersionQuerySet
from fleet.upkeep.models.policy import Requirement
from fleet.upkeep.vocabulary import ConcessionStatus


class ConcessionPolicy(Version, Approved):
    """How far the operator lets a concession go, from a date on."""

    number = models.PositiveSmallIntegerField()
    effective_from = models.DateField()
    ceiling_days = models.PositiveSmallIntegerField(
        "at most so many days beyond the last good day"
    )
    most_renewals = models.PositiveSmallIntegerField("at most so many renewals")
    recheck_days = models.PositiveSmallIntegerField(
        "re-checked at least every so many days", validators=(MinValueValidator(1),)
    )
    never_scopes = models.JSONField(
        "never granted for", default=list, blank=True
    )  # Scope values
    never_kinds = models.JSONField(
        "never granted for items of these kinds", default=list, blank=True
    )  # EquipmentKind values
    source = models.CharField(max_length=200)

    belongs_to: ClassVar[str] = ""

    objects: ClassVar = RevisionQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "concession policies"
        ordering = ("number",)
        constraints = (
            models.UniqueConstraint(
                name="upkeep_concession_policy_number",
                fields=("number",),
                condition=Q(closed_by__isnull=True),
            ),
        )

    def __str__(self) -> str:
        return f"Policy on concessions, revision {self.number}"

    def clean(self) -> None:
        """Refuse a scope or kind nobody knows."""
        for field, known in (("never_scopes", Scope), ("never_kinds", EquipmentKind)):
            strangers = set(getattr(self, field)) - set(known)
            if strangers:
                raise refusing(
                    f"Not known: {', '.join(sorted(strangers))}.",
                    code="unknown_word",
                    field=field,
                )


class Concession(Identity):
    """
    Leave for one vehicle or item to overrun one requirement, or to run with one defect.

    What was asked, agreed and accepted is in its versions, one for each time it was
    granted or renewed.
    """

    vehicle = models.ForeignKey(
        Vehicle, models.PROTECT, null=True, related_name="concessions"
    )
    equipment = models.ForeignKey(
        Equipment, models.PROTECT, null=True, related_name="concessions"
    )
    requirement = models.ForeignKey(
        Requirement, models.PROTECT, null=True, related_name="concessions"
    )
    defect = models.ForeignKey(
        Defect, models.PROTECT, null=True, related_name="concessions"
    )

    class Meta:
        constraints = (
            models.CheckConstraint(
                name="upkeep_concession_one_subject",
                condition=Q(vehicle__isnull=True) ^ Q(equipment__isnull=True),
                violation_error_message="Name the vehicle or the item, not both.",
            ),
            models.CheckConstraint(
                name="upkeep_concession_one_target",
                condition=Q(requirement__isnull=True) ^ Q(defect__isnull=True),
                violation_error_message="Name the requirement or the defect, not both.",
            ),
        )

    def __str__(self) -> str:
        return f"Concession {self.pk}"

    def get_absolute_url(self) -> str:
        """Return the concession's page."""
        return reverse("web:concession", args=[self.pk])


class ConcessionVersion(Version):
    """
    One grant of a concession, or its renewal: asked, refused, granted, withdrawn.

    It holds from `since` to `last_day`, both included, never beyond `ceiling_days` after
    the last good day, and no longer than its re-checks are made in time.
    """

    concession = models.ForeignKey(Concession, models.PROTECT, related_name="versions")
    renewal = models.PositiveSmallIntegerField(default=0)  # 0: the first grant
    status = models.CharField(
        max_length=9,
        choices=ConcessionStatus.choices(),
        default=ConcessionStatus.ASKED,
    )
    why = models.CharField("why it is asked", max_length=300)
    risk = models.CharField("risk considered", max_length=300)
    condition = models.CharField("condition, as train crew read it", max_length=200)
    recheck_days = models.PositiveSmallIntegerField(
        "re-checked at least every so many days", validators=(MinValueValidator(1),)
    )
    counted_from = models.DateField("last good day")
    since = models.DateField("holds from")
    last_day = models.DateField("last day it holds")
    withdrawn_from = models.DateField(null=True, blank=True)
    ceiling_days = models.PositiveSmallIntegerField(null=True, blank=True)
    asked_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    asked_on = models.DateField()
    agreed_by = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="+"
    )
    accepted_by = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="+"
    )
    decided_on = models.DateField(null=True, blank=True)

    objects: ClassVar = ConcessionVersionQuerySet.as_manager()

    class Meta:
        ordering = ("concession", "renewal", "pk")
        constraints = (
            models.UniqueConstraint(
                name="upkeep_concession_renewal",
                fields=("concession", "renewal"),
                condition=Q(closed_by__isnull=True),
                violation_error_message="Somebody else recorded this meanwhile. Open the "
                "concession again and go on from there.",
                violation_error_code="already_superseded",
            ),
        )

    def __str__(self) -> str:
        return f"{ConcessionStatus(self.status).label}, {self.since} to {self.last_day}"

    @property
    def status_words(self) -> str:
        """Return the words of the status."""
        return ConcessionStatus(self.status).label

    @property
    def granted(self) -> bool:
        """Say whether it was granted, withdrawn later or not."""
        return self.status in (ConcessionStatus.GRANTED, ConcessionStatus.WITHDRAWN)

    @property
    def until(self) -> dt.date:
        """Return the day from which it no longer holds."""
        ends = self.last_day + dt.timedelta(days=1)
        return min(ends, self.withdrawn_from) if self.withdrawn_from else ends

    def clean(self) -> None:
        """Refuse days the wrong way round, and a text of blanks."""
        if self.last_day < self.since:
            raise refusing(
                "The last day lies before the first. Look at both.",
                code="ends_before_it_begins",
                field="last_day",
            )
        for name in ("why", "risk", "condition"):
            if not getattr(self, name).strip():
                raise refusing(
                    "Write this down; it is what the concession rests on.",
                    code="no_words",
                    field=name,
                )


class Recheck(Version):
    """A re-check under a concession: looked at on a day, and whether its terms held."""

    concession = models.ForeignKey(Concession, models.PROTECT, related_name="rechecks")
    checked_on = models.DateField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    holds = models.BooleanField()
    found = models.CharField("what was found", max_length=300)

    class Meta:
        ordering = ("checked_on", "pk")

    def __str__(self) -> str:
        return f"Re-check on {self.checked_on}"
