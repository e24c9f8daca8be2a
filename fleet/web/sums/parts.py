"""What every workshop sum is made of: its form, what it answers, what it assumes."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django import forms

from fleet.engineering.units import scaled
from fleet.register.vocabulary import System
from fleet.web.sums.amounts import Amount

Given = Mapping[str, Any]

_PLACES = ((1, 3), (10, 2), (1000, 1))  # below each, so many decimals: three figures
_MINUTE, _HOUR = 60, 3600


@dataclass(frozen=True, slots=True)
class Ledger:
    """A small table of results; `caption` names the model it rests on."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """What a sum comes to: figures by their names, and the working in words."""

    results: tuple[tuple[str, str], ...]
    working: tuple[str, ...]
    mind: tuple[str, ...] = ()  # what the reader must not overlook
    ledger: Ledger | None = None


@dataclass(frozen=True, slots=True)
class Sum:
    """
    One workshop sum: its page, its form, and the function that works it out.

    `work` takes the form's cleaned data and raises ValueError with a sentence. `system`
    says whose figures of a vehicle's type fill the form; None: any the vehicle has.
    """

    name: str
    title: str
    lead: str
    form: type[forms.Form]
    work: Callable[[Given], Answer]
    assumes: tuple[str, ...]
    ends: tuple[str, ...]  # where it stops being valid
    source: str
    system: System | None = System.AIR
    cautions: tuple[str, ...] = field(default=("local_instruction",))


class SumForm(forms.Form):
    """A form that is asked by address, so that a sum can be kept and sent on."""

    go = forms.CharField(widget=forms.HiddenInput, initial="1", required=False)


def in_unit(value: float, unit: str, like: Amount) -> str:
    """Return a computed value in the unit of an amount that was typed: "50.0 psi"."""
    return f"{figure(scaled(value, unit, like.unit))} {like.unit}"


def figure(value: float) -> str:
    """Return a computed number to three figures, without an exponent."""
    if value == 0:
        return "0"
    places = next((n for below, n in _PLACES if abs(value) < below), 0)
    return f"{value:.{places}f}"


def minutes(seconds: float) -> str:
    """Return a time in words: "45 s", "3 min 20 s", "2 h 5 min"."""
    if seconds < _MINUTE:
        return f"{figure(seconds)} s"
    whole = round(seconds)
    if whole < _HOUR:
        return f"{whole // _MINUTE} min {whole % _MINUTE} s"
    return f"{whole // _HOUR} h {whole % _HOUR // _MINUTE} min"


def amount_or(given: Given, name: str, unit: str, otherwise: float = 0.0) -> float:
    """Return an optional amount in a unit, or what stands for it left empty."""
    amount: Amount | None = given.get(name)
    return otherwise if amount is None else amount.to(unit)
