"""
Brake status as pages read it: the board of a day, one vehicle's spans, what falls due.

Each function takes a fixed number of queries. A vehicle marked stale is *not yet
reassessed*: what is stored of it is handed out beside that mark and counts as nothing.
"""

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery

from fleet.fitness.findings import Span, Verdict
from fleet.fitness.gather import vehicle_files
from fleet.fitness.models import DueDate, Stale, StatusSpan
from fleet.fitness.practice import practice_known
from fleet.fitness.rules import BOOK
from fleet.fitness.storing import among
from fleet.fitness.verdict import verdict
from fleet.register.models import TypeRevision, VehicleVersion
from fleet.register.vocabulary import Fitment, Level, System, level_words


class StoredSpan(NamedTuple):
    """A stored span as rows and strips show it."""

    system: System
    since: dt.date
    until: dt.date | None
    level: Level
    whole_vehicle: bool
    headline: str
    conditions: list[str]
    change: str

    @property
    def words(self) -> str:
        """Return the words of the level for this system."""
        return level_words(self.level, self.system, whole_vehicle=self.whole_vehicle)

    def holds_on(self, day: dt.date) -> bool:
        """Say whether the span holds at the close of a day."""
        return self.since <= day and (self.until is None or day < self.until)


@dataclass(slots=True)
class SystemStatus:
    """
    One brake system of a vehicle on the day of the board.

    `span` None: not yet reassessed, or nothing is known; never fit. `strip` are the
    spans that touch the window asked for, in order.
    """

    system: System
    fitment: Fitment
    span: StoredSpan | None = None
    strip: list[StoredSpan] = field(default_factory=list)

    @property
    def level(self) -> Level | None:
        """Return the level; None where there is none to show."""
        return self.span.level if self.span else None


@dataclass(slots=True)
class BoardRow:
    """A vehicle on the board; `systems` holds those it is fitted for."""

    vehicle: int
    number: str
    type_code: str
    type_name: str
    depot: str
    status: str  # fleet.register.vocabulary.VehicleStatus value
    stale: bool
    systems: dict[System, SystemStatus]

    @property
    def next_change(self) -> StoredSpan | None:
        """Return the span that ends first; None where nothing is to change."""
        spans = [s.span for s in self.systems.values() if s.span and s.span.until]
        return min(spans, key=lambda span: span.until or dt.date.max, default=None)


def board_rows(
    day: dt.date,
    *,
    first: dt.date | None = None,
    last: dt.date | None = None,
    vehicle_ids: Iterable[int] | None = None,
    known_at: int | None = None,
    again: bool = False,
    supposed: Mapping[int, Iterable[Span]] | None = None,
) -> list[BoardRow]:
    """
    Return every vehicle there is on a day with its levels, in order of number.

    `first` and `last` bound the window of the strips; without them a strip holds only
    the day. `vehicle_ids` keeps some vehicles. `known_at` is the number of an entry:
    the levels are those stored when it was the newest, or with `again` those that
    today's rules read from what was known then. `supposed` are spans to show instead of
    the stored ones, by vehicle. A fixed number of queries.
    """
    ids = None if vehicle_ids is None else list(vehicle_ids)
    versions = VehicleVersion.objects.known_at(known_at).holding_on(day)
    window = min(first or day, day), max(last or day, day)
    if ids is not None:
        versions = versions.filter(vehicle__in=among(ids))
    stale: set[int] = set()
    if known_at is None:
        stale = set(Stale.objects.values_list("vehicle", flat=True))
    names = _type_names(day, known_at)
    rows = {
        version.vehicle_id: _row(version, names, stale=version.vehicle_id in stale)
        for version in versions.select_related("type", "depot").order_by("number")
    }
    if supposed is not None:
        _fill(rows, _within(supposed, window), day)
    elif again:
        _fill(rows, _worked_out(ids, known_at, window), day)
    else:
        spans = StatusSpan.objects.stored_at(known_at).touching(*window)
        if ids is not None:
            spans = spans.filter(vehicle__in=among(ids))
        _fill(rows, _span_values(spans), day)
    return list(rows.values())


def _worked_out(
    ids: list[int] | None, known_at: int | None, window: tuple[dt.date, dt.date]
) -> Iterator[tuple[int, StoredSpan]]:
    """Yield the spans that follow from what was known at an entry, by today's rules."""
    practice = practice_known(known_at)
    for file in vehicle_files(ids, known_at=known_at, practice=practice):
        found = verdict(file, practice.policy, BOOK).spans
        yield from _within({file.id: found}, window)


def _within(
    spans: Mapping[int, Iterable[Span]], window: tuple[dt.date, dt.date]
) -> Iterator[tuple[int, StoredSpan]]:
    """Yield the spans that touch a window, as rows and strips show them."""
    first, last = window
    for vehicle, found in spans.items():
        for span in found:
            if span.since <= last and (span.until is None or span.until > first):
                yield vehicle, stored(span)


def stored(span: Span) -> StoredSpan:
    """Return a span just worked out as rows and strips show it."""
    return StoredSpan(
        span.system,
        span.since,
        span.until,
        span.level,
        span.whole_vehicle,
        span.headline,
        list(span.conditions),
        span.change,
    )


def _row(version: Any, names: Mapping[int, str], *, stale: bool) -> BoardRow:
    fitted = {System.AIR: version.air, System.VACUUM: version.vacuum}
    return BoardRow(
        vehicle=version.vehicle_id,
        number=version.number,
        type_code=version.type.code,
        type_name=names.get(version.type_id, ""),
        depot=version.depot.name if version.depot else "",
        status=version.status,
        stale=stale,
        systems={
            system: SystemStatus(system, Fitment(fitment))
            for system, fitment in fitted.items()
            if fitment != Fitment.NONE
        },
    )


def _fill(
    rows: Mapping[int, BoardRow],
    spans: Iterable[tuple[int, StoredSpan]],
    day: dt.date,
) -> None:
    for vehicle, span in spans:
        row = rows.get(vehicle)
        if row is None or row.stale or span.system not in row.systems:
            continue
        status = row.systems[span.system]
        status.strip.append(span)
        if span.holds_on(day):
            status.span = span


def _span_values(
    spans: "QuerySet[StatusSpan]",
) -> Iterable[tuple[int, StoredSpan]]:
    rows = spans.order_by("vehicle", "system", "since").values_list(
        "vehicle",
        "system",
        "since",
        "until",
        "level",
        "whole_vehicle",
        "headline",
        "conditions",
        "change",
    )
    for vehicle, system, since, until, level, *rest in rows.iterator(chunk_size=2_000):
        yield (
            vehicle,
            StoredSpan(System(system), since, until, Level(level), *rest),
        )


def _type_names(day: dt.date, known_at: int | None) -> dict[int, str]:
    """Return the name of each type as the revision in force on a day has it."""
    names: dict[int, str] = {}
    known = TypeRevision.objects.known_at(known_at)
    revisions = known.order_by("effective_from", "number")
    for key, name, since in revisions.values_list("type", "name", "effective_from"):
        if since <= day or key not in names:
            names[key] = name
    return names


def spans_for(vehicle_id: int, first: dt.date, last: dt.date) -> list[StoredSpan]:
    """Return the stored spans of a vehicle that touch a window; none while it is stale."""
    spans = StatusSpan.objects.between(first, last).filter(
        ~Exists(Stale.objects.filter(vehicle=OuterRef("vehicle"))), vehicle=vehicle_id
    )
    return [span for _, span in _span_values(spans)]


def spans_at(vehicle_id: int, day: dt.date, known_at: int) -> list[StoredSpan]:
    """Return the spans of a day as they were stored when an entry was the newest."""
    spans = StatusSpan.objects.stored_at(known_at).touching(day, day)
    return [span for _, span in _span_values(spans.filter(vehicle=vehicle_id))]


def numbers_of(vehicle_ids: Iterable[int]) -> dict[int, str]:
    """Return the running number each vehicle last bore."""
    held = VehicleVersion.objects.current().filter(vehicle__in=among(vehicle_ids))
    return dict(held.order_by("since_key").values_list("vehicle", "number"))


def is_stale(vehicle_id: int) -> bool:
    """Say whether a vehicle is not yet reassessed."""
    return Stale.objects.filter(vehicle=vehicle_id).exists()


def due_between(first: dt.date | None, last: dt.date) -> "QuerySet[DueDate]":
    """
    Return what falls due in a window, both days included; `first` None: overdue too.

    Each row carries `number`, the vehicle's running number, and `stale`. What cannot be
    dated comes with what is overdue.
    """
    window = Q(due_on__lte=last)
    window &= Q(due_on__gte=first) if first else Q()
    if first is None:
        window |= Q(due_on__isnull=True)
    number = (
        VehicleVersion.objects.current()
        .filter(vehicle=OuterRef("vehicle"))
        .order_by("-since_key")
        .values("number")[:1]
    )
    marked = Stale.objects.filter(vehicle=OuterRef("vehicle"))
    return (
        DueDate.objects.filter(window)
        .annotate(number=Subquery(number), stale=Exists(marked))
        .select_related("equipment")
        .order_by("due_on", "number", "title", "pk")
    )


@dataclass(slots=True)
class Counts:
    """How many vehicles stand at each level, by system, and how many await assessment."""

    levels: dict[System, Counter[Level]]
    stale: int


def counts(day: dt.date) -> Counts:
    """Return the number of vehicles at each level on a day; two queries."""
    found = Counts(
        {system: Counter() for system in System}, Stale.objects.all().count()
    )
    grouped = (
        StatusSpan.objects.on(day)
        .filter(~Exists(Stale.objects.filter(vehicle=OuterRef("vehicle"))))
        .order_by()
        .values_list("system", "level")
        .annotate(vehicles=Count("pk"))
    )
    for system, level, vehicles in grouped:
        found.levels[System(system)][Level(level)] = vehicles
    return found


def current_verdict(vehicle_id: int, *, known_at: int | None = None) -> Verdict | None:
    """
    Work a vehicle's status out from the facts, as today's rules read them.

    `known_at` is the number of an entry: only what was known then counts. None: nothing
    was known of the vehicle. A fixed number of queries.
    """
    practice = practice_known(known_at)
    files = vehicle_files([vehicle_id], known_at=known_at, practice=practice)
    file = next(files, None)
    return None if file is None else verdict(file, practice.policy, BOOK)
