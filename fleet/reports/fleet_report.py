"""What the fleet fitness report says, decided from the status of every vehicle. Pure."""

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from fleet.fitness.findings import Span
from fleet.register.vocabulary import Level, System
from fleet.reports.sheet import (
    NONE,
    NOT_REASSESSED,
    STALE,
    UNKNOWN,
    Head,
    Mark,
    Printed,
    head,
    mark_of,
    outlook,
    standing_cautions,
    strip,
)
from fleet.ui.drawing import Drawing
from fleet.upkeep.due import written

TITLE = "Fleet fitness report"
STRIP_WIDTH = 250.0
DUE_DAYS = 90
ALL_DEPOTS = "All depots"


@dataclass(frozen=True)
class FleetVehicle:
    """A vehicle as the report is given it: its words and the spans of its systems."""

    number: str
    type_name: str
    depot: str
    standing: str  # "" in ordinary traffic
    fitted: tuple[System, ...]
    spans: tuple[Span, ...]
    stale: bool = False

    def on(self, system: System, day: dt.date) -> Span | None:
        """Return the span of a system at the close of a day."""
        for span in self.spans:
            held = span.since <= day and (span.until is None or day < span.until)
            if span.system is system and held:
                return span
        return None


@dataclass(frozen=True, slots=True)
class FleetDue:
    """A due date of the fleet, as the report is given it."""

    number: str
    due_on: dt.date | None  # None: not to be worked out, the basis says why
    last_good_day: dt.date | None
    title: str
    subject: str
    basis: str
    effect: str
    forecast: bool = False
    stale: bool = False


@dataclass(frozen=True, slots=True)
class CountLine:
    """How many vehicles stand at a level, for each system."""

    mark: Mark
    air: int
    vacuum: int


@dataclass(frozen=True, slots=True)
class VehicleLine:
    """A vehicle's row."""

    number: str
    type: str
    air: Mark
    vacuum: Mark
    conditions: str
    until: str
    strip: Drawing | None


@dataclass(frozen=True, slots=True)
class WordsLine:
    """A vehicle that may not simply run braked, and why."""

    number: str
    level: str
    words: str


@dataclass(frozen=True, slots=True)
class DueRow:
    """A row of the due table."""

    day: str
    number: str
    title: str
    subject: str
    effect: str
    basis: str


@dataclass(frozen=True, slots=True)
class FleetSheet:
    """Everything the fleet report says, in order."""

    head: Head
    total: str
    counts: tuple[CountLine, ...]
    vehicles: tuple[VehicleLine, ...]
    stopped: tuple[WordsLine, ...]
    piped: tuple[WordsLine, ...]
    conditional: tuple[WordsLine, ...]
    waiting: tuple[str, ...]  # numbers not yet reassessed
    due: tuple[DueRow, ...]
    cautions: tuple[str, ...]


def fleet_sheet(
    vehicles: Sequence[FleetVehicle],
    due: Sequence[FleetDue],
    *,
    on: dt.date,
    printed: Printed,
    depot: str = "",
) -> FleetSheet:
    """Return what the report of a fleet, or of one depot, says about a day's close."""
    looks = [Look(vehicle, on) for vehicle in vehicles]
    return FleetSheet(
        head=head(TITLE, depot or ALL_DEPOTS, on=on, printed=printed),
        total=_total(len(vehicles)),
        counts=tuple(_counts(looks)),
        vehicles=tuple(_vehicle(look) for look in looks),
        stopped=tuple(_worded(looks, Level.STOPPED)),
        piped=tuple(_worded(looks, Level.PIPED)),
        conditional=tuple(_worded(looks, Level.CONDITIONAL)),
        waiting=tuple(v.number for v in vehicles if v.stale),
        due=tuple(_due(row, on) for row in due),
        cautions=standing_cautions(),
    )


class Look:
    """A vehicle looked at on a day; what several parts of the report read of it."""

    def __init__(self, vehicle: FleetVehicle, on: dt.date) -> None:
        self.vehicle = vehicle
        self.on = on

    @cached_property
    def spans(self) -> dict[System, Span]:
        """Return the span of each system the vehicle has on the day."""
        found = ((system, self.vehicle.on(system, self.on)) for system in System)
        return {system: span for system, span in found if span is not None}

    def mark(self, system: System) -> Mark:
        """Return what stands in the column of a system; stale is never shown as fit."""
        if system not in self.vehicle.fitted:
            return NONE
        if self.vehicle.stale:
            return STALE
        span = self.spans.get(system)
        return UNKNOWN if span is None else mark_of(span)


def _total(count: int) -> str:
    if not count:
        return "No vehicles are recorded for this day."
    return "1 vehicle" if count == 1 else f"{count} vehicles"


def _counts(looks: Sequence[Look]) -> Iterator[CountLine]:
    air = Counter(_counted(look.mark(System.AIR)) for look in looks)
    vacuum = Counter(_counted(look.mark(System.VACUUM)) for look in looks)
    marks = [Mark(level.code, level.label) for level in reversed(Level)]
    for mark in [*marks, STALE, UNKNOWN, NONE]:
        if mark != UNKNOWN or air[mark] or vacuum[mark]:
            yield CountLine(mark, air[mark], vacuum[mark])


def _counted(mark: Mark) -> Mark:
    """Return the mark a vehicle is counted under: all that are stopped count as one."""
    stopped = mark.shape == Level.STOPPED.code
    return Mark(mark.shape, Level.STOPPED.label) if stopped else mark


def _vehicle(look: Look) -> VehicleLine:
    vehicle = look.vehicle
    about = [vehicle.type_name, vehicle.depot, vehicle.standing]
    return VehicleLine(
        vehicle.number,
        ", ".join(part for part in about if part),
        look.mark(System.AIR),
        look.mark(System.VACUUM),
        "" if vehicle.stale else "; ".join(_conditions(look)),
        "" if vehicle.stale else "\n".join(_until(look)),
        strip(
            vehicle.spans,
            vehicle.fitted,
            on=look.on,
            width=STRIP_WIDTH,
            stale=vehicle.stale,
        ),
    )


def _conditions(look: Look) -> list[str]:
    """Return the conditions of a vehicle once each, naming the train where they differ."""
    found: dict[str, list[System]] = {}
    for system, span in look.spans.items():
        for words in span.conditions:
            found.setdefault(words, []).append(system)
    return [
        words if len(systems) == len(look.spans) else f"{systems[0].label}: {words}"
        for words, systems in found.items()
    ]


def _until(look: Look) -> Iterator[str]:
    for system in look.spans:
        spans = [s for s in look.vehicle.spans if s.system is system]
        until = outlook(spans, look.on).until
        if until:
            yield f"{system.label}: {until}" if len(look.spans) > 1 else until


def _worded(looks: Sequence[Look], level: Level) -> Iterator[WordsLine]:
    for look in looks:
        if look.vehicle.stale:
            continue
        spans = [span for span in look.spans.values() if span.level is level]
        whole = [span for span in spans if span.whole_vehicle]
        for span in whole[:1] or spans:
            since = f"Since {written(span.since)}: {span.headline}".rstrip(": ")
            parts = [since, *(f"Condition: {words}" for words in span.conditions)]
            yield WordsLine(look.vehicle.number, mark_of(span).words, ". ".join(parts))


def _due(row: FleetDue, on: dt.date) -> DueRow:
    basis = f"{NOT_REASSESSED}; {row.basis}" if row.stale else row.basis
    day = _due_words(row, on)
    return DueRow(day, row.number, row.title, row.subject, row.effect, basis)


def _due_words(row: FleetDue, on: dt.date) -> str:
    if row.due_on is None:
        return "Not known"
    day = written(row.due_on)
    day += " (forecast)" if row.forecast else ""
    day += ", overdue" if row.due_on < on else ""
    good = row.last_good_day
    tolerated = good is not None and good != row.due_on
    return f"{day}; tolerated to {written(good)}" if tolerated and good else day
