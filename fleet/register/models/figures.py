"""Brake figures of a type: what its drawing or plate says of cylinders, gear and force."""

from decimal import Decimal
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from fleet.engineering.figures import Figures
from fleet.records.models import Frozen
from fleet.records.refusing import refusing
from fleet.register.models.types import TypeRevision
from fleet.register.vocabulary import System

_SOME = (MinValueValidator(Decimal("0.001")),)
_NONE_OR_MORE = (MinValueValidator(0),)


def _number(label: str, digits: int, places: int, **options: Any) -> Any:
    """Return a column of a number that may be not given."""
    options.setdefault("validators", _SOME)
    return models.DecimalField(
        label,
        max_digits=digits,
        decimal_places=places,
        null=True,
        blank=True,
        **options,
    )


class BrakeFigures(Frozen):
    """
    The brake figures of one system of a type revision.

    What is not given is null and never guessed. Spring and adjuster forces are those of
    one cylinder; braked weight and forces of the hand brake those of the vehicle.
    """

    revision = models.ForeignKey(TypeRevision, models.PROTECT, related_name="figures")
    system = models.CharField(max_length=6, choices=System.choices())
    cylinders = models.PositiveSmallIntegerField(validators=(MinValueValidator(1),))
    bore_mm = models.DecimalField(
        "cylinder bore (mm)", max_digits=5, decimal_places=1, validators=_SOME
    )
    travel_mm = models.DecimalField(
        "piston travel (mm)", max_digits=5, decimal_places=1, validators=_SOME
    )
    clearance_l = _number("clearance volume (l)", 6, 2, validators=_NONE_OR_MORE)
    ratio = _number("rigging ratio", 6, 3)
    efficiency = _number(
        "efficiency of the rigging",
        4,
        3,
        validators=(*_SOME, MaxValueValidator(1)),
    )
    blocks = models.PositiveSmallIntegerField(
        "brake blocks", null=True, blank=True, validators=(MinValueValidator(1),)
    )
    return_force_n = _number("return spring (N)", 7, 1, validators=_NONE_OR_MORE)
    adjuster_force_n = _number("slack adjuster (N)", 7, 1, validators=_NONE_OR_MORE)
    adjuster_ratio = _number("slack adjuster's ratio", 6, 3, validators=_NONE_OR_MORE)
    reservoir_volume_l = _number("reservoir or vacuum chamber (l)", 7, 2)
    above_piston_l = _number("room above the vacuum piston (l)", 7, 2)
    full_cylinder_bar = _number("full cylinder pressure (bar)", 5, 2)
    full_drop_bar = _number("pipe drop of a full application (bar)", 4, 2)
    working_vacuum_mbar = _number("working vacuum (mbar)", 5, 1)
    pipe_volume_l = _number("brake or train pipe (l)", 7, 2)
    braked_weight_t = _number("braked weight (t)", 6, 2)
    hand_brake_kn = _number("hand brake, force of the blocks (kN)", 6, 2)
    source = models.CharField(max_length=200)

    class Meta:
        verbose_name_plural = "brake figures"
        ordering = ("revision", "system")
        constraints = (
            models.UniqueConstraint(
                name="register_figures_of_a_system", fields=("revision", "system")
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_system_display()} brake figures"

    @property
    def told(self) -> list[tuple[str, str]]:
        """Return what is given, in words, with what follows from it."""
        rows = [
            (str(column.verbose_name), f"{float(value):g}")
            for column in self._meta.concrete_fields
            if isinstance(
                column, (models.DecimalField, models.PositiveSmallIntegerField)
            )
            and (value := getattr(self, column.name)) is not None
        ]
        force = self.figures.type_kn
        if force:
            rows.append(("force of all blocks that follows (kN)", f"{force:.1f}"))
        return rows

    @property
    def figures(self) -> Figures:
        """Return them as calculations take them: floats, forces in kN."""
        return Figures(
            cylinders=self.cylinders,
            bore_mm=float(self.bore_mm),
            travel_mm=float(self.travel_mm),
            clearance_l=float(self.clearance_l or 0),
            ratio=_float(self.ratio),
            efficiency=_float(self.efficiency),
            blocks=self.blocks,
            return_kn=float(self.return_force_n or 0) / 1000,
            adjuster_kn=float(self.adjuster_force_n or 0) / 1000,
            adjuster_ratio=float(self.adjuster_ratio or 0),
            reservoir_l=_float(self.reservoir_volume_l),
            above_piston_l=_float(self.above_piston_l),
            full_cylinder_bar=_float(self.full_cylinder_bar),
            full_drop_bar=_float(self.full_drop_bar),
            working_mbar=_float(self.working_vacuum_mbar),
            pipe_l=_float(self.pipe_volume_l),
            braked_weight_t=_float(self.braked_weight_t),
        )

    @staticmethod
    def strange_to(system: str) -> tuple[str, ...]:
        """Return the figures only a brake of the other system has."""
        if system == System.AIR:
            return ("above_piston_l", "working_vacuum_mbar")
        return ("full_cylinder_bar", "full_drop_bar")

    def clean(self) -> None:
        """Refuse figures of the other brake system."""
        for name in self.strange_to(self.system):
            if getattr(self, name) is not None:
                raise refusing(
                    f"The {self.get_system_display().lower()} brake has no such figure; "
                    "leave it empty.",
                    code="other_system",
                    field=name,
                )


def _float(value: Decimal | None) -> float | None:
    return None if value is None else float(value)
