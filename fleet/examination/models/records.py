"""Test records, their readings, traces and thicknesses, and counter-signatures."""

from decimal import Decimal
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.urls import reverse

from fleet.examination.judging import judge, plain, with_unit
from fleet.examination.managers import TestRecordQuerySet
from fleet.examination.models.instruments import Instrument
from fleet.examination.models.procedures import ProcedureLine, ProcedureRevision
from fleet.examination.vocabulary import ATTACHED, REASONED, Answer, LineKind, Result
from fleet.people.models import CompetenceVersion, Person
from fleet.records.models import Frozen, Happened, Identity, Version
from fleet.register.models import Depot, Equipment, Vehicle

PUT_RIGHT = "Found so, then put right"


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
    competence = models.ForeignKey(
        CompetenceVersion, models.PROTECT, null=True, blank=True, related_name="+"
    )  # as it was on that day; none: flagged until somebody counter-signs
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
    position = models.SlugField(max_length=30, blank=True, default="")  # of a repeat
    choice = models.CharField(max_length=80, blank=True, default="")
    instrument = models.ForeignKey(
        Instrument, models.PROTECT, null=True, blank=True, related_name="readings"
    )
    answer = models.CharField(max_length=14, choices=Answer.choices())
    value = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    typed = models.CharField(max_length=20, blank=True, default="")  # digits as given
    unit = models.CharField(max_length=20, blank=True, default="")
    note = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        ordering = ("line__order",)
        indexes = (
            models.Index(
                fields=["record"],
                condition=Q(instrument__isnull=False),
                name="examination_citing",
            ),
        )
        constraints = (
            models.UniqueConstraint(
                name="examination_one_reading_a_line",
                fields=("record", "line", "position"),
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
        if self.choice:
            return f"{self.choice}: {self._settled.lower()}"
        if self.value is None:
            reason = self.note if self.answer in REASONED else ""
            return " ".join(part for part in (self._settled, reason) if part)
        number = Decimal(self.typed or plain(self.value))
        judged = judge(number, self.unit, self.line.limits)
        words = "; ".join(filter(None, (judged.words, self.worn)))
        if judged.answer == self.answer:
            return words
        return f"{words}. {PUT_RIGHT}"  # found wrong, left right

    @property
    def worn(self) -> str:
        """Say how what wears stands to its limits; "" for what is within them."""
        return "" if self.value is None else self.line.worn(self.value, self.unit)

    @property
    def _settled(self) -> str:
        """Return the answer; what was found not met and put right says so."""
        if self.answer == Answer.RECORDED and self.line.kind in ATTACHED:
            return f"{LineKind(self.line.kind).label} recorded"
        if self.answer == Answer.RECORDED:
            return f"{Answer.NOT_MET.label}. {PUT_RIGHT}"
        return str(Answer(self.answer).label)


class Trace(Frozen):
    """A pressure and time trace of a test, as it was read, with what was found in it."""

    record = models.ForeignKey(TestRecord, models.PROTECT, related_name="traces")
    line = models.ForeignKey(ProcedureLine, models.PROTECT, related_name="+")
    name = models.CharField("file", max_length=120, blank=True, default="")
    unit = models.CharField(max_length=20)
    count = models.PositiveIntegerField("samples")
    digest = models.CharField(max_length=64)  # SHA-256 of the file as it came
    drawn = models.JSONField(default=list)  # the thinned curve: [seconds, value] pairs
    found = models.JSONField(default=dict)  # what was found, by name

    def __str__(self) -> str:
        return f"Trace of {self.count} samples"


class ThicknessReading(Frozen):
    """The thickness of a vessel at a named point."""

    record = models.ForeignKey(TestRecord, models.PROTECT, related_name="thicknesses")
    line = models.ForeignKey(ProcedureLine, models.PROTECT, related_name="+")
    point = models.CharField(max_length=40)
    thickness_mm = models.DecimalField(max_digits=6, decimal_places=3)
    uncertainty_mm = models.DecimalField(max_digits=5, decimal_places=3, default=0)

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.UniqueConstraint(
                name="examination_one_thickness_a_point",
                fields=("record", "line", "point"),
            ),
        )

    def __str__(self) -> str:
        return f"{self.point}: {self.thickness_mm} mm"


class CounterSignature(Version, Happened):
    """A competent person's signature to a test done by somebody whose own had lapsed."""

    test = models.ForeignKey(Test, models.PROTECT, related_name="counter_signatures")
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    competence = models.ForeignKey(CompetenceVersion, models.PROTECT, related_name="+")
    remark = models.CharField(max_length=200, blank=True, default="")

    def __str__(self) -> str:
        return f"Counter-signed on {self.on}"
