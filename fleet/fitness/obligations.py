"""Which requirements bear on a vehicle and its items, when, and how each stands. Pure."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fleet.engineering.calendar import Moment
from fleet.fitness.facts import EquipmentFact, Particulars, RequirementFact
from fleet.fitness.findings import Due
from fleet.fitness.intervals import (
    ALWAYS,
    FOREVER,
    Interval,
    gaps,
    merged,
    sure,
    within,
)
from fleet.fitness.surveys import half_life
from fleet.register.vocabulary import Fitment
from fleet.upkeep.due import Anchor, Away, Course, Edge, Period, course
from fleet.upkeep.usage import UsageRecord
from fleet.upkeep.vocabulary import CountedFrom, Subject

if TYPE_CHECKING:  # a case works out its obligations; here only its name is needed
    from fleet.fitness.case import Case, Presence


@dataclass(slots=True)
class Obligation:
    """
    One revision of a requirement on one subject, over the windows in which it applies.

    `undated` says why the date it is counted from cannot be used, "" where it can.
    """

    requirement: RequirementFact
    item: EquipmentFact | None
    position: str
    windows: list[Interval]
    course: Course
    undated: str = ""

    @property
    def equipment(self) -> int | None:
        """Return the id of the item; None for the vehicle."""
        return self.item.id if self.item else None

    @property
    def counts_usage(self) -> bool:
        """Say whether miles or days in service bear on it."""
        requirement = self.requirement
        return requirement.days_in_service is not None or requirement.miles is not None


def obligations(case: "Case") -> list[Obligation]:
    """Return every obligation of a case, vehicle first, in the order of the policy."""
    found: list[Obligation] = []
    usage: dict[int | None, UsageRecord] = {}
    by_kind = _by_kind(case)
    by_subject: dict[Subject, list[Interval]] = {}
    for requirement in case.policy.requirements:
        if requirement.subject is Subject.EQUIPMENT:
            carried = by_kind.get(requirement.kind or "", [])
            found += _of_items(case, requirement, carried, usage)
            continue
        if requirement.subject not in by_subject:
            by_subject[requirement.subject] = _applying(case, requirement.subject)
        windows = _in_force(case, requirement, by_subject[requirement.subject])
        if windows:
            undated = ""
            if requirement.counted_from is not CountedFrom.LAST_DONE:
                undated = f"the day the vehicle was {requirement.counted_from}"
            found.append(
                _obligation(case, requirement, None, "", windows, usage, None, undated)
            )
    return found


def _by_kind(case: "Case") -> dict[str, list[list["Presence"]]]:
    found: dict[str, list[list[Presence]]] = {}
    for carried in case.carried.values():
        if item := carried[0].item:
            found.setdefault(item.kind, []).append(carried)
    return found


def _of_items(
    case: "Case",
    requirement: RequirementFact,
    items: list[list["Presence"]],
    usage: dict[int | None, UsageRecord],
) -> Iterator[Obligation]:
    for carried in items:
        item = carried[0].item
        assert item is not None
        # An item of no known designation may be the one that is meant.
        if requirement.designation not in ("", item.designation) and item.designation:
            continue
        if requirement.counted_from is CountedFrom.FITTED:
            groups = [[presence] for presence in carried]
        else:
            groups = [carried]
        for group in groups:
            days = [p.days for p in group]
            carried_on = merged(days) if days[1:] else days
            windows = _in_force(case, requirement, carried_on)
            if windows:
                place = max(group, key=latest).fitting
                start = _start(requirement, item, place.since)
                undated = _undated(requirement, start)
                yield _obligation(
                    case,
                    requirement,
                    item,
                    place.position,
                    windows,
                    usage,
                    start,
                    undated,
                )


def latest(presence: "Presence") -> tuple[dt.date, dt.date, str, int]:
    """Order the presences of an item; the last is where it is, or last was."""
    fitting = presence.fitting
    return presence.until, presence.since, fitting.position, fitting.id


def _start(
    requirement: RequirementFact, item: EquipmentFact, fitted: Moment
) -> Anchor | None:
    match requirement.counted_from:
        case CountedFrom.MADE:
            return Anchor(item.made, "made")
        case CountedFrom.FITTED:
            return Anchor(fitted, "fitted")
        case _:
            return None


def _undated(requirement: RequirementFact, start: Anchor | None) -> str:
    if start is None or start.on.known:
        return ""
    return f"the day it was {requirement.counted_from}"


def _obligation(
    case: "Case",
    requirement: RequirementFact,
    item: EquipmentFact | None,
    position: str,
    windows: list[Interval],
    usage: dict[int | None, UsageRecord],
    start: Anchor | None,
    undated: str,
) -> Obligation:
    equipment = item.id if item else None
    period = Period(
        requirement.months,
        requirement.days_in_service,
        requirement.miles,
        requirement.tolerance_days,
        requirement.calendar_days,
        requirement.storage_credit_days,
    )
    record = None
    if period.counts_usage:
        if equipment not in usage:
            rows = item.usage if item else case.file.usage
            usage[equipment] = UsageRecord(rows, case.usage_window_days)
        record = usage[equipment]
    done = case.passes(requirement.procedure, equipment)
    if not requirement.procedure:
        done = []
    away = _away(case, equipment) if period.still_days else ()
    followed = course(done, period, record, start, away)
    if not undated and followed.first_good is None and done:
        undated = "the day it was last done"
    return Obligation(requirement, item, position, windows, followed, undated)


def _away(case: "Case", equipment: int | None) -> list[Away]:
    """
    Return the days the subject was surely out of use.

    An item counts while it was on the stored vehicle; what it stood elsewhere is not
    known here, and is not credited.
    """
    windows = [(ALWAYS, FOREVER)]
    if equipment is not None:
        carried = (p.fitting for p in case.carried.get(equipment, ()))
        windows = merged(sure(fitting.since, fitting.until) for fitting in carried)
    return [
        (since, None if until == FOREVER else until)
        for window in windows
        for since, until in within(window, case.surely_stored)
    ]


def _applying(case: "Case", subject: Subject) -> list[Interval]:
    """Return the days on which the particulars are those a subject asks for."""
    return merged(
        (phase.since, phase.until)
        for phase in case.phases
        if _applies(subject, phase.particulars)
    )


def _in_force(
    case: "Case", requirement: RequirementFact, days: list[Interval]
) -> list[Interval]:
    """Return the days a requirement bears: not those on the owner's own regime."""
    found = list(within((requirement.since, requirement.until or FOREVER), days))
    if not case.file.visits:
        return found
    return [part for window in found for part in gaps(case.accepted, window)]


def _applies(subject: Subject, particulars: Particulars) -> bool:
    air, vacuum = particulars.air, particulars.vacuum
    return {
        Subject.VEHICLE: True,
        Subject.HAND_BRAKE: particulars.hand_brake,
        Subject.AIR_BRAKED: air is Fitment.BRAKED,
        Subject.AIR_PIPED: air is not Fitment.NONE,
        Subject.VACUUM_BRAKED: vacuum is Fitment.BRAKED,
        Subject.VACUUM_PIPED: vacuum is not Fitment.NONE,
    }.get(subject, False)


def dues(found: list[Obligation]) -> tuple[Due, ...]:
    """
    Return the due date of every obligation that still applies, soonest first.

    Of several revisions of a requirement, the one in force when the date comes counts.
    """
    by_subject: dict[tuple[str, int | None], list[Obligation]] = {}
    for obligation in found:
        key = obligation.requirement.code, obligation.equipment
        by_subject.setdefault(key, []).append(obligation)
    current = (_current(revisions) for revisions in by_subject.values())
    listed = [_due(obligation) for obligation in current if obligation]
    return tuple(sorted(listed, key=_due_order))


def _current(revisions: list[Obligation]) -> Obligation | None:
    if len(revisions) > 1:
        revisions = sorted(
            revisions, key=lambda o: (o.requirement.since, o.windows[-1])
        )
    for obligation in revisions:
        ends = obligation.requirement.until or FOREVER
        if obligation.windows[-1][1] < ends:
            continue  # no longer fitted, or no longer of that arrangement
        if ends == FOREVER or _comes_before(ends, obligation.course.due):
            return obligation
    return None


def _comes_before(ends: dt.date, due: Edge | None) -> bool:
    """Say whether a due date comes, and was started, before a revision ends."""
    if due is None or due.last_good_day is None or due.anchor.on.latest is None:
        return False
    return due.last_good_day < ends and due.anchor.on.latest < ends


def _due(obligation: Obligation) -> Due:
    due = _by_period(obligation)
    half = _half_life(obligation)
    if half is None or (due.due_on is not None and due.due_on <= half[0]):
        return due
    # The wall, not the calendar, says when to look again; it bears no tolerance.
    return replace(due, due_on=half[0], last_good_day=half[0], basis=half[1])


def _half_life(obligation: Obligation) -> tuple[dt.date, str] | None:
    """Return when half the life left at the last survey is used up, and the words."""
    item = obligation.item
    if item is None or not item.surveys:
        return None
    if obligation.requirement.procedure not in {s.procedure for s in item.surveys}:
        return None
    return half_life(item)


def _by_period(obligation: Obligation) -> Due:
    requirement, due = obligation.requirement, obligation.course.due
    return Due(
        requirement.code,
        requirement.revision,
        requirement.title,
        obligation.equipment,
        obligation.position,
        due.due_on if due else None,
        due.last_good_day if due else None,
        basis(obligation, due),
        requirement.scope,
        requirement.effect,
        requirement.procedure,
        due.forecast if due else False,
    )


def basis(obligation: Obligation, due: Edge | None) -> str:
    """Return how a due date came about, or why there is none."""
    if due is not None:
        return due.basis
    if obligation.undated:
        return f"cannot be worked out: {obligation.undated} is not known"
    return "never done"


def _due_order(due: Due) -> tuple[dt.date, str, int, str]:
    # What cannot be worked out leads: it is not known to be in date.
    return due.due_on or dt.date.min, due.requirement, due.equipment or 0, due.position
