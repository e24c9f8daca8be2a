"""Fleet notices: a set of items, each with something to be done to it."""

from django.db import models
from django.urls import reverse

from fleet.examination.models import Procedure
from fleet.people.models import Person
from fleet.records.models import Frozen, Identity, Version
from fleet.records.refusing import refusing
from fleet.register.models import Equipment
from fleet.register.vocabulary import Effect, Scope


class FleetNotice(Identity):
    """A notice about items of equipment, by its code."""

    code = models.SlugField(max_length=20, unique=True)

    class Meta:
        ordering = ("code",)

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        """Return the notice's page."""
        return reverse("web:notice", args=[self.code])


class FleetNoticeVersion(Version):
    """What a notice asks, what it does to the brake status from which day, when it ends."""

    notice = models.ForeignKey(FleetNotice, models.PROTECT, related_name="versions")
    title = models.CharField(max_length=100)
    source = models.CharField(max_length=200)
    action = models.CharField("what is to be done to each", max_length=200)
    procedure = models.ForeignKey(
        Procedure, models.PROTECT, null=True, blank=True, related_name="+"
    )  # passed on the item since the notice was issued, it meets it
    scope = models.CharField(max_length=20, choices=Scope.choices())
    effect = models.CharField(
        "effect on what is not done", max_length=10, choices=Effect.choices()
    )
    issued_on = models.DateField()
    effective_from = models.DateField("bears on the brake status from")
    closed_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ("notice", "pk")

    def __str__(self) -> str:
        return self.title

    def clean(self) -> None:
        """Refuse an effect before the notice was issued."""
        if self.effective_from < self.issued_on:
            raise refusing(
                "It cannot bear on a day before it was issued.",
                code="before_it_was_issued",
                field="effective_from",
            )


class NoticeItem(Frozen):
    """An item a notice is about."""

    notice = models.ForeignKey(FleetNotice, models.PROTECT, related_name="items")
    equipment = models.ForeignKey(
        Equipment, models.PROTECT, related_name="fleet_notices"
    )

    class Meta:
        constraints = (
            models.UniqueConstraint(
                name="upkeep_notice_item", fields=("notice", "equipment")
            ),
        )

    def __str__(self) -> str:
        return f"{self.notice_id}: item {self.equipment_id}"


class NoticeDone(Version):
    """Somebody's word that an item was dealt with."""

    notice = models.ForeignKey(FleetNotice, models.PROTECT, related_name="done")
    equipment = models.ForeignKey(Equipment, models.PROTECT, related_name="+")
    on = models.DateField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    note = models.CharField("what was done", max_length=200)

    class Meta:
        ordering = ("on", "pk")
        constraints = (
            models.UniqueConstraint(
                name="upkeep_notice_done_once",
                fields=("notice", "equipment"),
                condition=models.Q(closed_by__isnull=True),
                violation_error_message="This item was signed off already.",
                violation_error_code="already_done",
            ),
        )

    def __str__(self) -> str:
        return f"Done {self.on}"
