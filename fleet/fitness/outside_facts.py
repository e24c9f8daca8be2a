"""What bears on a vehicle from outside it: visits it was accepted for, fleet notices."""

import datetime as dt
from typing import NamedTuple

from fleet.register.vocabulary import Effect, Scope


class VisitFact(NamedTuple):
    """A visiting vehicle accepted on its owner's regime; `until` is the day after."""

    id: int
    owner: str
    since: dt.date
    until: dt.date
    condition: str = ""


class NoticeFact(NamedTuple):
    """A fleet notice about an item: what it does from `since` until done or `until`."""

    code: str
    title: str
    action: str
    equipment: int
    procedure: str  # passed on the item since `issued`, it is done; "" only by sign-off
    effect: Effect
    scope: Scope
    issued: dt.date
    since: dt.date
    until: dt.date | None
    done: dt.date | None
    source: str
