"""The demo's policy on the way: a requirement revised, and a draft that waits."""

import datetime as dt

from fleet.people.models import Person
from fleet.upkeep.drafting import approve_draft, begin_draft, write_draft
from fleet.upkeep.vocabulary import PolicyKind

TO_COME = dt.timedelta(days=21)


def redraft_policy(*, today: dt.date, planner: Person, manager: Person) -> None:
    """Let the gauge comparison be revised, and the annual vacuum brake test be drafted."""
    coming = begin_draft(person=planner, kind=PolicyKind.REQUIREMENT, code="R-40")
    write_draft(
        person=planner,
        draft=coming,
        content=coming.content | {"tolerance_days": 30},
        reason="The gauge room is shut in August.",
        effective_from=today + TO_COME,
    )
    approve_draft(by=manager.user, person=manager, draft=coming)
    waiting = begin_draft(person=planner, kind=PolicyKind.REQUIREMENT, code="R-02")
    write_draft(
        person=planner,
        draft=waiting,
        content=waiting.content | {"months": 9},
        reason="Two brakes failed in the tenth month.",
        effective_from=today + TO_COME,
    )
