"""Refusals the calculations share: a sentence for a number that cannot be."""

from math import isfinite


def positive(value: float, what: str, unit: str) -> float:
    """Return the value if it is a number above zero; else raise ValueError."""
    if not isfinite(value) or value <= 0:
        raise ValueError(f"{what} must be more than 0 {unit}, not {value:g}.")
    return value


def not_negative(value: float, what: str, unit: str) -> float:
    """Return the value if it is a number and not below zero; else raise ValueError."""
    if not isfinite(value) or value < 0:
        raise ValueError(f"{what} must not be below 0 {unit}, as {value:g} is.")
    return value
