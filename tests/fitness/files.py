"""Vehicle files and policies for tests: sound ones, and toys."""

import datetime as dt
from dataclasses import replace

from fleet.defects.vocabulary import Brake
from fleet.engineering.calendar import Moment
from fleet.fitness import examples
from fleet.fitness.case import Case
from fleet.fitness.facts import DefectFact, DefectStepFact, IsolationFact
from fleet.fitness.findings import Finding
from fleet.fitness.rulebook import Rule
from fleet.fitness.rules import BOOK
from fleet.fitness.verdict import spans, verdict
from fleet.register.vocabulary import Effect, Scope, System

DAY = examples.DAY
PRACTICE = examples.PRACTICE
AIR, VACUUM = System.AIR, System.VACUUM


def sound_air(**facts):
    """An air-braked coach no rule objects to on DAY, with facts added."""
    return examples.SOUND_AIR.with_(**facts)


def sound_vacuum(**facts):
    """A vacuum-braked coach no rule objects to on DAY, with facts added."""
    return examples.SOUND_VACUUM.with_(**facts)


def sound_dual(**facts):
    """A dual-braked coach no rule objects to on DAY, but for the standing advice."""
    return examples.SOUND_DUAL.with_(**facts)


def day(offset):
    """The day that many days after DAY."""
    return DAY + dt.timedelta(days=offset)


def on(offset, at=None, order=None):
    """The moment that many days after DAY, at an hour where one is given."""
    return Moment.on(day(offset), dt.time(at) if at is not None else None, order)


def passed_air(moment):
    """A passed air brake test of the vehicle at a moment."""
    return replace(examples.passed(900, examples.AIR_TEST, DAY), on=moment)


def defect(*steps, scope=Scope.AIR_BRAKE, effect=Effect.ISOLATE, **fields):
    """A defect of the vehicle; steps are pairs of name and offset from DAY."""
    taken = tuple(DefectStepFact(on(at), name, scope, effect) for name, at in steps)
    plain = DefectFact(500, "Distributor slow to release", None, "", taken)
    return replace(plain, **fields)


def isolation(
    since, until=None, *, brake=Brake.AIR, complete=True, whole=True, **fields
):
    """A brake isolation between offsets from DAY."""
    ends = on(until) if until is not None else None
    return IsolationFact(600, brake, on(since), ends, whole, complete, **fields)


def off(position, at, fitted_again=None):
    """The sound coach with an item taken off, and put on again at a moment."""
    file = examples.SOUND_AIR
    old = next(f for f in file.fitted if f.position == position.code)
    kept = tuple(f for f in file.fitted if f is not old)
    more = ()
    if fitted_again:
        more = (replace(old, since=fitted_again, until=None),)
    return replace(file, fitted=(*kept, replace(old, until=at), *more))


def held(file, policy=PRACTICE, offset=0):
    """The findings that hold on a day, advice left out."""
    found = BOOK.findings(file, policy)
    heavy = (f for f in found if f.effect is not Effect.ADVISE)
    return [f for f in heavy if f.holds_on(day(offset))]


def codes(file, policy=PRACTICE, offset=0):
    """The codes of the findings that hold on a day, advice left out."""
    return sorted(f.code for f in held(file, policy, offset))


def span(file, system=AIR, offset=0, policy=PRACTICE):
    """The span of a system on a day."""
    return verdict(file, policy, BOOK).span_on(system, day(offset))


def level(file, system=AIR, offset=0, policy=PRACTICE):
    """The name of a system's level on a day; None where it is not fitted."""
    now = span(file, system, offset, policy)
    return now.level.name if now else None


def finding(since, until, effect, scope=Scope.AIR_BRAKE, text="toy", **fields):
    """A finding between offsets from DAY."""
    ends = day(until) if until is not None else None
    return Finding(
        "X01", day(since), ends, effect, scope, text, "cure", "toy", **fields
    )


def toy_spans(*findings, file=examples.SOUND_AIR, policy=PRACTICE):
    """The spans of a file if these were all its findings."""
    return spans(Case(file, policy), findings)


def toy_rule(code, function, **fields):
    """A rule with a page that says little."""
    example = examples.sound()
    page = {"why": "why", "source": "toy", "clears": "cure", **fields}
    page = {"title": code, "flags": example, "passes": example, **page}
    return Rule(code=code, function=function, **page)
