"""Numbers with units as forms take them: typed, checked, turned into what is reckoned in."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.engineering.units import QUANTITIES, convert, refuse_impossible, unit_of
from fleet.examination.judging import plain, read_number

SPEEDS: Mapping[str, str] = MappingProxyType({"km/h": "km", "mph": "mile"})


@dataclass(frozen=True, slots=True)
class Amount:
    """A number as it was typed, with its unit."""

    value: Decimal
    unit: str

    def to(self, unit: str) -> float:
        """Return it in another unit of the same quantity."""
        return float(convert(self.value, self.unit, unit))

    def __str__(self) -> str:
        return f"{plain(self.value)} {self.unit}"


class _AmountWidget(forms.MultiWidget):
    """A number, and the unit beside it."""

    template_name = "ui/parts.html"

    def __init__(self, units: tuple[str, ...], label: str) -> None:
        number = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
        choice = forms.Select(
            choices=[(unit, unit) for unit in units],
            attrs={"aria-label": f"Unit, {label}"},
        )
        super().__init__({"value": number, "unit": choice})

    def decompress(self, value: Any) -> list[Any]:
        """Take an amount apart into the number and its unit."""
        if isinstance(value, Amount):
            return [plain(value.value), value.unit]
        return [None, value]

    def id_for_label(self, id_: str) -> str:
        """Let the label name the number."""
        return f"{id_}_0" if id_ else ""


class AmountField(forms.Field):
    """
    A number with a unit of one quantity; cleans to an Amount, None where left empty.

    `unit` is the one offered first. Error codes: required, invalid, impossible.
    """

    default_error_messages = {"required": "Enter a number."}

    def __init__(self, quantity: str, unit: str, *, label: str, **options: Any) -> None:
        """Offer the units of the quantity; `options` are those of any field."""
        self.quantity = quantity
        self.units = self._units()
        options.setdefault("initial", unit)
        widget = _AmountWidget(self.units, label)
        super().__init__(label=label, widget=widget, **options)

    def clean(self, value: Any) -> Amount | None:
        """Return the amount that was written; refuse what cannot be."""
        number, unit = value if isinstance(value, list) else (value, "")
        text = str(number or "").strip()
        if not text:
            if self.required:
                raise ValidationError(self.error_messages["required"], code="required")
            return None
        try:
            return self._read(text, str(unit or ""))
        except ValueError as error:
            raise ValidationError(str(error), code="invalid") from None

    def _units(self) -> tuple[str, ...]:
        return QUANTITIES[self.quantity].units

    def _read(self, text: str, unit: str) -> Amount:
        value = read_number(text)
        name = unit_of(self.quantity, unit)
        refuse_impossible(value, name)
        return Amount(value, name)


class SpeedField(AmountField):
    """A speed in km/h or mph; cleans to the distance run in an hour."""

    def __init__(self, *, label: str, **options: Any) -> None:
        """Offer both units, miles an hour first."""
        super().__init__("distance", "mph", label=label, **options)

    def _units(self) -> tuple[str, ...]:
        return "mph", "km/h"

    def _read(self, text: str, unit: str) -> Amount:
        if unit not in SPEEDS:
            raise ValueError("Give the unit: km/h or mph.")
        return super()._read(text, SPEEDS[unit])


class PlainNumberField(forms.Field):
    """A number without a unit, such as a ratio; cleans to a float or None."""

    default_error_messages = {"required": "Enter a number."}

    def __init__(self, *, label: str, **options: Any) -> None:
        """`options` are those of any field."""
        attrs = {"inputmode": "decimal", "autocomplete": "off"}
        super().__init__(label=label, widget=forms.TextInput(attrs=attrs), **options)

    def to_python(self, value: Any) -> float | None:
        """Return the number that was written."""
        text = str(value or "").strip()
        if not text:
            return None
        try:
            return float(read_number(text))
        except ValueError as error:
            raise ValidationError(str(error), code="invalid") from None
