"""Requirements, matrix lines and conditions made through the services."""

import datetime as dt
from itertools import count

from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from fleet.upkeep.services import (
    define_matrix_line,
    define_requirement,
    set_concession_policy,
    set_conditions,
)
from fleet.upkeep.vocabulary import Change, CountedFrom, Subject
from tests.examination.factories import make_procedure

IN_FORCE = dt.date(2015, 1, 1)

_codes = count(1)


def make_requirement(**values):
    """The air brake of every vehicle that has one, tested once a year."""
    values = {
        "by": None,
        "title": "Air brake test",
        "effective_from": IN_FORCE,
        "subject": Subject.AIR_BRAKED,
        "effect": Effect.DISCOUNT,
        "scope": Scope.AIR_BRAKE,
        "clears": "Test the air brake.",
        "source": "operator's own",
    } | values
    values.setdefault("code", f"R{next(_codes)}")
    if "procedure" not in values:
        values["procedure"] = make_procedure()
    if not {"months", "calendar_days", "days_in_service", "miles"} & set(values):
        values["months"] = 12
    return define_requirement(**values)


def make_age_limit(kind=EquipmentKind.BP_HOSE, **values):
    """Brake pipe hoses, renewed eight years after they were made."""
    values = {
        "title": "Hose age",
        "subject": Subject.EQUIPMENT,
        "kind": kind,
        "procedure": None,
        "counted_from": CountedFrom.MADE,
        "months": 96,
        "effect": Effect.STOP,
        "scope": Scope.BRAKE_PIPE,
        "clears": "Exchange the hose.",
    } | values
    return make_requirement(**values)


def make_matrix_line(**values):
    """A distributor fitted: the air brake test must follow."""
    values = {
        "by": None,
        "change_kind": Change.FITTED,
        "kind": EquipmentKind.DISTRIBUTOR,
        "effect": Effect.DISCOUNT,
        "source": "operator's own",
        "effective_from": IN_FORCE,
    } | values
    values.setdefault("code", f"M{next(_codes)}")
    if "procedures" not in values:
        values["procedures"] = [make_procedure()]
    return define_matrix_line(**values)


def make_conditions(**values):
    """General conditions in the words of a made-up line."""
    values = {
        "by": None,
        "effective_from": IN_FORCE,
        "source": "operator's own",
        "visiting_condition": "Visiting: on its owner's regime.",
        "air_dead_words": "air brake vented and released",
        "vacuum_dead_words": "vacuum released by the cords",
    } | values
    return set_conditions(**values)


def make_concession_policy(**values):
    """Sixty days, one renewal, a look every fortnight; never for a through pipe."""
    values = {
        "by": None,
        "effective_from": IN_FORCE,
        "ceiling_days": 60,
        "most_renewals": 1,
        "recheck_days": 14,
        "never_scopes": [Scope.BRAKE_PIPE],
        "never_kinds": [EquipmentKind.AUXILIARY_RESERVOIR],
        "source": "operator's own",
    } | values
    return set_concession_policy(**values)
