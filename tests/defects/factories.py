"""Defects, work and isolations made through the services, as people make them."""

import datetime as dt
from itertools import count

from django.core.exceptions import ValidationError

from fleet.defects import services
from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment
from fleet.people.models import Person
from fleet.records.models import Entry
from fleet.records.refusing import codes_of
from fleet.register.vocabulary import CockPosition, Effect, Scope, System
from tests.register.factories import make_fitting, make_vehicle

DAY = dt.date(2026, 5, 4)
_people = count(1)


def at(hour, minute=0, day=DAY):
    """A moment of the day everything here happens on."""
    return Moment.on(day, dt.time(hour, minute))


def person(name=""):
    """Somebody who does things."""
    return Person.objects.create(name=name or f"Fitter {next(_people)}")


def make_policy(**values):
    """A policy for clearing: release from isolate on, rigging looked at by another."""
    values = {
        "by": None,
        "effective_from": dt.date(2015, 1, 1),
        "release_needed_from": Effect.ISOLATE,
        "independent_scopes": [Scope.SHARED_GEAR],
        "source": "operator's own",
    } | values
    return services.set_clearing_policy(**values)


def make_defect(**values):
    """A distributor slow to release, assessed as a brake to be isolated."""
    values = {
        "by": None,
        "title": "Slow to release",
        "on": at(8),
        "effect": Effect.ISOLATE,
    } | values
    values.setdefault("person", person())
    if not {"vehicle", "equipment"} & set(values):
        vehicle = make_vehicle()
        make_fitting(vehicle=vehicle, position="distributor")
        values |= {"vehicle": vehicle, "position": "distributor"}
    return services.raise_defect(**values)


def stood_at(step, **values):
    """A defect brought to a step, one hour after the other from eight o'clock."""
    doer = values.pop("doer", None) or person()
    defect = make_defect(**values)
    if step == Step.ASSESSED:
        return defect
    services.take_in_hand(by=None, person=doer, defect=defect, on=at(9))
    if step == Step.IN_HAND:
        return defect
    services.work_done(by=None, person=doer, defect=defect, on=at(10))
    if step == Step.DONE:
        return defect
    services.release(by=None, person=person(), defect=defect, on=at(11))
    return defect


def answers(vehicle, system=System.AIR, **changed):
    """Every line answered as it should be; `changed` by position or kind."""
    lines = services.isolation_lines(vehicle, system, DAY)
    for line in lines:
        if line["position"]:
            line["found"] = CockPosition.OPEN
            line["left"] = CockPosition.CLOSED if line["isolates"] else "open"
        else:
            line["done"] = True
        key = line["position"] or line["kind"].value
        line.update(changed.get(key.replace("-", "_"), {}))
    return lines


def make_isolation(**values):
    """The air brake of a coach isolated, with every line answered."""
    values = {
        "by": None,
        "system": System.AIR,
        "since": at(9),
        "why": "Distributor slow to release",
    } | values
    values.setdefault("person", person())
    values.setdefault("vehicle", None)
    values["vehicle"] = values["vehicle"] or make_vehicle()
    if "lines" not in values:
        values["lines"] = answers(values["vehicle"], values["system"])
    return services.record_isolation(**values)


def refused(code):
    """Expect a refusal with this code, and nothing written by it."""
    return _Refused(code)


class _Refused:
    def __init__(self, code):
        self.code = code

    def __enter__(self):
        self.before = Entry.objects.count()

    def __exit__(self, kind, error, trace):
        assert isinstance(error, ValidationError), f"not refused: {error!r}"
        assert self.code in codes_of(error), error
        assert Entry.objects.count() == self.before
        return True
