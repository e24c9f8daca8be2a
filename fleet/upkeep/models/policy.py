"""Tables of upkeep: requirements, the change → test matrix, general conditions."""

from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from fleet.examination.models import Procedure
from fleet.people.models import Approved
from fleet.records.models import Frozen, Identity, Version
from fleet.records.refusing import refusing
from fleet.records.revisions import RevisionQuerySet
from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from fleet.upkeep.vocabulary import HAND_BRAKE_OUT, Change, CountedFrom, Subject


class Requirement(Identity):
    """What must be done to a subject within limits; the limits are in its revisions."""

    code = models.SlugField(max_length=20, unique=True)

    class Meta:
        ordering = ("code",)

    def __str__(self) -> str:
        return self.code


class RequirementRevision(Version, Approved):
    """The limits of a requirement from a date on; revised, never edited."""

    requirement = models.ForeignKey(
        Requirement, models.PROTECT, related_name="revisions"
    )
    number = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=100)
    effective_from = models.DateField()
    withdrawn_from = models.DateField(null=True, blank=True)
    subject = models.CharField(max_length=13, choices=Subject.choices())
    kind = models.CharField(
        "equipment kind",
        max_length=30,
        choices=EquipmentKind.choices(),
        blank=True,
        default="",
    )
    designation = models.CharField(
        "type designation", max_length=30, blank=True, default=""
    )
    procedure = models.ForeignKey(
        Procedure, models.PROTECT, null=True, blank=True, related_name="+"
    )  # none: an age limit, met only by renewal
    counted_from = models.CharField(
        max_length=9, choices=CountedFrom.choices(), default=CountedFrom.LAST_DONE
    )
    months = models.PositiveSmallIntegerField(null=True, blank=True)
    calendar_days = models.PositiveSmallIntegerField(
        "days of the calendar", null=True, blank=True
    )
    days_in_service = models.PositiveSmallIntegerField(null=True, blank=True)
    miles = models.PositiveIntegerField(null=True, blank=True)
    tolerance_days = models.PositiveSmallIntegerField(default=0)
    storage_credit_days = models.PositiveSmallIntegerField(
        "stands still while out of use for at least so many days on end",
        null=True,
        blank=True,
        validators=(MinValueValidator(1),),
    )  # none: it runs on, as rubber ages
    concession_days = models.PositiveSmallIntegerField(
        "a concession goes at most so many days beyond the last good day",
        null=True,
        blank=True,
    )  # none: as the policy on concessions says
    effect = models.CharField(max_length=10, choices=Effect.choices())
    scope = models.CharField(max_length=20, choices=Scope.choices())
    condition = models.CharField(
        "condition, as train crew should read it",
        max_length=200,
        blank=True,
        default="",
    )
    clears = models.CharField("what clears it", max_length=200)
    source = models.CharField(max_length=200)

    belongs_to: ClassVar[str] = "requirement"

    objects: ClassVar = RevisionQuerySet.as_manager()

    class Meta:
        ordering = ("requirement", "number")
        constraints = (
            models.UniqueConstraint(
                name="upkeep_requirement_revision",
                fields=("requirement", "number"),
                condition=Q(closed_by__isnull=True),
            ),
        )

    def __str__(self) -> str:
        return f"{self.title} ({self.requirement_id}, revision {self.number})"

    def clean(self) -> None:
        """Refuse a requirement that cannot fall due or bears on nothing."""
        by_calendar = self.months or self.calendar_days
        if not (by_calendar or self.days_in_service or self.miles):
            raise refusing(
                "Give months, days, days in service or miles.",
                code="no_limit",
                field="months",
            )
        if self.storage_credit_days and not by_calendar:
            raise refusing(
                "Only months or days can stand still; usage does so by itself.",
                code="nothing_stands_still",
                field="storage_credit_days",
            )
        if (self.subject == Subject.EQUIPMENT) != bool(self.kind):
            raise refusing(
                "Name the equipment kind, and only for equipment.",
                code="kind_needed",
                field="kind",
            )
        if self.procedure_id is None and self.counted_from == CountedFrom.LAST_DONE:
            raise refusing(
                "Say by which procedure it is met.",
                code="procedure_needed",
                field="procedure",
            )


class MatrixLine(Identity):
    """A line of the change → test matrix."""

    code = models.SlugField(max_length=20, unique=True)

    class Meta:
        ordering = ("code",)

    def __str__(self) -> str:
        return self.code


class MatrixRevision(Version, Approved):
    """Which tests must follow which change, from a date on."""

    line = models.ForeignKey(MatrixLine, models.PROTECT, related_name="revisions")
    number = models.PositiveSmallIntegerField()
    effective_from = models.DateField()
    withdrawn_from = models.DateField(null=True, blank=True)
    change_kind = models.CharField(max_length=15, choices=Change.choices())
    kind = models.CharField(
        "equipment kind",
        max_length=30,
        choices=EquipmentKind.choices(),
        blank=True,
        default="",
    )
    effect = models.CharField(max_length=10, choices=Effect.choices())
    scope = models.CharField(
        max_length=20, choices=Scope.choices(), blank=True, default=""
    )
    condition = models.CharField(
        "condition, as train crew should read it",
        max_length=200,
        blank=True,
        default="",
    )
    source = models.CharField(max_length=200)

    belongs_to: ClassVar[str] = "line"

    objects: ClassVar = RevisionQuerySet.as_manager()

    class Meta:
        ordering = ("line", "number")
        constraints = (
            models.UniqueConstraint(
                name="upkeep_matrix_revision",
                fields=("line", "number"),
                condition=Q(closed_by__isnull=True),
            ),
        )

    def __str__(self) -> str:
        return f"After {Change(self.change_kind).label.lower()}"


class MatrixTest(Frozen):
    """A procedure that a line of the matrix asks for."""

    revision = models.ForeignKey(MatrixRevision, models.PROTECT, related_name="tests")
    procedure = models.ForeignKey(Procedure, models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return str(self.procedure)


class ConditionsRevision(Version, Approved):
    """The operator's general conditions from a date on; replaced, never withdrawn."""

    number = models.PositiveSmallIntegerField()
    effective_from = models.DateField()
    usage_silent_days = models.PositiveSmallIntegerField(default=60)
    usage_silent_effect = models.CharField(
        max_length=10, choices=Effect.choices(), default=Effect.ADVISE
    )
    usage_window_days = models.PositiveSmallIntegerField(default=365)
    discount_needs_isolation = models.BooleanField(default=False)
    unassessed_effect = models.CharField(
        max_length=10, choices=Effect.choices(), default=Effect.ISOLATE
    )
    uncertified_effect = models.CharField(
        max_length=10, choices=Effect.choices(), default=Effect.ADVISE
    )
    force_fall_percent = models.PositiveSmallIntegerField(
        "fall of brake force that asks why (%)",
        default=10,
        validators=(MinValueValidator(1), MaxValueValidator(99)),
    )
    force_fall_effect = models.CharField(
        max_length=10,
        choices=[(e.value, e.label) for e in (Effect.ADVISE, Effect.CONDITION)],
        default=Effect.ADVISE,
    )
    hand_brake_out_effect = models.CharField(
        max_length=10,
        choices=[
            (e.value, e.label) for e in (Effect.CONDITION, Effect.DISCOUNT, Effect.STOP)
        ],
        default=Effect.CONDITION,
    )
    hand_brake_out_condition = models.CharField(max_length=200, default=HAND_BRAKE_OUT)
    storage_days_needing_tests = models.PositiveSmallIntegerField(
        "out of use for more than so many days, it is tested on its return", default=0
    )
    visiting_condition = models.CharField(max_length=200)
    air_dead_words = models.CharField(max_length=200)
    vacuum_dead_words = models.CharField(max_length=200)
    source = models.CharField(max_length=200)

    belongs_to: ClassVar[str] = ""

    objects: ClassVar = RevisionQuerySet.as_manager()

    class Meta:
        ordering = ("number",)
        constraints = (
            models.UniqueConstraint(
                name="upkeep_conditions_number",
                fields=("number",),
                condition=Q(closed_by__isnull=True),
            ),
        )

    def __str__(self) -> str:
        return f"General conditions, revision {self.number}"
