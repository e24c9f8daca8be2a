"""What changed between two days or two states of knowledge: which levels, through what."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field

from fleet.fitness.causes import causes_between
from fleet.fitness.facts import VehicleFile
from fleet.fitness.findings import Finding, Span, Verdict
from fleet.fitness.gather import vehicle_files
from fleet.fitness.practice import practice_known
from fleet.fitness.rules import BOOK
from fleet.fitness.verdict import verdict
from fleet.records.models import Entry
from fleet.register.vocabulary import Effect, Level, System, level_words


@dataclass(frozen=True, slots=True)
class Side:
    """A day, and the number of the entry up to which records count; None: all of them."""

    on: dt.date
    known_at: int | None = None


@dataclass(frozen=True, slots=True)
class LevelChange:
    """A system of a vehicle whose level or conditions differ; None: not on that day."""

    system: System
    before: Span | None
    after: Span | None

    @property
    def worse(self) -> bool:
        """Say whether less is allowed after than before."""
        return _rank(self.after) < _rank(self.before)

    def words(self, span: Span | None) -> str:
        """Return a level in words."""
        if span is None:
            return "Nothing known"
        return level_words(span.level, span.system, whole_vehicle=span.whole_vehicle)


def _rank(span: Span | None) -> int:
    return -1 if span is None else int(span.level)


@dataclass(slots=True)
class VehicleChange:
    """A vehicle that stands otherwise: its levels, findings gone and come, entries."""

    vehicle: int
    number: str
    levels: list[LevelChange]
    gone: list[Finding]
    new: list[Finding]
    entries: list[Entry] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Changes:
    """Every vehicle that stands otherwise, and what touched the operator's policy."""

    vehicles: list[VehicleChange]
    policy: tuple[Entry, ...]
    same: int  # vehicles whose levels did not change
    left_off: int  # of a very long time: what was not read for causes


@dataclass(frozen=True, slots=True)
class _State:
    file: VehicleFile
    verdict: Verdict


def changes_between(
    before: Side, after: Side, *, vehicle: int | None = None
) -> Changes:
    """
    Return which vehicles stand otherwise, of all or of one, and why.

    Both sides are read by today's rules. A fixed number of queries; the whole fleet is
    worked out twice.
    """
    asked = None if vehicle is None else [vehicle]
    first, last = dict(_states(before, asked)), dict(_states(after, asked))
    found: list[VehicleChange] = []
    carried: dict[int, set[int]] = {}
    for key in sorted({*first, *last}):
        change = _change(key, first.get(key), last.get(key), before.on, after.on)
        if change.levels:
            found.append(change)
            files = [state.file for state in (first.get(key), last.get(key)) if state]
            carried[key] = {item for file in files for item in file.equipment}
    found.sort(key=lambda change: change.number)
    causes = causes_between(carried, before.known_at, after.known_at)
    for change in found:
        change.entries = causes.by_vehicle.get(change.vehicle, [])
    same = len({*first, *last}) - len(found)
    return Changes(found, causes.policy, same, causes.left_off)


def _states(side: Side, asked: list[int] | None) -> Iterator[tuple[int, _State]]:
    practice = practice_known(side.known_at)
    files = vehicle_files(asked, known_at=side.known_at, practice=practice)
    for file in files:
        yield file.id, _State(file, verdict(file, practice.policy, BOOK))


def _change(
    key: int,
    before: _State | None,
    after: _State | None,
    was_on: dt.date,
    is_on: dt.date,
) -> VehicleChange:
    levels = []
    for system in System:
        was = before.verdict.span_on(system, was_on) if before else None
        now = after.verdict.span_on(system, is_on) if after else None
        if _shown(was) != _shown(now):
            levels.append(LevelChange(system, was, now))
    held = _held(before, was_on), _held(after, is_on)
    known = [{_same(finding) for finding in side} for side in held]
    return VehicleChange(
        key,
        _number(after, is_on) or _number(before, was_on) or f"vehicle {key}",
        levels,
        [f for f in held[0] if _same(f) not in known[1]],
        [f for f in held[1] if _same(f) not in known[0]],
    )


def _shown(span: Span | None) -> tuple[Level, tuple[str, ...], bool] | None:
    if span is None:
        return None
    conditions = () if span.level is Level.STOPPED else span.conditions
    return span.level, conditions, span.whole_vehicle


def _held(state: _State | None, on: dt.date) -> list[Finding]:
    if state is None:
        return []
    held = [f for f in state.verdict.findings if f.holds_on(on)]
    bearing = [f for f in held if f.effect is not Effect.ADVISE]
    return sorted(bearing, key=lambda f: -f.effect.weight)


def _same(finding: Finding) -> tuple[str, str, int | None, tuple[str, ...]]:
    """Tell a finding by what it is about, not by words that follow the calendar."""
    evidence = tuple(f"{piece.kind} {piece.id}" for piece in finding.evidence)
    return finding.code, finding.position, finding.equipment, evidence


def _number(state: _State | None, on: dt.date) -> str:
    if state is None:
        return ""
    numbers = [
        p.number
        for p in state.file.particulars
        if (p.since.earliest or dt.date.min) <= on
    ]
    return numbers[-1] if numbers else ""
