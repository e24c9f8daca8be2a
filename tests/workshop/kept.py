"""What the planner keeps, made through the services; days as people write them."""

import datetime as dt

from fleet.people.models import Skill
from fleet.register.vocabulary import System
from fleet.workshop.keeping import CLOSURES, CONTRACTORS, HOURS, LINES, PLACES, add

MONDAY = dt.date(2026, 5, 4)


def day(text):
    """A day written out."""
    return dt.date.fromisoformat(text)


def make_line(**values):
    """Two air-braked vehicles of any type, every day of May 2026."""
    values = {
        "title": "Summer trains",
        "first": day("2026-05-01"),
        "last": day("2026-05-31"),
        "system": System.AIR,
        "vehicles": 2,
    } | values
    return add(LINES, by=None, **values)


def make_hours(**values):
    """Forty hours of air brake work a week, until further notice."""
    values = {
        "title": "Shed staff",
        "first": day("2026-01-01"),
        "skill": Skill.AIR,
        "hours": 40,
    } | values
    return add(HOURS, by=None, **values)


def make_place(**values):
    """A shop road."""
    values = {"name": "Road 1", "first": day("2026-01-01")} | values
    return add(PLACES, by=None, **values)


def make_closure(**values):
    """The whole shop shut."""
    return add(CLOSURES, by=None, **{"title": "Shut", **values})


def make_contractor(**values):
    """Somebody who takes six weeks."""
    values = {"name": "Brindle Bench Works", "lead_weeks": 6} | values
    return add(CONTRACTORS, by=None, **values)
