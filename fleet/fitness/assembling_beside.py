"""Rows of gather made into visits, fleet notices and cocks found wrong."""

import datetime as dt
from functools import lru_cache
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.fitness.outside_facts import NoticeFact, VisitFact, WrongCockFact
from fleet.register.vocabulary import CockPosition, Effect, Scope
from fleet.upkeep.due import later

_day = lru_cache(maxsize=4_096)(dt.date.fromisoformat)


def _moment(
    earliest: str | None, latest: str | None, at: str | None, order: int | None
) -> Moment:
    if earliest is None or latest is None:
        return Moment(None, None, None, order)
    time = dt.time.fromisoformat(at) if at else None
    return Moment(_day(earliest), _day(latest), time, order)


def visit_of(row: tuple[Any, ...]) -> VisitFact:
    """Return the fact of a row of its stream."""
    after = later(_day(row[7]), 1)  # its last good day is still good
    lapsed = later(_day(row[18]), 1) if row[18] else None
    return VisitFact(row[2], row[11], _day(row[3]), after, row[12], lapsed)


def notice_of(row: tuple[Any, ...]) -> NoticeFact:
    """Return the fact of a row of its stream."""
    issued, since, until, done = (_day(text) if text else None for text in row[8:12])
    assert issued is not None
    assert since is not None
    return NoticeFact(
        code=row[1],
        title=row[2],
        action=row[3],
        equipment=row[4],
        procedure=row[5],
        effect=Effect(row[6]),
        scope=Scope(row[7]),
        issued=issued,
        since=since,
        until=until,
        done=done,
        source=row[12],
    )


def cock_of(row: tuple[Any, ...]) -> WrongCockFact:
    """Return the fact of a row of its stream."""
    return WrongCockFact(
        row[2],
        row[11],
        Scope(row[12]),
        CockPosition(row[13]).label.lower(),
        _moment(*row[3:7]),
        _moment(*row[7:11]) if row[7] else None,
        row[14],
        _day(row[18]) if row[18] else None,
    )
