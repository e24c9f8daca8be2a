"""The table of drafts: a revision of the policy while it is written."""

from typing import ClassVar

from django.db import models

from fleet.people.models import Person
from fleet.upkeep.vocabulary import PolicyKind


class PolicyDraft(models.Model):
    """
    A revision being written: not a fact yet, so it may be changed and thrown away.

    `content` is what the revision would hold, procedures by their codes; a draft that
    withdraws holds none.
    """

    kind = models.CharField(max_length=11, choices=PolicyKind.choices())
    code = models.SlugField(max_length=20, blank=True, default="")  # none: conditions
    content = models.JSONField(default=dict, blank=True)
    withdraws = models.BooleanField(default=False)
    effective_from = models.DateField(null=True, blank=True)
    reason = models.CharField(max_length=300, blank=True, default="")
    drafted_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    written_by = models.JSONField(default=list, blank=True)  # keys of persons
    changed_at = models.DateTimeField()

    objects: ClassVar = models.Manager()

    class Meta:
        ordering = ("-changed_at",)
        constraints = (
            models.UniqueConstraint(
                name="upkeep_one_draft_each",
                fields=("kind", "code"),
                violation_error_message="There is a draft of this already. Open that one.",
                violation_error_code="drafted_already",
            ),
        )

    def __str__(self) -> str:
        named = self.code or PolicyKind(self.kind).label.lower()
        return f"Draft: {'withdraw ' if self.withdraws else ''}{named}"
