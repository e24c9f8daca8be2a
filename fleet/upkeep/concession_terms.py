"""How far a concession may go: what the operator's policy says of a requirement or defect."""

import datetime as dt
from typing import Any, NamedTuple

from fleet.defects import steps
from fleet.defects.models import Defect, DefectStep
from fleet.defects.vocabulary import Step
from fleet.records.refusing import refusing
from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from fleet.upkeep.due import later, written
from fleet.upkeep.models import (
    Concession,
    ConcessionPolicy,
    Requirement,
    RequirementRevision,
)

_HOLDS_TO_LITTLE = (Effect.ADVISE, Effect.CONDITION)


class Terms(NamedTuple):
    """How far one concession may go, as the operator's policy has it on a day."""

    counted_from: dt.date  # the last good day
    ceiling_days: int
    most_renewals: int
    recheck_days: int

    @property
    def ceiling(self) -> dt.date:
        """Return the last day it may hold."""
        return later(self.counted_from, self.ceiling_days)


def terms_on(
    concession: Concession, counted_from: dt.date | None, on: dt.date
) -> Terms:
    """Return how far a concession may go by the policy of a day, or refuse it whole."""
    policy = ConcessionPolicy.objects.in_force(on).first()
    if policy is None:
        raise refusing(
            "The operator has no policy on concessions in force. Set one first.",
            code="no_policy",
        )
    if concession.defect is not None:
        scope, counted_from = _of_defect(concession.defect)
        ceiling_days = policy.ceiling_days
    else:
        assert concession.requirement is not None
        revision = _of_requirement(concession.requirement, on)
        scope = Scope(revision.scope)
        ceiling_days = revision.concession_days
        if ceiling_days is None:
            ceiling_days = policy.ceiling_days
    item = concession.equipment
    if scope in policy.never_scopes or (item and item.kind in policy.never_kinds):
        kind = EquipmentKind(item.kind).label.lower() if item else ""
        raise refusing(
            f"The operator grants no concession here: {kind or scope.label.lower()}. "
            f"({policy.source})",
            code="never_granted",
        )
    if counted_from is None:
        raise refusing(
            "There is no last good day to count from: what was never done, or cannot be "
            "dated, is not extended. Do the work.",
            code="nothing_to_count_from",
        )
    return Terms(counted_from, ceiling_days, policy.most_renewals, policy.recheck_days)


def _of_requirement(requirement: Requirement, on: dt.date) -> RequirementRevision:
    revisions = RequirementRevision.objects.in_force(on)
    revision: RequirementRevision | None = revisions.filter(
        requirement=requirement
    ).first()
    if revision is None:
        raise refusing("The requirement is not in force.", code="not_in_force")
    if revision.effect in _HOLDS_TO_LITTLE:
        raise refusing(
            f"Overrun, it is no more than {Effect(revision.effect).label.lower()}; "
            "there is nothing to concede.",
            code="nothing_to_concede",
        )
    return revision


def _of_defect(defect: Defect) -> tuple[Scope, dt.date | None]:
    stands: DefectStep = steps.standing(defect)
    if Step(stands.step).ends:
        raise refusing("The defect is cleared.", code="already_cleared")
    if stands.step == Step.RAISED:
        raise refusing("Have the defect assessed first.", code="not_assessed")
    scope = Scope(stands.scope)
    if scope.through_pipe:
        raise refusing(
            "A fault of a through pipe is never less than not to run: a chafed hose can "
            "burst.",
            code="through_pipe_stops",
        )
    if stands.effect in _HOLDS_TO_LITTLE:
        raise refusing(
            f"It is no more than {Effect(stands.effect).label.lower()}; there is "
            "nothing to concede.",
            code="nothing_to_concede",
        )
    raised = defect.steps.current().order_by("number").first()
    return scope, raised.on.earliest if raised else None


def refuse_beyond(terms: Terms, asked: dict[str, Any]) -> None:
    """Refuse what goes beyond the terms: its last day, its re-checks."""
    if asked["last_day"] > terms.ceiling:
        raise refusing(
            f"No later than {written(terms.ceiling)}: {terms.ceiling_days} days beyond "
            f"{written(terms.counted_from)}, as the operator's policy has it.",
            code="beyond_the_ceiling",
            field="last_day",
        )
    if asked["recheck_days"] > terms.recheck_days:
        raise refusing(
            f"At least every {terms.recheck_days} days, as the operator's policy has it.",
            code="rechecked_too_seldom",
            field="recheck_days",
        )
