"""What the operator asks before a defect or work is cleared."""

import datetime as dt
from dataclasses import dataclass

from fleet.defects.models import ClearingPolicy
from fleet.register.vocabulary import Effect, Scope


@dataclass(frozen=True, slots=True)
class Clearing:
    """
    The policy in force on a day.

    Where the operator has set none, everything needs a signed release, by anyone entitled.
    """

    release_needed_from: Effect = Effect.ADVISE
    independent_scopes: frozenset[Scope] = frozenset()
    recurrence_days: int = 180
    recurrence_count: int = 3
    cock_repeat_days: int = 365

    def needs_release(self, scope: Scope, effect: Effect) -> bool:
        """Say whether work on such a defect ends only by a signed release."""
        heavy = effect.weight >= self.release_needed_from.weight
        return heavy or self.needs_somebody_else(scope)

    def needs_somebody_else(self, scope: Scope) -> bool:
        """Say whether the work must be released by somebody who did not do it."""
        if scope is Scope.VEHICLE:  # work that may have touched any part
            return bool(self.independent_scopes)
        return scope in self.independent_scopes


def clearing_on(day: dt.date | None, *, known_at: int | None = None) -> Clearing:
    """
    Return the policy in force on a day; the strictest for an unknown one.

    `known_at` is the number of an entry: only what was recorded up to it counts.
    """
    if day is None:
        return Clearing()
    held = ClearingPolicy.objects.in_force(day, known_at).first()
    return Clearing() if held is None else laid_down(held)


def laid_down(held: ClearingPolicy) -> Clearing:
    """Return what a revision of the policy asks."""
    return Clearing(
        Effect(held.release_needed_from),
        frozenset(Scope(scope) for scope in held.independent_scopes),
        held.recurrence_days,
        held.recurrence_count,
        held.cock_repeat_days,
    )
