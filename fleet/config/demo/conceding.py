"""The demo's concessions: in force, lapsed, expired, and one that awaits a decision."""

import datetime as dt
from typing import Any

from fleet.config.demo.line import Line
from fleet.defects.models import Defect
from fleet.defects.services.raising import raise_defect
from fleet.people.models import Person
from fleet.register.vocabulary import Effect, Scope
from fleet.upkeep.concession_grants import agree_concession, grant_concession
from fleet.upkeep.concessions import ask_concession
from fleet.upkeep.models import Requirement
from fleet.upkeep.rechecks import record_recheck
from fleet.web.policy_concessions import last_good_day


def _defect(line: Line, number: str, title: str, days: int) -> Defect:
    return raise_defect(
        by=line.by,
        person=line.fitter,
        title=title,
        on=line.ago(days, 10),
        vehicle=line.vehicles[number],
        scope=Scope.HAND_BRAKE,
        effect=Effect.DISCOUNT,
    )


def _asked(line: Line, defect: Defect, days: int, length: int, **words: Any) -> Any:
    on = line.today - dt.timedelta(days=days)
    return ask_concession(
        by=line.by,
        person=line.other,
        on=on,
        defect=defect,
        since=on,
        last_day=on + dt.timedelta(days=length),
        recheck_days=14,
        **words,
    )


def _granted(line: Line, version: Any, days: int, **more: Any) -> None:
    manager = Person.objects.get(user__username="manager")
    on = line.today - dt.timedelta(days=days)
    agreed = agree_concession(
        by=line.fitter.user, person=line.fitter, version=version, on=on
    )
    grant_concession(by=manager.user, person=manager, version=agreed, on=on, **more)


def in_force(line: Line) -> None:
    """A vacuum cylinder past its overhaul, its exchange unit on order; re-checked."""
    item = line.fitting("W 801", "vac-cyl-1").equipment
    last_good = last_good_day("R-23", line.vehicles["W 801"].pk, item.pk)
    assert last_good is not None
    asked = ask_concession(
        by=line.by,
        person=line.other,
        on=line.today - dt.timedelta(days=19),
        requirement=Requirement.objects.get(code="R-23"),
        equipment=item,
        counted_from=last_good,
        since=line.today - dt.timedelta(days=18),
        last_day=last_good + dt.timedelta(days=60),
        recheck_days=14,
        why="The exchange unit comes back from overhaul in five weeks.",
        risk="Held its vacuum for thirty minutes at the last test; piston moves freely.",
        condition="Brake tested before each day; not as the last vehicle.",
    )
    _granted(line, asked, 18, counted_from=last_good)
    record_recheck(
        by=line.by,
        person=line.other,
        concession=asked.concession,
        on=line.today - dt.timedelta(days=6),
        holds=True,
        found="Held 21 inHg for thirty minutes, no worse than before.",
    )


def lapsed(line: Line) -> None:
    """Granted, and then nobody looked at it again."""
    defect = _defect(line, "W 703", "Handbrake screw worn", 31)
    asked = _asked(
        line,
        defect,
        30,
        50,
        why="New screw is on order, delivery in six weeks.",
        risk="Holds on the yard gradient with two turns more than new.",
        condition="Not to stand alone; scotch both ways when stabled.",
    )
    _granted(line, asked, 30)


def expired(line: Line) -> None:
    """Its time is up, and nobody did the work."""
    defect = _defect(line, "W 705", "Handbrake linkage slack", 58)
    asked = _asked(
        line,
        defect,
        55,
        12,
        why="Fitter on leave.",
        risk="Brake takes hold, with a turn and a half lost.",
        condition="Not to stand alone.",
    )
    _granted(line, asked, 55)


def awaiting(line: Line) -> None:
    """Asked for yesterday; the manager has not decided."""
    defect = _defect(line, "W 707", "Handbrake chain stretched", 3)
    _asked(
        line,
        defect,
        1,
        21,
        why="Chain on order.",
        risk="Brake holds; a link is stretched by a millimetre.",
        condition="Not to stand alone.",
    )
