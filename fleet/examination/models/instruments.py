"""Test gauges and rigs, and their calibrations."""

from typing import ClassVar

from django.db import models
from django.urls import reverse

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
