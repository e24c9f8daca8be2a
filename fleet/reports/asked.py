"""What the address of a paper asks for: the day, and the depot."""

import datetime as dt

from django.http import QueryDict

from fleet.engineering.calendar import Moment, Precision
from fleet.register.models import Depot


class NotAsked(ValueError):
    """The address asks for something that cannot be printed; the words say what to do."""


def day_asked(query: QueryDict, *, today: dt.date) -> dt.date:
    """Return the day a paper is about, `today` where none is named; raises NotAsked."""
    text = query.get("on", "").strip()
    if not text:
        return today
    try:
        moment = Moment.parse(text)
    except ValueError as error:
        raise NotAsked(str(error)) from error
    if moment.earliest is None or moment.precision is not Precision.DAY:
        raise NotAsked("A paper is about one day. Write it as 2026-05-03.")
    return moment.earliest


def depot_asked(query: QueryDict) -> Depot | None:
    """Return the depot a report is about, None for all; raises NotAsked."""
    code = query.get("depot", "").strip()
    if not code:
        return None
    found = Depot.objects.filter(code=code).first()
    if found is None:
        raise NotAsked(f"There is no depot {code}. Choose one from the board.")
    return found
