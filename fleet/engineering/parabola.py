"""A parabola through readings, by least squares: where a bent course crosses a level."""

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Parabola:
    """y = c0 + c1·u + c2·u², u = x - middle; `left` is the sum of squares left over."""

    c0: float
    c1: float
    c2: float
    middle: float
    left: float

    def reaches(self, y: float) -> float | None:
        """Return the x, on the branch through the middle, where it is y; None if never."""
        inside = self.c1**2 - 4 * self.c2 * (self.c0 - y)
        if self.c1 == 0 or inside < 0:
            return None
        # Of the two roots the one that stays finite as the curve straightens.
        root = self.c1 + math.copysign(math.sqrt(inside), self.c1)
        return self.middle - 2 * (self.c0 - y) / root


def fit_parabola(
    xs: Sequence[float], ys: Sequence[float], *, bent: bool = True
) -> Parabola | None:
    """
    Return the least-squares parabola, or with `bent` false the line, as one.

    None where the points do not tell it: fewer than four (a line: two) different x.
    Ordinary least squares: scatter in y alone, alike everywhere.
    """
    middle, mean = math.fsum(xs) / len(xs), math.fsum(ys) / len(ys)
    us = [x - middle for x in xs]
    s2, s3, s4 = (math.fsum(u**n for u in us) for n in (2, 3, 4))
    if s2 == 0:
        return None
    slope = _dot(us, ys) / s2
    if not bent:
        return _judged(mean, slope, 0.0, middle, us, ys)
    # The part of u² that no line follows: less its mean and its own slope.
    parts = [u * u - s2 / len(us) - u * s3 / s2 for u in us]
    size = _dot(parts, parts)
    if len(set(xs)) < 4 or size <= 1e-12 * s4:
        return None
    c2 = _dot(parts, ys) / size
    return _judged(mean - c2 * s2 / len(us), slope - c2 * s3 / s2, c2, middle, us, ys)


def _judged(
    c0: float, c1: float, c2: float, middle: float, us: list[float], ys: Sequence[float]
) -> Parabola:
    left = math.fsum(
        (y - c0 - c1 * u - c2 * u * u) ** 2 for u, y in zip(us, ys, strict=True)
    )
    return Parabola(c0, c1, c2, middle, left)


def _dot(first: Sequence[float], second: Sequence[float]) -> float:
    return math.fsum(a * b for a, b in zip(first, second, strict=True))
