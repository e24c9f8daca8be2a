"""Ratings of reservoirs, and the wall they require."""

from decimal import Decimal
from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from fleet.engineering.walls import RequiredWall, WallFigures, required_wall
from fleet.records.guards import NoOverlap
from fleet.records.models import Lasting, Version
from fleet.records.refusing import refusing
from fleet.register.managers import RatingsQuerySet
from fleet.register.models.equipment import Equipment
from fleet.register.vocabulary import DiameterAt, EquipmentKind, VesselEnd, head_of

_SOME = (MinValueValidator(Decimal("0.01")),)

# What only the formulas of the wall need; a vacuum reservoir has none of it.
WALL_FIGURES = (
    "diameter_mm",
    "diameter_at",
    "material",
    "allowable_stress_mpa",
    "joint_efficiency",
    "end_shape",
    "crown_radius_mm",
)


class ReservoirParticulars(Version, Lasting):
    """Ratings of a reservoir, from its plate or drawing."""

    equipment = models.ForeignKey(
        Equipment, models.PROTECT, related_name="reservoir_particulars"
    )
    volume_l = models.DecimalField(
        "volume (l)",
        max_digits=7,
        decimal_places=2,
        null=True,
        blank=True,
        validators=_SOME,
    )
    working_pressure_bar = models.DecimalField(
        "working pressure (bar)",
        max_digits=5,
        decimal_places=2,
        null=True,
        blank=True,
        validators=_SOME,
    )
    minimum_thickness_mm = models.DecimalField(
        "minimum thickness from plate or drawing (mm)",
        max_digits=5,
        decimal_places=2,
        null=True,
        blank=True,
        validators=_SOME,
    )

    diameter_mm = models.DecimalField(
        "diameter (mm)",
        max_digits=6,
        decimal_places=1,
        null=True,
        blank=True,
        validators=_SOME,
        help_text="What follows is asked only where no minimum thickness is on drawing or "
        "plate: then it is worked out by formula, if all of it is given.",
    )
    diameter_at = models.CharField(
        "diameter measured",
        max_length=7,
        choices=DiameterAt.choices(),
        blank=True,
        default=DiameterAt.NONE,
    )
    material = models.CharField(max_length=60, blank=True, default="")
    allowable_stress_mpa = models.DecimalField(
        "allowable stress (MPa)",
        max_digits=6,
        decimal_places=2,
        null=True,
        blank=True,
        validators=_SOME,
        help_text="Of the material, as the drawing or its standard gives it; not its "
        "tensile strength.",
    )
    joint_efficiency = models.DecimalField(
        max_digits=3,
        decimal_places=2,
        null=True,
        blank=True,
        validators=(*_SOME, MaxValueValidator(1)),
        help_text="Of the worst joint: above 0, up to 1.",
    )
    end_shape = models.CharField(
        "shape of the ends",
        max_length=12,
        choices=VesselEnd.choices(),
        blank=True,
        default=VesselEnd.NONE,
    )
    crown_radius_mm = models.DecimalField(
        "crown radius of the ends (mm)",
        max_digits=6,
        decimal_places=1,
        null=True,
        blank=True,
        validators=_SOME,
        help_text="Inside; of dished and flanged ends only.",
    )

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "register_reservoir_one_rating",
            ("equipment_id",),
            "The item already has ratings for part of that time.",
            "particulars_overlap",
        ),
    )

    objects: ClassVar = RatingsQuerySet.as_manager()

    def __str__(self) -> str:
        return f"Ratings of reservoir {self.equipment_id}"

    @property
    def required(self) -> RequiredWall:
        """Return the least wall, by drawing or plate, else by formula; and its basis."""
        figures = WallFigures(
            pressure_bar=_float(self.working_pressure_bar),
            diameter_mm=_float(self.diameter_mm),
            outside=self.diameter_at == DiameterAt.OUTSIDE,
            stress_mpa=_float(self.allowable_stress_mpa),
            efficiency=_float(self.joint_efficiency),
            head=head_of(self.end_shape),
            crown_mm=_float(self.crown_radius_mm),
        )
        return required_wall(_float(self.minimum_thickness_mm), figures)

    def clean(self) -> None:
        """Refuse figures that belong to another vessel, or say half of a thing."""
        if self.equipment.kind == EquipmentKind.VACUUM_RESERVOIR:
            self._refuse_figures()
        if (self.diameter_mm is None) != (self.diameter_at == DiameterAt.NONE):
            raise refusing(
                "Give the diameter and say whether it is inside or outside, or neither.",
                code="half_a_diameter",
                field="diameter_at" if self.diameter_mm else "diameter_mm",
            )
        if self.crown_radius_mm and self.end_shape != VesselEnd.TORISPHERE:
            raise refusing(
                "Only dished and flanged ends have a crown radius; leave it empty.",
                code="no_crown",
                field="crown_radius_mm",
            )

    def _refuse_figures(self) -> None:
        for name in WALL_FIGURES:
            if getattr(self, name) not in {None, ""}:
                raise refusing(
                    "The formulas hold for pressure from within, not for a vacuum: give "
                    "the minimum thickness from drawing or plate.",
                    code="vacuum_vessel",
                    field=name,
                )


def _float(value: Decimal | float | str | None) -> float | None:
    return None if value is None else float(value)
