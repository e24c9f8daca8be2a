"""From findings to spans: the level of each system through all time, and what is due."""

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from fleet.defects.vocabulary import Brake
from fleet.fitness.case import Case
from fleet.fitness.facts import Conditions, Particulars, Policy, VehicleFile
from fleet.fitness.findings import Finding, Span, Verdict
from fleet.fitness.intervals import FOREVER, Interval
from fleet.fitness.obligations import dues
from fleet.fitness.rulebook import RuleBook
from fleet.register.vocabulary import Effect, Fitment, Level, Scope, System

TEXT_LENGTH = 300  # what a stored span has room for

_WEIGHT = {effect: effect.weight for effect in Effect}
_STOP = Effect.STOP.weight


def verdict(file: VehicleFile, policy: Policy, book: RuleBook) -> Verdict:
    """Return all that follows from one file under a policy and a book of rules."""
    case = Case(file, policy)
    findings = book.run(case)
    return Verdict(findings, spans(case, findings), dues(case.obligations))


def spans(case: Case, findings: Sequence[Finding]) -> tuple[Span, ...]:
    """Return the spans of both systems in order of system and time."""
    ranked = sorted(
        (f for f in findings if (f.until or FOREVER) > max(f.since, case.begin)),
        key=_rank,
    )
    bearing = [(finding, finding.scope.systems) for finding in ranked]
    return tuple(
        span
        for system in System
        for span in _of_system(case, [f for f, on in bearing if system in on], system)
    )


@dataclass(slots=True)
class _Run:
    """A span in the making: days over which what is shown does not change."""

    since: dt.date
    until: dt.date
    shown: tuple[Level, str, tuple[str, ...], bool]
    first: list[int]  # ranks of the findings that held as it began
    last: list[int]  # and as it ended
    ranks: set[int] = field(default_factory=set)


def _of_system(case: Case, ranked: Sequence[Finding], system: System) -> Iterator[Span]:
    runs = list(_runs(case, ranked, system))
    for at, run in enumerate(runs):
        after = runs[at + 1] if at + 1 < len(runs) else None
        level, headline, conditions, whole = run.shown
        yield Span(
            system,
            run.since,
            None if run.until == FOREVER else run.until,
            level,
            headline,
            conditions,
            whole,
            _change(ranked, run, after, system),
            tuple(ranked[rank] for rank in sorted(run.ranks)),
        )


def _rank(finding: Finding) -> tuple[int, bool, dt.date]:
    """Order findings heaviest first; what hits the whole vehicle before one system."""
    weight = _WEIGHT[finding.effect]
    return -weight, weight < _STOP or not _stops_vehicle(finding), finding.since


def _stops_vehicle(finding: Finding) -> bool:
    return finding.effect is Effect.STOP and len(finding.scope.systems) > 1


def _runs(case: Case, ranked: Sequence[Finding], system: System) -> Iterator[_Run]:
    """Yield the runs of one system, joining days that show the same."""
    background = _Background(case, system)
    run: _Run | None = None
    for day, until, active in _stretches(case, ranked, background.edges):
        background.move_to(day)
        fitted = background.fitment is not Fitment.NONE
        shown = _shown(background, ranked, active)
        if fitted and run is not None and run.shown == shown:
            run.until, run.last = until, active
        else:
            if run is not None:
                yield run
            run = _Run(day, until, shown, active, active) if fitted else None
        if run is not None:
            run.ranks.update(active)
    if run is not None:
        yield run


def _stretches(
    case: Case, ranked: Sequence[Finding], edges: set[dt.date]
) -> Iterator[tuple[dt.date, dt.date, list[int]]]:
    """Yield the stretches on which nothing changes, with the ranks that hold, in order."""
    starts: dict[dt.date, list[int]] = {}
    ends: dict[dt.date, list[int]] = {}
    for rank, finding in enumerate(ranked):
        starts.setdefault(max(finding.since, case.begin), []).append(rank)
        if finding.until is not None:
            ends.setdefault(finding.until, []).append(rank)
    days = sorted(day for day in {*starts, *ends, *edges} if day >= case.begin)
    active: list[int] = []
    for day, until in pairwise([*days, FOREVER]):
        gone = ends.get(day)
        if gone:
            active = [rank for rank in active if rank not in gone]
        if day in starts:
            active = sorted([*active, *starts[day]])
        yield day, until, active


class _Background:
    """What a day's level rests on beside findings: brake, isolation, conditions."""

    def __init__(self, case: Case, system: System) -> None:
        self._phases = [
            ((p.since, p.until), p.particulars.fitment(system)) for p in case.phases
        ]
        self._isolated = case.isolated(Brake(system))
        self._hand_out = case.isolated(Brake.HAND)
        self._strict = [
            days for days, c in case.conditions if c.discount_needs_isolation
        ]
        intervals = [days for days, _ in self._phases] + self._strict
        intervals += self._isolated + self._hand_out
        self.edges = {day for days in intervals for day in days if day < FOREVER}
        self.edges.add(case.begin)
        self.fitment: Fitment | None = None
        self.isolated = self.hand_out = self.strict = False

    def move_to(self, day: dt.date) -> None:
        """Set what holds at the close of a day."""
        self.fitment = None  # not known, a finding says so
        for days, fitment in self._phases:
            if days[0] <= day < days[1]:
                self.fitment = fitment
        self.isolated = _any_on(self._isolated, day)
        self.hand_out = _any_on(self._hand_out, day)
        self.strict = _any_on(self._strict, day)

    def level(self, finding: Finding) -> Level:
        """Return the best level a finding allows; a fault is cut out by its own brake."""
        hand = finding.scope is Scope.HAND_BRAKE
        return _allowed(
            finding.effect,
            isolated=self.hand_out if hand else self.isolated,
            strict=self.strict and self.fitment is Fitment.BRAKED,
        )


def _any_on(intervals: Sequence[Interval], day: dt.date) -> bool:
    return bool(intervals) and any(since <= day < until for since, until in intervals)


def _shown(
    background: _Background, ranked: Sequence[Finding], active: Sequence[int]
) -> tuple[Level, str, tuple[str, ...], bool]:
    if not active:
        return Level.BRAKED, "", (), False
    # The heaviest comes first, and a heavier effect never allows more; but where only one
    # of handbrake and train brake is cut out, what bears on the other may allow less.
    apart = background.isolated != background.hand_out
    counted = active if apart else active[:1]
    level, rank = min((background.level(ranked[rank]), rank) for rank in counted)
    heaviest = ranked[rank]
    conditions: dict[str, None] = {}
    for rank in active if level > Level.STOPPED else ():  # it moves under none
        finding = ranked[rank]
        if finding.condition and finding.effect is not Effect.ADVISE:
            conditions[finding.condition] = None
    # Advice leads no page: it changes nothing that a vehicle may do.
    headline = "" if heaviest.effect is Effect.ADVISE else _clipped(heaviest.text)
    return level, headline, tuple(conditions), _stops_vehicle(heaviest)


def _allowed(effect: Effect, *, isolated: bool, strict: bool) -> Level:
    """Return the best level an effect allows."""
    match effect:
        case Effect.ADVISE:
            return Level.BRAKED
        case Effect.CONDITION:
            return Level.CONDITIONAL
        case Effect.DISCOUNT:
            return Level.STOPPED if strict and not isolated else Level.PIPED
        case Effect.ISOLATE:
            return Level.PIPED if isolated else Level.STOPPED
        case _:
            return Level.STOPPED


def _change(
    ranked: Sequence[Finding], run: _Run, after: _Run | None, system: System
) -> str:
    """Return what the next span is due to; "" for the last one."""
    if run.until == FOREVER:
        return ""
    if after is None or after.since != run.until:
        return f"No longer fitted for {system.label.lower()}"
    new = [rank for rank in after.first if rank not in run.last]
    gone = [rank for rank in run.last if rank not in after.first]
    better = after.shown[0] > run.shown[0]
    if gone and (better or not new):
        return _clipped(f"Ends: {ranked[gone[0]].text}")
    if new:
        return _clipped(ranked[new[0]].text)
    return "Brake isolation or general conditions changed"


def _clipped(text: str) -> str:
    return text if len(text) <= TEXT_LENGTH else f"{text[: TEXT_LENGTH - 1]}…"


def level_on(
    file: VehicleFile, policy: Policy, book: RuleBook, system: System, day: dt.date
) -> Level | None:
    """
    Return the level of one day straight from the findings; None if not fitted then.

    A plain second way to the answer the spans give, kept to check them by.
    """
    case = Case(file, policy)
    now = _particulars_on(case, day)
    if day < case.begin or (now is not None and now.fitment(system) is Fitment.NONE):
        return None
    isolated = _any_on(case.isolated(Brake(system)), day)
    hand_out = _any_on(case.isolated(Brake.HAND), day)
    braked = now is not None and now.fitment(system) is Fitment.BRAKED
    strict = braked and any(
        c.discount_needs_isolation for c in _conditions_on(policy.conditions, day)
    )
    return min(
        (
            _allowed(
                finding.effect,
                isolated=hand_out if finding.scope is Scope.HAND_BRAKE else isolated,
                strict=strict,
            )
            for finding in book.findings(file, policy)
            if finding.holds_on(day) and system in finding.scope.systems
        ),
        default=Level.BRAKED,
    )


def _particulars_on(case: Case, day: dt.date) -> Particulars | None:
    for phase in case.phases:
        if phase.since <= day < phase.until:
            return phase.particulars
    return None


def _conditions_on(
    conditions: Iterable[Conditions], day: dt.date
) -> Iterator[Conditions]:
    for revision in conditions:
        if revision.since <= day and (revision.until is None or day < revision.until):
            yield revision
