"""The sheet of brake figures of a vehicle type: one part for each brake system."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.register.items import plain
from fleet.register.models import BrakeFigures
from fleet.register.vocabulary import System

COLUMNS = tuple(
    field.name
    for field in BrakeFigures._meta.concrete_fields
    if field.name not in {"id", "revision", "system"}
)
NEEDED = ("cylinders", "bore_mm", "travel_mm", "source")
HELP = {
    "ratio": "From all pistons to all blocks together.",
    "efficiency": "What is left of the force after friction: above 0, up to 1.",
    "return_force_n": "Of one cylinder.",
    "adjuster_force_n": "Of one cylinder.",
    "reservoir_volume_l": "Of one vehicle; a vacuum chamber of one cylinder.",
    "source": "The drawing, plate or list these figures are from.",
}


class FiguresForm(forms.ModelForm[BrakeFigures]):
    """The brake figures of one system; left wholly empty, none are recorded."""

    class Meta:
        model = BrakeFigures
        fields = COLUMNS
        help_texts = HELP

    def __init__(self, data: Any, *, system: System, initial: Any = None) -> None:
        """Ask for what a brake of this system has."""
        super().__init__(data, prefix=f"figures-{system}", initial=initial)
        self.system = self.instance.system = system
        for name in BrakeFigures.strange_to(system):
            del self.fields[name]
        for field in self.fields.values():
            field.required = False

    @property
    def title(self) -> str:
        """Return the heading of this part of the sheet."""
        return f"Brake figures, {self.system.label.lower()} brake"

    @property
    def given(self) -> bool:
        """Say whether anything stands in this part of the sheet."""
        return any(
            value not in {None, ""}
            for name, value in self.cleaned_data.items()
            if name in COLUMNS
        )

    def clean(self) -> dict[str, Any]:
        """Ask for what nothing can be worked out without, once anything is given."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not (self.given or self.errors):
            return cleaned
        for name in NEEDED:
            if name not in self.errors and cleaned.get(name) in {None, ""}:
                message = "Give this too, or leave all figures of this brake empty."
                self.add_error(name, ValidationError(message, code="figure_missing"))
        return cleaned

    def said(self) -> dict[str, Any]:
        """Return the figures as the services take them."""
        values = {name: self.cleaned_data[name] for name in self.fields}
        return {"system": self.system, **values}


class FiguresSheet:
    """The parts of the sheet together, as a page and a service see them."""

    def __init__(self, data: Any, held: list[dict[str, Any]] | None = None) -> None:
        """Start from the figures held, if a type is revised."""
        start = {
            row["system"]: {name: plain(value) for name, value in row.items()}
            for row in held or ()
        }
        self.parts = [
            FiguresForm(data, system=system, initial=start.get(system))
            for system in System
        ]

    def is_valid(self) -> bool:
        """Say whether every part is, and have all of them say what is wrong."""
        sound = [part.is_valid() for part in self.parts]
        return all(sound)

    @property
    def errors(self) -> bool:
        """Say whether anything is wrong in any part."""
        return any(part.errors for part in self.parts)

    def said(self) -> list[dict[str, Any]]:
        """Return the figures of the systems that have any."""
        return [part.said() for part in self.parts if part.given]
