"""The rule of the change → test matrix: after this change, these tests."""

import datetime as dt
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from fleet.engineering.calendar import Moment, Order, order_of
from fleet.fitness.case import Case, title_of
from fleet.fitness.examples import (
    AIR_TEST,
    DAY,
    DISTRIBUTOR,
    ENTERED,
    MATRIX,
    SOUND_AIR,
    changed,
    days_ago,
    fitted,
    item,
    passed,
    policy,
)
from fleet.fitness.facts import MatrixFact, Particulars, StorageFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import ALWAYS, FOREVER, held, opens
from fleet.fitness.rulebook import Rule, rule
from fleet.fitness.rules.results import uncounted
from fleet.register.vocabulary import (
    EquipmentKind,
    Fitment,
    MainReservoirPipe,
    Scope,
    VehicleStatus,
)
from fleet.upkeep.due import later
from fleet.upkeep.vocabulary import Change

_EXCHANGED = days_ago(3)
_AFTER_EXCHANGE = {
    "equipment": {**SOUND_AIR.equipment, 90: item(90, DISTRIBUTOR)},
    "fitted": (
        *(f for f in SOUND_AIR.fitted if f.position != DISTRIBUTOR.code),
        fitted(DISTRIBUTOR, 3, ENTERED, _EXCHANGED),
        fitted(DISTRIBUTOR, 90, _EXCHANGED),
    ),
}


_Kinds = set[EquipmentKind | None]
_Lines = dict[Change, dict[EquipmentKind | None, list[MatrixFact]]]


class Changed(NamedTuple):
    """Something that was changed on the vehicle, after which tests may have to follow."""

    change: Change
    on: Moment
    what: str
    scope: Scope
    evidence: Evidence
    kind: EquipmentKind | None = None
    equipment: int | None = None
    position: str = ""
    until: dt.date = FOREVER  # the item came off again: its own exchange counts on


@rule(
    "M01",
    "Test after a change missing",
    why="Nobody knows that the brake works again until it was tested after the change.",
    source="the operator's change and test matrix",
    clears="Do the test and record it.",
    flags=changed(
        policy(matrix=MATRIX),
        **_AFTER_EXCHANGE,
        tests=(*SOUND_AIR.tests, passed(90, AIR_TEST, _EXCHANGED)),
    ),
    passes=changed(
        policy(matrix=MATRIX),
        **_AFTER_EXCHANGE,
        tests=(*SOUND_AIR.tests, passed(90, AIR_TEST, DAY)),
    ),
)
def test_missing(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield, for each change, the days until a test that a line asks for had followed."""
    lines: _Lines = {}
    for line in case.policy.matrix:
        lines.setdefault(line.change, {}).setdefault(line.kind, []).append(line)
    known: dict[tuple[Moment, str, int | None], tuple[dt.date, str]] = {}
    for change in _changes(case, lines):
        by_kind = lines[change.change]
        any_kind = by_kind.get(None, ()) if change.kind is not None else ()
        for line in (*by_kind.get(change.kind, ()), *any_kind):
            if not _asks(case, line, change):
                continue
            followed = []
            for procedure in line.procedures:
                key = change.on, procedure, change.equipment
                if key not in known:
                    known[key] = _followed(case, *key)
                followed.append(known[key])
            until = min(until for until, _ in followed)
            note = next((note for _, note in followed if note), "")
            if opens(change.on) < until:
                yield _missing(rule, case, change, line, until, note)


def _asks(case: Case, line: MatrixFact, change: Changed) -> bool:
    """Say whether a line of its kind bears on a change: its scope, and in force then."""
    if not line.procedures:
        return False
    if line.scope is not None and not _concerns(case, line.scope, change):
        return False
    first, last = change.on.earliest, change.on.latest
    if first is None or last is None:
        return line.until is None
    return line.since <= last and (line.until is None or first < line.until)


def _concerns(case: Case, scope: Scope, change: Changed) -> bool:
    """Say whether the vehicle had what the line's scope names when it was changed."""
    restored = change.change is Change.ISOLATION_ENDED
    if restored and not _same_brake(scope, change.scope):
        return False
    held = [p for p in case.phases if p.since <= opens(change.on) < p.until]
    return any(_has(phase.particulars, scope) for phase in held or case.phases)


def _same_brake(scope: Scope, restored: Scope) -> bool:
    """Say whether a line's scope takes in the brake that was restored."""
    if Scope.HAND_BRAKE in {scope, restored}:  # it hits both systems, yet is its own
        return scope in {restored, Scope.SHARED_GEAR, Scope.VEHICLE}
    return bool(set(scope.systems) & set(restored.systems))


def _has(particulars: Particulars, scope: Scope) -> bool:
    if scope is Scope.HAND_BRAKE:
        return particulars.hand_brake
    if scope is Scope.MAIN_RESERVOIR_PIPE:
        return particulars.main_reservoir_pipe is not MainReservoirPipe.NONE
    if scope in (Scope.AIR_BRAKE, Scope.VACUUM_BRAKE):
        return particulars.fitment(scope.systems[0]) is Fitment.BRAKED
    if scope.through_pipe:
        return particulars.fitment(scope.systems[0]) is not Fitment.NONE
    return True


def _followed(
    case: Case, on: Moment, procedure: str, equipment: int | None
) -> tuple[dt.date, str]:
    """Return the day a passed test is known to have followed, and a note on one not so."""
    until = FOREVER
    unordered: list[Moment] = []
    tests = case.tests.get((procedure, None), ())
    if equipment is not None:
        own = case.tests.get((procedure, equipment), ())
        tests = [*tests, *own] if own else tests
    for test in tests:
        if not test.counts:
            continue
        first = test.on.earliest
        if first and on.latest and on.latest < first:
            until = min(until, test.on.latest or FOREVER)
            continue
        order = order_of(on, test.on)
        if order is Order.BEFORE and test.on.latest:
            until = min(until, test.on.latest)
        elif order is Order.UNKNOWN:
            unordered.append(test.on)
    return until, uncounted(unordered)


def _missing(
    rule: Rule,
    case: Case,
    change: Changed,
    line: MatrixFact,
    until: dt.date,
    note: str,
) -> Finding:
    title = " or ".join(title_of(case.policy, code) for code in line.procedures)
    label = f"{line.code}, revision {line.revision}"
    return rule.finding(
        case,
        (opens(change.on), min(until, change.until)),
        line.effect,
        line.scope or change.scope,
        f"{title} to follow: {change.what} {_when(change.on)}{note}",
        clears=f"Do and record: {title}.",
        source=line.source,
        condition=line.condition,
        position=change.position,
        equipment=change.equipment,
        evidence=(Evidence("matrix", line.code, label), change.evidence),
        missing=not change.on.known,
    )


@lru_cache(maxsize=16_384)
def _when(on: Moment) -> str:
    return f"on {on}" if on.known else "on an unknown date"


def _changes(case: Case, lines: _Lines) -> Iterator[Changed]:
    """Yield the changes the matrix has lines for."""
    found = {
        Change.FITTED: _fitted,
        Change.ISOLATION_ENDED: _restored,
        Change.STORAGE_ENDED: _used_again,
        Change.ARRIVED: _arrived,
        Change.WORK_RELEASED: _released,
    }
    for change, by_kind in lines.items():
        yield from found[change](case, set(by_kind))


def _fitted(case: Case, kinds: _Kinds) -> Iterator[Changed]:
    for presence in case.presences:
        fitting, item = presence.fitting, presence.item
        position = case.position_of(fitting)
        kind = position.kind if position else item.kind if item else None
        if kind not in kinds and None not in kinds:
            continue
        label = position.label if position else fitting.position
        yield Changed(
            Change.FITTED,
            fitting.since,
            f"{label} fitted",
            position.scope if position else Scope.VEHICLE,
            Evidence("fitting", fitting.id, label),
            kind,
            fitting.equipment,
            fitting.position,
            presence.until,
        )


def _restored(case: Case, _: _Kinds) -> Iterator[Changed]:
    for isolation in case.file.isolations:
        if isolation.ends and isolation.until is not None:
            yield Changed(
                Change.ISOLATION_ENDED,
                isolation.until,
                f"isolated {isolation.brake.label.lower()} restored",
                isolation.brake.scope,
                Evidence("isolation", isolation.id, "Brake isolation"),
            )


def _used_again(case: Case, _: _Kinds) -> Iterator[Changed]:
    for period in case.file.storage:
        if period.until is not None and not _short(case, period):
            evidence = Evidence("storage", period.id, "Storage period")
            yield Changed(
                Change.STORAGE_ENDED,
                period.until,
                "returned from storage",
                Scope.VEHICLE,
                evidence,
            )


def _short(case: Case, period: StorageFact) -> bool:
    """Say whether a period was surely no longer than needs no test on return."""
    since, until = held(period.since, period.until)
    if since == ALWAYS or until == FOREVER:
        return False
    ends = opens(period.until) if period.until else until
    days = (ends, later(until, 1))
    limits = [c.storage_days_needing_tests for _, c in case.conditions_over(days)]
    limit = min(limits, default=0)
    return limit > 0 and (until - since).days <= limit


def _arrived(case: Case, _: _Kinds) -> Iterator[Changed]:
    before: VehicleStatus | None = None
    for phase in case.phases:
        status = phase.particulars.status
        if status is VehicleStatus.VISITING and before is not status:
            yield Changed(
                Change.ARRIVED,
                phase.particulars.since,
                "arrived as a visiting vehicle",
                Scope.VEHICLE,
                Evidence("vehicle", case.file.id, phase.particulars.number),
            )
        before = status


def _released(case: Case, _: _Kinds) -> Iterator[Changed]:
    for work in case.file.work:
        if work.until is not None:
            yield Changed(
                Change.WORK_RELEASED,
                work.until,
                f"work completed ({work.what})",
                Scope.VEHICLE,
                Evidence("work", work.id, work.what),
            )
