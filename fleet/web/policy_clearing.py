"""What a draft of the policy for clearing would ask otherwise, before it is approved."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field

from django.urls import reverse

from fleet.defects.clearing import Clearing, clearing_on, laid_down
from fleet.defects.models import DefectStep, WorkInHand
from fleet.defects.recurrence import come_back
from fleet.defects.vocabulary import Step
from fleet.register.vocabulary import Effect, Scope
from fleet.upkeep.drafts import supposed
from fleet.upkeep.models import PolicyDraft

COUNTED_DAYS = 365


@dataclass(frozen=True, slots=True)
class Asked:
    """Open work that would end otherwise: what is asked for it, and what would be."""

    number: str
    what: str
    address: str
    was: str
    now: str


@dataclass(slots=True)
class ClearingRun:
    """What would be asked of the work that is open, and what counts as come back."""

    asked: list[Asked] = field(default_factory=list)  # only what would change
    open: int = 0
    days: int = COUNTED_DAYS
    back_was: int = 0  # reports of so many days that came back too often
    back_now: int = 0


def clearing_run(draft: PolicyDraft, day: dt.date, today: dt.date) -> ClearingRun:
    """Try a draft on what is open and on the year's reports: five queries."""
    was, now = clearing_on(day), laid_down(supposed(draft, day))
    found = ClearingRun()
    for asked in _asked(was, now):
        found.open += 1
        if asked.was != asked.now:
            found.asked.append(asked)
    since = today - dt.timedelta(days=COUNTED_DAYS)
    found.back_was = come_back(since, today, was)
    found.back_now = come_back(since, today, now)
    return found


def _asked(was: Clearing, now: Clearing) -> Iterator[Asked]:
    for step in DefectStep.objects.newest().open().for_list():
        if step.step == Step.RAISED:
            continue  # nobody has said yet how much it weighs
        yield Asked(
            step.number_now or step.vehicle_number or step.serial or "",
            step.defect.title,
            step.defect.get_absolute_url(),
            *(_of_defect(clearing, step) for clearing in (was, now)),
        )
    alone = WorkInHand.objects.current().open_ended().filter(defect=None)
    for work in alone.for_list():
        yield Asked(
            work.number or "",
            work.what,
            reverse("web:vehicle", args=[work.vehicle_id]),
            *(_of_work(clearing, Scope(work.scope)) for clearing in (was, now)),
        )


def _of_defect(clearing: Clearing, step: DefectStep) -> str:
    scope = Scope(step.scope)
    if not clearing.needs_release(scope, Effect(step.effect)):
        return "Cleared by the work done"
    return _of_work(clearing, scope)


def _of_work(clearing: Clearing, scope: Scope) -> str:
    signed = "A signed release"
    if clearing.needs_somebody_else(scope):
        return f"{signed} by somebody who did not do the work"
    return signed
