"""After an accident: what was known and is known of vehicles, kept and held."""

from django.db import models
from django.urls import reverse

from fleet.fitness.models.numbers import figure
from fleet.people.models import Person
from fleet.records.models import Identity, Version
from fleet.register.models import Vehicle


class Snapshot(Identity):
    """All that was recorded of a vehicle or a formation on a day: as known then, and now."""

    number = models.CharField(max_length=12, unique=True)  # S-2026-001
    year = figure(3, 4)
    count = figure(8)
    reason = models.CharField(max_length=300)
    on = models.DateField()
    known_then = models.BigIntegerField()  # newest entry at the close of that day
    known_now = models.BigIntegerField()  # newest entry when it was taken
    facts = models.CharField(max_length=64)  # seal of that entry
    format = models.PositiveSmallIntegerField()
    content = models.JSONField()  # of each vehicle, in the order of the formation
    digest = models.CharField(max_length=64)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("-year", "-count")
        constraints = (
            models.UniqueConstraint(
                name="fitness_snapshot_count",
                fields=["year", "count"],
                violation_error_code="number_taken",
                violation_error_message="This number was taken meanwhile. Try again.",
            ),
        )

    def __str__(self) -> str:
        return f"Snapshot {self.number}"

    def get_absolute_url(self) -> str:
        """Return the snapshot's page."""
        return reverse("reports:snapshot", args=[self.number])


class HoldVersion(Version):
    """A hold on a vehicle's records: nothing of it is archived until it is lifted."""

    snapshot = models.ForeignKey(Snapshot, models.PROTECT, related_name="holds")
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="holds")
    lifted = models.BooleanField(default=False)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{'Lifted' if self.lifted else 'Held'} for {self.snapshot}"


class Opening(Identity):
    """One who opened a snapshot's bundle; when and by which account, its entry tells."""

    snapshot = models.ForeignKey(Snapshot, models.PROTECT, related_name="openings")

    class Meta:
        ordering = ("-pk",)

    def __str__(self) -> str:
        return f"Opening of {self.snapshot}"
