"""Tables of examination: procedures in revisions, test records, readings."""

from decimal import Decimal
from typing import ClassVar

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.urls import reverse

from fleet.examination.judging import Limits, judge, plain, with_unit
from fleet.examination.managers import ProcedureRevisionQuerySet, TestRecordQuerySet
from fleet.examination.vocabulary import (
    REASONED,
    Answer,
    LineKind,
    Result,
    TestSubject,
)
from fleet.people.models import Person
from fleet.records.models import Frozen, Happened, Identity, Version
from fleet.register.models import Depot, Equipment, Vehicle
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
    effective_from = models.DateField()
    source = models.CharField(max_length=200)

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
    criterion = models.CharField(max_length=200, blank=True, default="")
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
        return bool(self.criterion) or (self.measured and self.limits.stated)

    @property
    def criterion_words(self) -> str:
        """Return what is good enough, in words; "" where nothing is laid down."""
        limits = self.limits.words if self.measured and self.limits.stated else ""
        return ". ".join(part for part in (limits, self.criterion) if part)

    def clean(self) -> None:
        """Refuse limits that cannot be met."""
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValidationError(
                {"low": "The lower limit is above the upper one."}, code="limits"
            )


class Test(Identity):
    """A test or examination that was done; what was found is in its record."""

    __test__ = False  # not a pytest class

    def __str__(self) -> str:
        return f"Test {self.pk}"

    def get_absolute_url(self) -> str:
        """Return the test's page."""
        return reverse("examination:test", args=[self.pk])


class TestRecord(Version, Happened):
    """A signed record of a test; a correction is a new version, both are shown."""

    __test__ = False

    test = models.ForeignKey(Test, models.PROTECT, related_name="records")
    procedure_revision = models.ForeignKey(
        ProcedureRevision, models.PROTECT, related_name="+"
    )
    vehicle = models.ForeignKey(
        Vehicle, models.PROTECT, null=True, blank=True, related_name="tests"
    )
    equipment = models.ForeignKey(
        Equipment, models.PROTECT, null=True, blank=True, related_name="tests"
    )
    done_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    place = models.ForeignKey(
        Depot, models.PROTECT, null=True, blank=True, related_name="+"
    )
    ambient_c = models.DecimalField(
        "air temperature (°C)", max_digits=4, decimal_places=1, null=True, blank=True
    )
    instruments = models.CharField(
        "gauges and rigs used", max_length=200, blank=True, default=""
    )
    remarks = models.TextField(blank=True, default="")
    passed = models.BooleanField(editable=False)  # computed from the readings
    unanswered = models.PositiveSmallIntegerField(default=0, editable=False)
    failed = models.PositiveSmallIntegerField("not met", default=0, editable=False)

    objects: ClassVar = TestRecordQuerySet.as_manager()

    guard: ClassVar[str] = "version"

    class Meta:
        ordering = ("-on_latest", "-on_at", "-pk")
        constraints = (
            models.CheckConstraint(
                name="examination_one_subject",
                condition=Q(vehicle__isnull=False, equipment__isnull=True)
                | Q(vehicle__isnull=True, equipment__isnull=False),
                violation_error_message="Name a vehicle or an item, not both.",
            ),
        )
        indexes = (
            models.Index(
                fields=["vehicle", "closed_by"], name="examination_of_vehicle"
            ),
            models.Index(fields=["equipment", "closed_by"], name="examination_of_item"),
        )

    def __str__(self) -> str:
        return f"{self.procedure_revision.title}, {self.on}"

    @property
    def result(self) -> Result:
        """Return the result that follows from the readings."""
        if self.passed:
            return Result.PASSED
        incomplete = self.unanswered and not self.failed
        return Result.INCOMPLETE if incomplete else Result.FAILED

    @property
    def shortfall(self) -> str:
        """Return what stands in the way of `passed`: "1 line not met, 2 unanswered"."""
        parts = []
        if self.failed:
            parts.append(
                f"{self.failed} {'line' if self.failed == 1 else 'lines'} not met"
            )
        if self.unanswered:
            parts.append(f"{self.unanswered} unanswered")
        return ", ".join(parts)


class Reading(Frozen):
    """The answer to one line, kept as it was given, with its unit."""

    record = models.ForeignKey(TestRecord, models.PROTECT, related_name="readings")
    line = models.ForeignKey(ProcedureLine, models.PROTECT, related_name="+")
    answer = models.CharField(max_length=14, choices=Answer.choices())
    value = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    typed = models.CharField(max_length=20, blank=True, default="")  # digits as given
    unit = models.CharField(max_length=20, blank=True, default="")
    note = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        ordering = ("line__order",)
        constraints = (
            models.UniqueConstraint(
                name="examination_one_reading_a_line", fields=("record", "line")
            ),
            models.CheckConstraint(
                name="examination_reason_for_no_answer",
                condition=~Q(answer__in=sorted(REASONED)) | ~Q(note=""),
                violation_error_message="Say why this line was not done.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.line}: {self.given or Answer(self.answer).label}"

    @property
    def given(self) -> str:
        """Return the reading as it was given, with its unit; "" where there is none."""
        if self.value is None:
            return ""
        return with_unit(self.typed or plain(self.value), self.unit)

    @property
    def brief(self) -> str:
        """Return the reading with its answer, without the limit: "17.5 s, met"."""
        if self.value is None:
            return self.words
        if self.answer == Answer.RECORDED:
            return self.given
        return f"{self.given}, {Answer(self.answer).label.lower()}"

    @property
    def words(self) -> str:
        """Return the finding of this line: "28 s, limit 15 to 20 s", or the answer."""
        if self.value is None:
            reason = self.note if self.answer in REASONED else ""
            return " ".join(
                part for part in (Answer(self.answer).label, reason) if part
            )
        number = Decimal(self.typed or plain(self.value))
        return judge(number, self.unit, self.line.limits).words
