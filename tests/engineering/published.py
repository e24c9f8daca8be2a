"""Rows of published checks: a call, what is printed of it, and where it is printed."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import pytest


class Status(StrEnum):
    """How far the expectation can be trusted."""

    READ = "read in the source"
    MEMORY = "from memory, not looked up"
    DERIVED = "worked out by hand from the formula or data of the source"
    REFUTED = "read in the source, and wrong"


@dataclass(frozen=True)
class Published:
    """
    One check. `expected` is a figure with a tolerance, a range, or a thing to equal.

    `source` names document, edition and clause, as far as the copy at hand shows them.
    """

    name: str
    call: Callable[[], object]
    expected: object
    tolerance: float | None
    source: str
    status: Status

    @property
    def holds(self):
        """Say whether the function gives what is printed."""
        found = self.call()
        if isinstance(self.expected, tuple):
            low, high = self.expected
            return low <= found <= high
        if self.tolerance is None:
            return found == self.expected
        return abs(found - self.expected) <= self.tolerance


def rows(table):
    """Return the rows for `parametrize`, each under its name."""
    return [pytest.param(row, id=row.name) for row in table]


def check(row):
    """Assert a row: a refuted one must not hold."""
    wanted = row.status is not Status.REFUTED
    assert row.holds is wanted, f"{row.call()} for {row.expected} ({row.source})"
