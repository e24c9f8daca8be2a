"""The operator's practice as pages show it: requirements, matrix, conditions."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from fleet.fitness import gather
from fleet.fitness.facts import Conditions, MatrixFact, Policy, RequirementFact
from fleet.register.vocabulary import EquipmentKind, Scope
from fleet.upkeep.models import ConcessionPolicy


@dataclass(frozen=True, slots=True)
class RequirementRow:
    """One requirement in force, with its limits in words."""

    fact: RequirementFact
    limits: str
    met_by: str


@dataclass(frozen=True, slots=True)
class MatrixRow:
    """One line of the matrix in force."""

    fact: MatrixFact
    after: str
    tests: list[str]


@dataclass(frozen=True, slots=True)
class PracticePage:
    """All that the page shows for a day."""

    day: dt.date
    requirements: list[RequirementRow]
    matrix: list[MatrixRow]
    conditions: Conditions | None
    concessions: ConcessionPolicy | None

    @property
    def never(self) -> list[str]:
        """Return what no concession is granted for, in words."""
        policy = self.concessions
        if policy is None:
            return []
        words = [Scope(scope).label.lower() for scope in policy.never_scopes]
        kinds = [EquipmentKind(kind).label.lower() for kind in policy.never_kinds]
        return words + kinds


def practice_page(day: dt.date) -> PracticePage:
    """Return the practice in force on a day."""
    policy = gather.policy()
    requirements = [f for f in policy.requirements if _in_force(f, day)]
    matrix = [f for f in policy.matrix if _in_force(f, day)]
    conditions = [f for f in policy.conditions if _in_force(f, day)]
    return PracticePage(
        day,
        [_requirement(f, policy) for f in sorted(requirements, key=lambda f: f.code)],
        [_matrix(f, policy) for f in sorted(matrix, key=lambda f: f.code)],
        conditions[-1] if conditions else None,
        ConcessionPolicy.objects.in_force(day).first(),
    )


def _in_force(fact: Any, day: dt.date) -> bool:
    since: dt.date = fact.since
    until: dt.date | None = fact.until
    return since <= day and (until is None or day < until)


def _requirement(fact: RequirementFact, policy: Policy) -> RequirementRow:
    limits = [
        f"{value:g} {words}"
        for value, words in (
            (fact.months, "months"),
            (fact.calendar_days, "days"),
            (fact.days_in_service, "days in service"),
            (fact.miles, "miles"),
        )
        if value
    ]
    said = ", ".join(limits) + (", whichever first" if len(limits) > 1 else "")
    if fact.tolerance_days:
        said += f"; {fact.tolerance_days} days' tolerance"
    if fact.storage_credit_days:
        said += (
            f"; stands still while out of use {fact.storage_credit_days} days or more"
        )
    met_by = policy.procedures.get(fact.procedure, fact.procedure) or "renewal only"
    return RequirementRow(fact, said, met_by)


def _matrix(fact: MatrixFact, policy: Policy) -> MatrixRow:
    what = f": {EquipmentKind(fact.kind).label.lower()}" if fact.kind else ""
    titles = [policy.procedures.get(code, code) for code in fact.procedures]
    return MatrixRow(fact, f"{fact.change.label}{what}", titles)
