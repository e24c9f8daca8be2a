"""The authority to move a vehicle whose brake is isolated to where it is put right."""

import datetime as dt
from typing import ClassVar

from django.db import models

from fleet.defects.managers import MoveAuthorityQuerySet
from fleet.defects.models.isolations import Isolation
from fleet.people.models import CompetenceVersion, Person
from fleet.records.guards import NoOverlap
from fleet.records.models import Lasting, Version


class MoveAuthority(Version, Lasting):
    """Leave to move an isolated vehicle, within limits, up to the day before `until`."""

    isolation = models.ForeignKey(Isolation, models.PROTECT, related_name="authorities")
    destination = models.CharField("to", max_length=120)
    limits = models.CharField(max_length=300)
    given_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    competence = models.ForeignKey(
        CompetenceVersion, models.PROTECT, null=True, blank=True, related_name="+"
    )  # to release to traffic, as it was that day

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "defects_move_one_authority",
            ("isolation_id",),
            "There is an authority to move for part of that time already. Withdraw it "
            "first.",
            "already_authorised",
            "since",
        ),
    )

    objects: ClassVar = MoveAuthorityQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "authorities to move"
        ordering = ("since_key", "pk")

    def __str__(self) -> str:
        return f"To {self.destination}, up to {self.until}"

    @property
    def last_day(self) -> dt.date:
        """Return the last day it holds."""
        assert self.until is not None
        assert self.until.earliest is not None
        return self.until.earliest - dt.timedelta(days=1)
