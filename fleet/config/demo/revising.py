"""A revision of the demo's practice: drafted by one person, approved by another."""

import datetime as dt
from typing import Any

from fleet.examination.drafting import (
    approve_draft,
    begin_revision,
    remove_line,
    write_head,
    write_line,
)
from fleet.examination.drafts import lines_in
from fleet.examination.models import Procedure, ProcedureDraft
from fleet.people.models import Person

TO_COME = dt.timedelta(days=14)


def revise_practice(*, today: dt.date, planner: Person, manager: Person) -> None:
    """
    Bring in a revision that takes a line out, from a day to come; leave one a draft.

    The draft asks less than what is in force, for the manager to see before approving.
    """
    coming = begin_revision(
        person=planner, procedure=Procedure.objects.get(code="annual-air")
    )
    remove_line(
        person=planner,
        draft=coming,
        number=_number(coming, "Maximum cylinder pressure, full application"),
    )
    _alter(planner, coming, "Distributor and bracket", effect_failed="stop")
    write_head(
        person=planner,
        draft=coming,
        effective_from=today + TO_COME,
        source="Example practice WVR 2.4, second issue",
        reason="Measured in the single-vehicle test on the same day; no need to ask twice.",
    )
    approve_draft(by=manager.user, person=manager, draft=coming)
    waiting = begin_revision(
        person=planner, procedure=Procedure.objects.get(code="handbrake")
    )
    _alter(planner, waiting, "Turns of the wheel", high="24")
    write_head(person=planner, draft=waiting, effective_from=today + TO_COME)


def _alter(person: Person, draft: ProcedureDraft, text: str, **changes: Any) -> None:
    number = _number(draft, text)
    values = lines_in(draft)[number - 1] | changes
    write_line(person=person, draft=draft, values=values, number=number)


def _number(draft: ProcedureDraft, text: str) -> int:
    lines = enumerate(lines_in(draft), start=1)
    return next(number for number, line in lines if line["text"].startswith(text))
