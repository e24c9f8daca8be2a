"""What a draft of the policy would change over the whole fleet, before it is approved."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field

from fleet.fitness.facts import VehicleFile
from fleet.fitness.findings import Due, Span, Verdict
from fleet.fitness.gather import vehicle_files
from fleet.fitness.practice import practice_known
from fleet.fitness.rules import BOOK
from fleet.fitness.supposing import practice_supposing
from fleet.fitness.verdict import verdict
from fleet.register.vocabulary import EquipmentKind, System, level_words
from fleet.upkeep.models import PolicyDraft

SHOWN = 200  # rows of each list; all are counted
AT_ONCE = 2_000  # vehicles a page tries while one waits; more are for the command
SOON_DAYS = 90


@dataclass(frozen=True, slots=True)
class LevelChange:
    """From when a system of a vehicle would stand otherwise, and how."""

    vehicle: int
    number: str
    system: System
    since: dt.date
    was: Span
    now: Span

    @property
    def was_words(self) -> str:
        """Return how it stands by the policy as it is."""
        return _words(self.was)

    @property
    def now_words(self) -> str:
        """Return how it would stand."""
        return _words(self.now)

    @property
    def better(self) -> bool:
        """Say whether it would be allowed more."""
        return self.now.level > self.was.level


@dataclass(frozen=True, slots=True)
class DateChange:
    """A due date that would move, come or go."""

    vehicle: int
    number: str
    on: str  # "vehicle", or the item in words
    requirement: str
    was: dt.date | None
    now: dt.date | None
    basis: str


@dataclass(slots=True)
class DryRun:
    """All that a draft would change; the lists hold the first rows only."""

    day: dt.date
    vehicles: int = 0
    touched: int = 0  # whose brake status or dates change
    on_the_day: int = 0  # systems that change as it takes effect
    soon: int = 0
    later: int = 0
    earlier_dates: int = 0
    later_dates: int = 0
    other_dates: int = 0  # that come, go, or cannot be worked out any more
    levels: list[LevelChange] = field(default_factory=list)
    dates: list[DateChange] = field(default_factory=list)

    @property
    def level_count(self) -> int:
        """Return how many systems change."""
        return self.on_the_day + self.soon + self.later

    @property
    def date_count(self) -> int:
        """Return how many due dates change."""
        return self.earlier_dates + self.later_dates + self.other_dates


def day_of(draft: PolicyDraft, today: dt.date) -> dt.date:
    """Return the day a draft is tried from: its own, tomorrow at the earliest."""
    tomorrow = today + dt.timedelta(days=1)
    return max(draft.effective_from or tomorrow, tomorrow)


def dry_run(draft: PolicyDraft, day: dt.date, *, shown: int | None = SHOWN) -> DryRun:
    """
    Try a draft on every vehicle as if it held from a day; nothing is written.

    Each file is read once and judged twice, with the policy as it is and with the draft
    in its place. `shown` rows of each list are kept, all for None. A fixed number of
    queries, however many vehicles.
    """
    now = practice_known(None)
    then = practice_supposing(now, draft, day)
    found = DryRun(day)
    for file in vehicle_files(None, practice=then):
        found.vehicles += 1
        before = verdict(file, now.policy, BOOK)
        after = verdict(file, then.policy, BOOK)
        levels = list(_levels(file, before, after, day))
        dates = list(_dates(file, before, after))
        found.touched += bool(levels or dates)
        _count(found, levels, dates)
    found.levels.sort(key=lambda row: (row.since, row.number, row.system))
    found.dates.sort(key=lambda row: (row.now or dt.date.min, row.number, row.on))
    if shown is not None:
        del found.levels[shown:], found.dates[shown:]
    return found


def _count(found: DryRun, levels: list[LevelChange], dates: list[DateChange]) -> None:
    soon = found.day + dt.timedelta(days=SOON_DAYS)
    for change in levels:
        found.on_the_day += change.since == found.day
        found.soon += found.day < change.since <= soon
        found.later += change.since > soon
    for date in dates:
        both = date.was is not None and date.now is not None
        found.earlier_dates += bool(both and date.now < date.was)  # type: ignore[operator]  # both are there
        found.later_dates += bool(both and date.now > date.was)  # type: ignore[operator]  # both are there
        found.other_dates += not both
    found.levels += levels
    found.dates += dates


def _levels(
    file: VehicleFile, before: Verdict, after: Verdict, day: dt.date
) -> Iterator[LevelChange]:
    """Yield, of each system, the first day on which it would stand otherwise."""
    for system in System:
        edges = {
            span.since
            for span in (*before.spans, *after.spans)
            if span.system is system and span.since > day
        }
        for since in sorted({day, *edges}):
            was, now = before.span_on(system, since), after.span_on(system, since)
            if was is None or now is None:
                continue
            if (was.level, was.conditions) != (now.level, now.conditions):
                number = _number(file)
                yield LevelChange(file.id, number, system, since, was, now)
                break


def _dates(file: VehicleFile, before: Verdict, after: Verdict) -> Iterator[DateChange]:
    was = {(due.requirement, due.equipment): due for due in before.due}
    now = {(due.requirement, due.equipment): due for due in after.due}
    for key in sorted({*was, *now}, key=lambda key: (key[0], key[1] or 0)):
        old, new = was.get(key), now.get(key)
        if _on(old) == _on(new) and (old is None) == (new is None):
            continue
        yield DateChange(
            file.id,
            _number(file),
            _subject(file, key[1]),
            key[0],
            _on(old),
            _on(new),
            new.basis if new else "no longer asked for",
        )


def _on(due: Due | None) -> dt.date | None:
    return due.due_on if due else None


def _number(file: VehicleFile) -> str:
    return file.particulars[-1].number if file.particulars else str(file.id)


def _subject(file: VehicleFile, equipment: int | None) -> str:
    item = file.equipment.get(equipment) if equipment is not None else None
    return f"{EquipmentKind(item.kind).label} {item.serial}" if item else "vehicle"


def _words(span: Span) -> str:
    words = level_words(span.level, span.system, whole_vehicle=span.whole_vehicle)
    said = "; ".join(span.conditions) or span.headline
    return f"{words}: {said}" if said else words
