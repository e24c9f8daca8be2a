"""What a recorded moment must satisfy before anything is written."""

import datetime as dt

from django.utils import timezone

from fleet.engineering.calendar import Moment
from fleet.records.clock import now, today
from fleet.records.refusing import refusing


def refuse_future(moment: Moment | dt.date | None, field: str) -> None:
    """
    Refuse a fact that certainly lies ahead; an imprecise date that may be past is kept.

    Raises ValidationError at `field`, code `in_the_future`.
    """
    if isinstance(moment, dt.date):
        moment = Moment.on(moment)
    if moment is None or moment.earliest is None:
        return
    ahead = moment.earliest > today()
    if moment.at is not None and moment.earliest == today():
        ahead = moment.at.replace(tzinfo=None) > timezone.localtime(now()).time()
    if ahead:
        raise refusing(
            f"{moment} is still to come. Record what has happened, with its date.",
            code="in_the_future",
            field=field,
        )


def refuse_unknown(moment: Moment | None, field: str) -> None:
    """
    Refuse a moment nobody can date where the record needs one.

    Raises ValidationError at `field`, code `unknown_date`.
    """
    if moment is None or not moment.known:
        raise refusing(
            "Give the date as closely as it is known, at least the year.",
            code="unknown_date",
            field=field,
        )


def present() -> Moment:
    """Return this minute, where the register is kept."""
    local = timezone.localtime(now())
    return Moment.on(local.date(), local.time().replace(second=0, microsecond=0))
