"""The practice as it would be, were a draft of the policy in force from its day."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from fleet.fitness.facts import Policy
from fleet.fitness.practice import (
    Practice,
    condition_facts,
    condition_rows,
    kinds_by_usage,
    matrix_facts,
    matrix_rows,
    requirement_facts,
    requirement_rows,
)
from fleet.upkeep.drafts import supposed
from fleet.upkeep.models import PolicyDraft
from fleet.upkeep.vocabulary import PolicyKind


def practice_supposing(
    practice: Practice, draft: PolicyDraft, day: dt.date
) -> Practice:
    """
    Return the practice with a draft in force from a day; nothing is written.

    It reads the usage that either practice counts, so that both can be tried on one
    file. A fixed number of queries.
    """
    policy = _policy(practice.policy, draft, day)
    kinds = {*practice.usage_kinds, *kinds_by_usage(policy)}
    return replace(practice, policy=policy, usage_kinds=tuple(sorted(kinds)))


def _policy(policy: Policy, draft: PolicyDraft, day: dt.date) -> Policy:
    match draft.kind:
        case PolicyKind.REQUIREMENT:
            rows = _rows(requirement_rows(None), draft, day, "requirement")
            return replace(policy, requirements=tuple(requirement_facts(rows)))
        case PolicyKind.MATRIX:
            rows = _rows(matrix_rows(None), draft, day, "line")
            return replace(policy, matrix=tuple(matrix_facts(rows)))
        case PolicyKind.CONDITIONS:
            rows = [*condition_rows(None), supposed(draft, day)]
            return replace(policy, conditions=tuple(condition_facts(rows)))
        case _:
            return policy  # what was granted keeps the terms it was granted on


def _rows(
    held: Iterable[Any], draft: PolicyDraft, day: dt.date, identity: str
) -> list[Any]:
    """Return the revisions with the draft among them, in the order of code and number."""
    rows = list(held)
    mine = [row for row in rows if getattr(row, identity).code == draft.code]
    if draft.withdraws:
        for row in mine[-1:]:
            row.withdrawn_from = day
        return rows
    return sorted(
        [*rows, supposed(draft, day)],
        key=lambda row: (getattr(row, identity).code, row.number),
    )
