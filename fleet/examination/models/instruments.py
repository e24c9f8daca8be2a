"""Test gauges and rigs, and their calibrations."""

from decimal import Decimal
from typing import ClassVar

from django.db import models
from django.urls import reverse

from fleet.examination.calibration import limit_of_error
from fleet.examination.instrument_reads import InstrumentVersionQuerySet
from fleet.examination.judging import plain, with_unit
from fleet.examination.vocabulary import InstrumentState
from fleet.people.models import Person
from fleet.records.guards import NoOverlap
from fleet.records.models import Happened, Identity, Lasting, Version


class Instrument(Identity):
    """A test gauge or rig."""

    def __str__(self) -> str:
        return f"Instrument {self.pk}"

    def get_absolute_url(self) -> str:
        """Return the instrument's page."""
        return reverse("examination:instrument", args=[self.pk])


class InstrumentVersion(Version, Lasting):
    """What is held of an instrument over an interval."""

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="versions")
    number = models.CharField(max_length=30)
    what = models.CharField("what it is", max_length=80)
    quantity = models.CharField(max_length=20, blank=True, default="")
    unit = models.CharField(max_length=20, blank=True, default="")
    range_low = models.DecimalField(
        max_digits=10, decimal_places=3, null=True, blank=True
    )
    range_high = models.DecimalField(
        max_digits=10, decimal_places=3, null=True, blank=True
    )
    accuracy_class = models.DecimalField(
        "accuracy class (% of span)",
        max_digits=4,
        decimal_places=2,
        null=True,
        blank=True,
    )
    calibration_months = models.PositiveSmallIntegerField(
        "calibrated every (months)", default=12
    )
    state = models.CharField(
        max_length=10,
        choices=InstrumentState.choices(),
        default=InstrumentState.IN_USE,
    )

    objects: ClassVar = InstrumentVersionQuerySet.as_manager()

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "examination_instrument_one_state",
            ("instrument_id",),
            "The instrument already has particulars for part of that time.",
            "particulars_overlap",
            "since",
        ),
        NoOverlap(
            "examination_instrument_number_taken",
            ("number",),
            "Another instrument bears this number.",
            "number_taken",
            "number",
        ),
    )

    class Meta:
        ordering = ("number",)

    def __str__(self) -> str:
        return f"{self.number}, {self.what}"

    @property
    def range_words(self) -> str:
        """Return its range and class: "0 to 10 bar, class 1"; "" where not recorded."""
        if self.range_low is None or self.range_high is None:
            return ""
        span = f"{plain(self.range_low)} to {plain(self.range_high)}"
        words = with_unit(span, self.unit)
        if self.accuracy_class is not None:
            words += f", class {plain(self.accuracy_class)}"
        return words

    @property
    def limit_words(self) -> str:
        """Return the greatest error allowed, either way: "± 0.1 bar"; "" if not known."""
        limit = self.limit_of_error
        return "" if limit is None else with_unit(f"± {plain(limit)}", self.unit)

    @property
    def limit_of_error(self) -> Decimal | None:
        """Return the greatest error allowed, in its unit; None: not enough is recorded."""
        if not self.quantity or self.accuracy_class is None:
            return None
        if self.range_low is None or self.range_high is None:
            return None
        return limit_of_error(self.accuracy_class, self.range_low, self.range_high)


class Calibration(Version, Happened):
    """
    A comparison with a standard: how far off it was found, and until when it is good.

    A gauge found outside its class puts in question every test since its last good one.
    """

    instrument = models.ForeignKey(
        Instrument, models.PROTECT, related_name="calibrations"
    )
    certificate = models.CharField(max_length=60, blank=True, default="")
    done_by = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="+"
    )
    laboratory = models.CharField(max_length=80, blank=True, default="")
    as_found_error = models.DecimalField(
        "greatest error as found", max_digits=10, decimal_places=4
    )
    as_left_error = models.DecimalField(
        "greatest error as left", max_digits=10, decimal_places=4
    )
    unit = models.CharField(max_length=20)
    as_found_good = models.BooleanField(editable=False)  # computed from class and span
    as_left_good = models.BooleanField(editable=False)
    good_until = models.DateField()

    class Meta:
        ordering = ("-on_latest", "-pk")
        indexes = (
            models.Index(
                fields=["instrument", "closed_by"], name="examination_calibrated"
            ),
        )

    def __str__(self) -> str:
        return f"Calibrated on {self.on}"

    @property
    def found_words(self) -> str:
        """Return the error as found, with what follows: "0.05 bar, within its class"."""
        return _error(self.as_found_error, self.unit, good=self.as_found_good)

    @property
    def left_words(self) -> str:
        """Return the error as left, with what follows."""
        return _error(self.as_left_error, self.unit, good=self.as_left_good)


def _error(error: Decimal, unit: str, *, good: bool) -> str:
    judged = "within its class" if good else "outside its class"
    return f"{with_unit(plain(error), unit)}, {judged}"
