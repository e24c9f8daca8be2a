"""
A straight line through readings, by least squares, and how far it can be trusted.

Ordinary least squares: the readings scatter independently and alike about a line, and the
error lies in the reading, not in its time. A curve, a jump or a gauge that sticks breaks
that, and the standard error then promises too much.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import atan, cos, fsum, isfinite, pi, sin, sqrt
from statistics import NormalDist

_FEW = 200  # degrees of freedom up to which the distribution is summed exactly


@dataclass(frozen=True, slots=True)
class Line:
    """
    A fitted line: slope and intercept in the units of the readings.

    `standard_error` is that of the slope; None for two points, which always lie on a line.
    """

    slope: float
    intercept: float
    standard_error: float | None
    points: int
    spread: float  # root of the sum of squares of x about its mean

    @property
    def half_width_95(self) -> float | None:
        """Return how far the slope may be out either way, at 95 % confidence."""
        if self.standard_error is None:
            return None
        return t_95(self.points - 2) * self.standard_error


def fit_line(xs: Sequence[float], ys: Sequence[float]) -> Line:
    """
    Return the least-squares line through the points.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 4.4.3.1 and 4.1.4.1 (from
    memory). Raises ValueError for fewer than two points or points all at one x.
    """
    if len(xs) != len(ys):
        raise ValueError(f"{len(xs)} times do not go with {len(ys)} readings.")
    if len(xs) < 2:
        raise ValueError("A line needs at least two readings.")
    if not all(map(isfinite, (*xs, *ys))):
        raise ValueError("Every time and every reading must be a number.")
    mean_x, mean_y = fsum(xs) / len(xs), fsum(ys) / len(ys)
    sxx = fsum((x - mean_x) ** 2 for x in xs)
    if sxx == 0:
        raise ValueError("The readings are all of the same moment; take them apart.")
    slope = fsum((x - mean_x) * (y - mean_y) for x, y in zip(xs, ys, strict=True)) / sxx
    intercept = mean_y - slope * mean_x
    left = fsum((y - intercept - slope * x) ** 2 for x, y in zip(xs, ys, strict=True))
    error = sqrt(left / (len(xs) - 2) / sxx) if len(xs) > 2 else None
    return Line(slope, intercept, error, len(xs), sqrt(sxx))


@lru_cache(maxsize=512)
def t_95(degrees: int) -> float:
    """
    Return Student's t for a two-sided confidence of 95 %: 12.706 for 1, 1.960 for many.

    Source: Abramowitz & Stegun, Handbook of Mathematical Functions (1964), 26.7.3 and
    26.7.4, above 200 degrees 26.7.5 (from memory). Raises ValueError below 1.
    """
    if degrees < 1:
        raise ValueError("With two readings there is nothing to tell their scatter by.")
    if degrees > _FEW:
        return _t_of_many(degrees)
    low, high = 0.0, 13.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if _within(middle, degrees) < 0.95 else (low, middle)
    return (low + high) / 2


def _within(t: float, degrees: int) -> float:
    """Return the probability of lying between -t and t."""
    theta = atan(t / sqrt(degrees))
    odd = degrees % 2
    term = cos(theta) if odd else 1.0
    total = term if degrees > 1 else 0.0
    for k in range(2 + odd, degrees - 1, 2):
        term *= (k - 1) / k * cos(theta) ** 2
        total += term
    if odd:
        return 2 / pi * (theta + sin(theta) * total)
    return sin(theta) * total


def _t_of_many(degrees: int) -> float:
    z = NormalDist().inv_cdf(0.975)
    first = (z**3 + z) / (4 * degrees)
    return z + first + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * degrees**2)
