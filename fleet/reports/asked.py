"""What the address of a paper asks for: the day, the depot, what is to be tested."""

import datetime as dt

from django.http import QueryDict

from fleet.engineering.calendar import Moment, Precision
from fleet.examination.subjects import Tested, item_tested, vehicle_tested
from fleet.records.knowledge import Knowledge, knowledge_named
from fleet.register.models import Depot

KEY_DIGITS = 19  # a longer number is no key of any database


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


def known_asked(query: QueryDict) -> Knowledge | None:
    """Return what was known at the time asked for, None for now; raises NotAsked."""
    text = query.get("known", "").strip()
    try:
        return knowledge_named(text) if text else None
    except ValueError as error:
        raise NotAsked(str(error)) from error


def depot_asked(query: QueryDict) -> Depot | None:
    """Return the depot a report is about, None for all; raises NotAsked."""
    code = query.get("depot", "").strip()
    if not code:
        return None
    found = Depot.objects.filter(code=code).first()
    if found is None:
        raise NotAsked(f"There is no depot {code}. Choose one from the board.")
    return found


def tested_asked(query: QueryDict) -> Tested | None:
    """Return the vehicle or item a sheet is for, None for any; raises NotAsked."""
    named = [(name, query.get(name, "").strip()) for name in ("vehicle", "equipment")]
    given = [(name, key) for name, key in named if key]
    if not given:
        return None
    if len(given) > 1:
        raise NotAsked("A sheet is for a vehicle or for an item. Name one of them.")
    name, key = given[0]
    find = vehicle_tested if name == "vehicle" else item_tested
    found = find(int(key)) if key.isdecimal() and len(key) < KEY_DIGITS else None
    if found is None:
        word = "vehicle" if name == "vehicle" else "item of equipment"
        raise NotAsked(f"There is no such {word}. Go to its page and print from there.")
    return found
