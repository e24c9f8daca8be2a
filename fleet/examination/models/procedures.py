"""Procedures in revisions, with their lines, and drafts of the next revision."""

from decimal import Decimal
from fractions import Fraction
from typing import ClassVar

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q

from fleet.engineering.units import converted
from fleet.engineering.wear import Grows
from fleet.examination.judging import Limits, plain, with_unit
from fleet.examination.managers import ProcedureRevisionQuerySet
from fleet.examination.vocabulary import (
    OF_TRAIN_PIPE,
    Found,
    LineKind,
    Repeat,
    Stage,
    TestSubject,
)
from fleet.people.models import Person, Skill
from fleet.records.models import Frozen, Identity, Version
from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from fleet.ui.cautions import Caution, caution


class Procedure(Identity):
    """A way of testing or examining; what it asks is in its revisions."""

    code = models.SlugField(max_length=30, unique=True)

    class Meta:
        ordering = ("code",)

    def __str__(self) -> str:
        return self.code


class ProcedureRevision(Version):
    """The lines of a procedure from a date on; revised, never edited."""

    procedure = models.ForeignKey(Procedure, models.PROTECT, related_name="revisions")
    number = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=100)
    subject = models.CharField(max_length=9, choices=TestSubject.choices())
    kind = models.CharField(
        "equipment kind",
        max_length=30,
        choices=EquipmentKind.choices(),
        blank=True,
        default="",
    )
    scopes = models.JSONField(default=list, blank=True)  # Scope values it bears on
    cautions = models.JSONField(default=list, blank=True)  # keys of fleet.ui.cautions
    skill = models.CharField(
        "competence needed",
        max_length=12,
        choices=Skill.choices,
        blank=True,
        default="",
    )
    effective_from = models.DateField()
    source = models.CharField(max_length=200)
    drafted_by = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="+"
    )
    approved_by = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects: ClassVar = ProcedureRevisionQuerySet.as_manager()

    class Meta:
        ordering = ("procedure", "number")
        constraints = (
            models.UniqueConstraint(
                name="examination_revision_number",
                fields=("procedure", "number"),
                condition=Q(closed_by__isnull=True),
            ),
        )

    def __str__(self) -> str:
        return f"{self.title}, revision {self.number}"

    @property
    def scope_words(self) -> list[str]:
        """Return the parts of the vehicle it bears on, in words."""
        return [Scope(scope).label for scope in self.scopes]

    @property
    def caution_texts(self) -> list[Caution]:
        """Return the cautions that stand where its work and its limits are shown."""
        keys = dict.fromkeys([*self.cautions, "local_instruction"])
        return [caution(key) for key in keys]


class ProcedureLine(Frozen):
    """One line: a question, or a quantity to measure against limits."""

    revision = models.ForeignKey(
        ProcedureRevision, models.PROTECT, related_name="lines"
    )
    order = models.PositiveSmallIntegerField()
    text = models.CharField(max_length=200)
    kind = models.CharField(max_length=8, choices=LineKind.choices())
    quantity = models.CharField(
        max_length=20, blank=True, default=""
    )  # fleet.engineering.units
    unit = models.CharField(max_length=20, blank=True, default="")  # of the limits
    low = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)
    high = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)
    condemned = models.DecimalField(
        "condemned beyond", max_digits=10, decimal_places=4, null=True, blank=True
    )  # of what wears, in `unit`; `low` or `high` is then the limit to release by
    criterion = models.CharField(max_length=200, blank=True, default="")
    choices = models.JSONField(default=list, blank=True)  # [words, met] for a choice
    repeat = models.CharField(
        "repeated for each",
        max_length=8,
        choices=Repeat.choices(),
        blank=True,
        default="",
    )
    stage = models.CharField(
        max_length=8, choices=Stage.choices(), blank=True, default=""
    )
    finds = models.CharField(
        "taken from the trace",
        max_length=12,
        choices=Found.choices(),
        blank=True,
        default="",
    )
    reads_at = models.DecimalField(
        "read off the trace at", max_digits=6, decimal_places=3, null=True, blank=True
    )  # % of the maximum for a filling time, bar in the cylinder for a release time
    scope = models.CharField(max_length=20, choices=Scope.choices())
    effect_failed = models.CharField(max_length=10, choices=Effect.choices())
    required = models.BooleanField(default=True)
    source = models.CharField(max_length=200)

    class Meta:
        ordering = ("revision", "order")
        constraints = (
            models.UniqueConstraint(
                name="examination_line_order", fields=("revision", "order")
            ),
        )

    def __str__(self) -> str:
        return self.text

    @property
    def asked(self) -> str:
        """Return what is asked, and whether as found or as left."""
        return (
            f"{self.text}, {self.get_stage_display().lower()}"
            if self.stage
            else self.text
        )

    @property
    def good_choices(self) -> list[str]:
        """Return the choices that are good enough."""
        return [words for words, met in self.choices if met]

    @property
    def measured(self) -> bool:
        """Say whether a value is asked for."""
        return self.kind == LineKind.MEASURED

    @property
    def limits(self) -> Limits:
        """Return what a reading is judged by."""
        return Limits(self.quantity, self.unit, self.low, self.high)

    @property
    def has_criterion(self) -> bool:
        """Say whether it is laid down what is good enough."""
        stated = self.measured and self.limits.stated
        return bool(self.criterion or self.good_choices or stated)

    @property
    def criterion_words(self) -> str:
        """Return what is good enough, in words; "" where nothing is laid down."""
        limits = self.limits.words if self.measured and self.limits.stated else ""
        good = "; or ".join(self.good_choices)
        condemned = self.condemned_words
        said = (limits, good, condemned[:1].upper() + condemned[1:], self.criterion)
        return ". ".join(part for part in said if part)

    @property
    def grows(self) -> Grows:
        """Return which way it wears: towards an upper limit, or towards a lower one."""
        if self.condemned is not None and self.high is not None:
            return Grows.UP if self.condemned >= self.high else Grows.DOWN
        return Grows.DOWN if self.low is not None and self.high is None else Grows.UP

    @property
    def taken_words(self) -> str:
        """Return where its value is taken from, and at which point; "" if read off."""
        if self.finds in {Found.NONE, Found.STROKE}:
            return ""
        if self.finds == Found.THINNEST:
            return "taken from the thickness survey"
        unit = "%" if self.finds == Found.FILL_TIME else self.level_unit
        at = "" if self.reads_at is None else f" at {plain(self.reads_at)} {unit}"
        return f"taken from the trace{at}"

    @property
    def level_unit(self) -> str:
        """Return the unit of a level: that of vacuum where the train pipe's is read."""
        of_pipe = self.finds in OF_TRAIN_PIPE and self.scope == Scope.VACUUM_TRAIN_PIPE
        return "inHg" if of_pipe else "bar"

    @property
    def wears(self) -> bool:
        """Say whether it measures what wears: its readings make a trend."""
        return self.finds == Found.STROKE or self.condemned is not None

    @property
    def condemned_words(self) -> str:
        """Return the condemning limit: "condemned below 10 mm"; "" where there is none."""
        if self.condemned is None:
            return ""
        side = "below" if self.grows is Grows.DOWN else "above"
        return f"condemned {side} {with_unit(plain(self.condemned), self.unit)}"

    def worn(self, value: Decimal, unit: str) -> str:
        """Say how what wears stands to its two limits, which are never mixed."""
        if self.condemned is None:
            return ""
        exact = converted(value, unit, self.unit)
        sign = 1 if self.grows is Grows.DOWN else -1
        if sign * exact < sign * Fraction(self.condemned):
            return "condemned"
        release = self.low if self.grows is Grows.DOWN else self.high
        if release is not None and sign * exact < sign * Fraction(release):
            return f"not to be released, though not yet {self.condemned_words}"
        return ""

    def clean(self) -> None:
        """Refuse limits that cannot be met."""
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValidationError(
                {"low": "The lower limit is above the upper one."}, code="limits"
            )


class ProcedureDraft(models.Model):
    """
    A revision being written: not a fact yet, so it may be changed and thrown away.

    `content` is what `define_procedure` takes, with its lines.
    """

    procedure = models.ForeignKey(
        Procedure, models.PROTECT, null=True, blank=True, related_name="drafts"
    )  # none: a procedure that is new
    code = models.SlugField(max_length=30)
    content = models.JSONField(default=dict)
    reason = models.CharField(max_length=300, blank=True, default="")
    drafted_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    changed_at = models.DateTimeField()

    class Meta:
        ordering = ("-changed_at",)

    def __str__(self) -> str:
        return f"Draft of {self.code}"
