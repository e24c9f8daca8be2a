"""Tables of defects: tickets and their steps, work in hand, what is signed for them."""

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.urls import reverse

from fleet.defects.managers import (
    DefectQuerySet,
    DefectStepQuerySet,
    WorkQuerySet,
)
from fleet.defects.vocabulary import Step, Tendency
from fleet.examination.models import Test
from fleet.people.models import Approved, CompetenceVersion, Person, Skill
from fleet.records.models import Happened, Identity, Lasting, Version
from fleet.records.refusing import refusing
from fleet.records.revisions import RevisionQuerySet
from fleet.register.models import Equipment, Vehicle
from fleet.register.vocabulary import Effect, Scope


class ClearingPolicy(Version, Approved):
    """What the operator asks before a defect or work is cleared, from a date on."""

    number = models.PositiveSmallIntegerField()
    effective_from = models.DateField()
    release_needed_from = models.CharField(
        "work of this weight needs a signed release",
        max_length=10,
        choices=Effect.choices(),
        default=Effect.ISOLATE,
    )
    independent_scopes = models.JSONField(
        "released by somebody else than who did the work", default=list, blank=True
    )  # Scope values
    recurrence_days = models.PositiveSmallIntegerField(
        "a defect within so many days after one like it has come back", default=180
    )
    recurrence_count = models.PositiveSmallIntegerField(
        "from this time on it is assessed at a higher level", default=3
    )
    cock_repeat_days = models.PositiveSmallIntegerField(
        "a cock found wrong within so many days after another is a repeat", default=365
    )
    source = models.CharField(max_length=200)

    belongs_to: ClassVar[str] = ""

    objects: ClassVar = RevisionQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "clearing policies"
        ordering = ("number",)
        constraints = (
            models.UniqueConstraint(
                name="defects_clearing_number",
                fields=("number",),
                condition=Q(closed_by__isnull=True),
            ),
        )

    def __str__(self) -> str:
        return f"Clearing of defects, revision {self.number}"

    def clean(self) -> None:
        """Refuse a scope nobody knows, and a first time that has come back."""
        strangers = set(self.independent_scopes) - set(Scope)
        if strangers:
            raise refusing(
                f"There is no scope called {', '.join(sorted(strangers))}.",
                code="unknown_scope",
                field="independent_scopes",
            )
        if self.recurrence_count <= 1:
            raise refusing(
                "A defect comes back the second time at the earliest.",
                code="first_time_is_no_recurrence",
                field="recurrence_count",
            )


class Defect(Identity):
    """A defect ticket; all that happened to it is in its steps."""

    vehicle = models.ForeignKey(
        Vehicle, models.PROTECT, null=True, related_name="defects"
    )  # where it was found; a defect of an item moves with the item
    equipment = models.ForeignKey(
        Equipment, models.PROTECT, null=True, related_name="defects"
    )
    position = models.SlugField(max_length=30, blank=True, default="")
    title = models.CharField(max_length=120)

    objects = DefectQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                name="defects_has_a_subject",
                condition=Q(vehicle__isnull=False) | Q(equipment__isnull=False),
                violation_error_message="Name the vehicle or the item.",
            ),
        )

    def __str__(self) -> str:
        return f"Defect {self.pk}: {self.title}"

    def get_absolute_url(self) -> str:
        """Return the defect's page."""
        return reverse("defects:defect", args=[self.pk])


class DefectStep(Version, Happened):
    """One step of a defect: who did what, when, and how it is assessed from then on."""

    defect = models.ForeignKey(Defect, models.PROTECT, related_name="steps")
    number = models.PositiveSmallIntegerField()  # its place; a correction keeps it
    step = models.CharField(max_length=8, choices=Step.choices())
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    scope = models.CharField(max_length=20, choices=Scope.choices())
    effect = models.CharField(max_length=10, choices=Effect.choices())
    condition = models.CharField(max_length=200, blank=True, default="")
    tends = models.CharField(
        max_length=7, choices=Tendency.choices(), default=Tendency.UNKNOWN
    )
    note = models.TextField(blank=True, default="")
    test = models.ForeignKey(
        Test, models.PROTECT, null=True, blank=True, related_name="+"
    )
    # What it asked of who assessed or released, and what that person held that day.
    skill = models.CharField(
        "competence needed",
        max_length=12,
        choices=Skill.choices,
        blank=True,
        default="",
    )
    competence = models.ForeignKey(
        CompetenceVersion, models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects: ClassVar = DefectStepQuerySet.as_manager()

    class Meta:
        ordering = ("defect", "number", "pk")
        constraints = (
            models.UniqueConstraint(
                name="defects_step_number",
                fields=("defect", "number"),
                condition=Q(closed_by__isnull=True),
                violation_error_message="Somebody else recorded a step of this defect "
                "meanwhile. Open it again and go on from there.",
                violation_error_code="already_superseded",
            ),
        )
        indexes = (
            models.Index(fields=["defect", "closed_by"], name="defects_step_of"),
        )

    def __str__(self) -> str:
        return f"{Step(self.step).label}, {self.on}"

    @property
    def label(self) -> str:
        """Return the words of the step."""
        return Step(self.step).label

    @property
    def ends(self) -> bool:
        """Say whether the defect is cleared by this step."""
        return Step(self.step).ends

    @property
    def assesses(self) -> bool:
        """Say whether scope and effect were decided by this step."""
        return self.step == Step.ASSESSED

    @property
    def higher(self) -> bool:
        """Say whether it was assessed at a higher level than others."""
        return self.assesses and self.skill == Skill.RELEASE

    @property
    def scope_label(self) -> str:
        """Return the words of the scope."""
        return Scope(self.scope).label

    @property
    def effect_label(self) -> str:
        """Return the words of the effect."""
        return Effect(self.effect).label

    @property
    def tends_label(self) -> str:
        """Return which way the fault drives the brake, in words."""
        known = self.tends != Tendency.UNKNOWN
        return (
            Tendency(self.tends).label if known else "Which way it drives is not known"
        )

    def clean(self) -> None:
        """Hold a through pipe to no less than stop, and a condition to words."""
        if self.step == Step.RAISED:
            return
        scope, effect = Scope(self.scope), Effect(self.effect)
        lenient = scope is Scope.MAIN_RESERVOIR_PIPE and effect is Effect.CONDITION
        if scope.through_pipe and effect is not Effect.STOP and not lenient:
            raise refusing(
                "A fault of a through pipe is never less than not to run: a chafed hose "
                "can burst.",
                code="through_pipe_stops",
                field="effect",
            )
        if effect is Effect.CONDITION and not self.condition.strip():
            raise refusing(
                "Write the condition as train crew should read it.",
                code="no_condition",
                field="condition",
            )


class WorkInHand(Version, Lasting):
    """Work on a vehicle's brake; it lasts until a signed release to traffic."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="work")
    defect = models.ForeignKey(
        Defect, models.PROTECT, null=True, blank=True, related_name="work"
    )
    what = models.CharField(max_length=200)
    scope = models.CharField(
        max_length=20, choices=Scope.choices(), default=Scope.VEHICLE
    )
    done_by = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="+"
    )
    released_by = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="+"
    )
    # What it asked of who released it, and what that person held that day.
    skill = models.CharField(
        "competence needed",
        max_length=12,
        choices=Skill.choices,
        blank=True,
        default="",
    )
    competence = models.ForeignKey(
        CompetenceVersion, models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects: ClassVar = WorkQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "work in hand"
        ordering = ("since_key",)
        indexes = (
            models.Index(fields=["vehicle", "closed_by"], name="defects_work_on"),
        )

    def __str__(self) -> str:
        return self.what


class CounterSignature(Version, Happened):
    """
    A competent person's signature to what one who was not assessed or released.

    It is to the row as it stands: a correction wants another.
    """

    step = models.ForeignKey(
        DefectStep, models.PROTECT, null=True, related_name="counter_signatures"
    )
    work = models.ForeignKey(
        WorkInHand, models.PROTECT, null=True, related_name="counter_signatures"
    )
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    competence = models.ForeignKey(CompetenceVersion, models.PROTECT, related_name="+")
    remark = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        constraints = (
            models.CheckConstraint(
                name="defects_signs_one_thing",
                condition=Q(step__isnull=True) ^ Q(work__isnull=True),
            ),
        )

    def __str__(self) -> str:
        return f"Counter-signed on {self.on}"
