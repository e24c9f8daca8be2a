"""What bears on a vehicle beside its own gear: visits, fleet notices, cocks found wrong."""

import datetime as dt
from typing import NamedTuple

from fleet.engineering.calendar import Moment
from fleet.register.vocabulary import Effect, Scope


class VisitFact(NamedTuple):
    """
    A visiting vehicle accepted on its owner's regime; `until` is the day after.

    `lapsed` is the day after the last on which all evidence seen was still valid.
    """

    id: int
    owner: str
    since: dt.date
    until: dt.date
    condition: str = ""
    lapsed: dt.date | None = None


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


class WrongCockFact(NamedTuple):
    """
    A cock found in the wrong position; `proved` when a test showed the brake right after.

    `closed` is the day its cause was recorded; `earlier` counts those within the
    operator's period before it.
    """

    id: int
    label: str
    scope: Scope
    found: str  # in words
    on: Moment
    proved: Moment | None
    earlier: int
    closed: dt.date | None
