"""What was recorded up to a time: the second of the two dates every fact bears."""

import datetime as dt
from dataclasses import dataclass

from django.utils.timezone import is_naive, make_aware

from fleet.records.clock import now
from fleet.records.deeds import number_at


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Everything recorded up to a time; `number` is that of the newest entry then."""

    at: dt.datetime  # with its zone
    number: int


def knowledge_at(at: dt.datetime) -> Knowledge:
    """Return what was recorded up to a time, that moment included; one query."""
    return Knowledge(at, number_at(at))


def knowledge_named(text: str) -> Knowledge:
    """
    Return what was known at a time as an address or a command names it.

    A day alone means its close. Raises ValueError with a sentence: not a time, or one
    still to come.
    """
    try:
        at = dt.datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(
            f"“{text}”: give the time up to which records count as 2026-05-03T14:30, or "
            "a day for its close."
        ) from None
    if len(text) == len("2026-05-03"):
        at = dt.datetime.combine(at.date(), dt.time(23, 59, 59, 999_999))
    at = make_aware(at) if is_naive(at) else at
    if at.date() > now().date():
        raise ValueError(
            f"“{text}”: nobody knows yet what will be recorded; give a time that has been."
        )
    return knowledge_at(at)
