"""The board: who may run braked on a day, a page of vehicles at a time."""

import datetime as dt
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.http import HttpRequest

from fleet.engineering.calendar import add_months
from fleet.fitness.level_strip import strip_of
from fleet.fitness.models import Stale, StatusSpan
from fleet.fitness.status import BoardRow, StoredSpan, board_rows, counts
from fleet.records.clock import today
from fleet.records.knowledge import Knowledge
from fleet.register.models import TypeRevision, Vehicle, VehicleVersion
from fleet.register.vocabulary import Fitment, Level, System
from fleet.ui.strip import StripRow
from fleet.web.asked import BoardForm
from fleet.workshop.if_done import programme_in_force, spans_if_done
from fleet.workshop.models import Programme

PER_PAGE = 50
MONTHS_BACK, MONTHS_ON = 6, 18


@dataclass(frozen=True, slots=True)
class LevelCount:
    """How many vehicles stand at a level, for the tally at the head of the board."""

    level: Level
    by_system: list[tuple[System, int]]


@dataclass(frozen=True, slots=True)
class Line:
    """A vehicle as the board shows it."""

    row: BoardRow
    air: Any
    vacuum: Any
    strip: list[StripRow]
    whole_stop: bool
    conditions: list[str]
    change_on: dt.date | None
    change: str
    now: str


@dataclass(frozen=True, slots=True)
class BoardPage:
    """All that the board shows."""

    day: dt.date
    first: dt.date
    last: dt.date
    lines: list[Line]
    tally: list[LevelCount]
    stale: int
    pages: Page[Any]
    register_empty: bool  # not a single vehicle, whatever was asked
    programme: Programme | None = None  # supposed to be done in what the lines show


def board_page(asked: BoardForm, request: HttpRequest) -> BoardPage:
    """Return the board asked for; a fixed number of queries, however large the fleet."""
    if asked.knowledge is not None:
        return _as_known(asked, asked.knowledge, request)
    day = asked.day
    first, last = _window(day)
    chosen = _chosen(asked, day).values_list("vehicle", flat=True)
    pages = Paginator(chosen, PER_PAGE).get_page(request.GET.get("page"))
    programme = programme_in_force() if asked.value("ahead") == "done" else None
    supposed = spans_if_done(programme, today(), list(pages)) if programme else None
    rows = board_rows(
        day, first=first, last=last, vehicle_ids=list(pages), supposed=supposed
    )
    found = counts(day)
    tally = [
        LevelCount(level, [(s, found.levels[s][level]) for s in System])
        for level in reversed(Level)
    ]
    lines = [_line(row) for row in rows]
    empty = not lines and not Vehicle.objects.exists()
    return BoardPage(
        day, first, last, lines, tally, found.stale, pages, empty, programme
    )


def _as_known(
    asked: BoardForm, knowledge: Knowledge, request: HttpRequest
) -> BoardPage:
    """Return the board of a day on what was known at a time; every vehicle is read."""
    day = asked.day
    first, last = _window(day)
    again = asked.value("read") != "then"
    rows = board_rows(
        day, first=first, last=last, known_at=knowledge.number, again=again
    )
    tally = [
        LevelCount(level, [(s, _standing_at(rows, s, level)) for s in System])
        for level in reversed(Level)
    ]
    numbers = set(_known(asked, day, knowledge).values_list("vehicle", flat=True))
    kept = [row for row in rows if row.vehicle in numbers and _asked_for(row, asked)]
    pages = Paginator(kept, PER_PAGE).get_page(request.GET.get("page"))
    lines = [_line(row) for row in pages]
    return BoardPage(day, first, last, lines, tally, 0, pages, False)


def _window(day: dt.date) -> tuple[dt.date, dt.date]:
    return add_months(day, -MONTHS_BACK), add_months(day, MONTHS_ON)


def _standing_at(rows: list[BoardRow], system: System, level: Level) -> int:
    held = [row.systems[system] for row in rows if system in row.systems]
    return sum(status.level is level for status in held)


def _asked_for(row: BoardRow, asked: BoardForm) -> bool:
    """Say whether a row stands at the level and has the system asked for."""
    level, system = asked.value("level"), asked.value("system")
    held = [s for s in row.systems.values() if system in {"", None, s.system}]
    if not level:
        return bool(held) or not system
    return any(s.level is not None and s.level.code == level for s in held)


def _known(
    asked: BoardForm, day: dt.date, knowledge: Knowledge | None = None
) -> "QuerySet[VehicleVersion]":
    """Return the vehicles of a day in the depot and by the words asked for."""
    known = VehicleVersion.objects.known_at(knowledge.number if knowledge else None)
    rows = known.holding_on(day).order_by("number")
    if asked.value("depot"):
        rows = rows.filter(depot=asked.value("depot"))
    if asked.value("find"):
        rows = rows.filter(_matching(asked.value("find").strip()))
    return rows


def _chosen(asked: BoardForm, day: dt.date) -> "QuerySet[VehicleVersion]":
    return _at_level(_known(asked, day), asked, day)


def _matching(words: str) -> Q:
    types = TypeRevision.objects.current().filter(name__icontains=words)
    return Q(number__icontains=words) | Q(type__in=types.values("type"))


def _at_level(
    rows: "QuerySet[VehicleVersion]", asked: BoardForm, day: dt.date
) -> "QuerySet[VehicleVersion]":
    level, system = asked.value("level"), asked.value("system")
    if system:
        rows = rows.exclude(**{system: Fitment.NONE})
    if not level:
        return rows
    stale = Exists(Stale.objects.filter(vehicle=OuterRef("vehicle")))
    if level == "stale":
        return rows.filter(stale)
    spans = StatusSpan.objects.on(day).filter(
        vehicle=OuterRef("vehicle"), level=Level[level.upper()]
    )
    if system:
        spans = spans.filter(system=system)
    return rows.filter(~stale, Exists(spans))


def _line(row: BoardRow) -> Line:
    spans = {s: row.systems[s].span if s in row.systems else None for s in System}
    held = [span for span in spans.values() if span is not None]
    change_on, change = next_change(row)
    worst = min(held, key=lambda span: span.level, default=None)
    return Line(
        row=row,
        air=_mark(row, System.AIR),
        vacuum=_mark(row, System.VACUUM),
        strip=strip_of(row),
        whole_stop=any(span.whole_vehicle for span in held),
        conditions=_conditions(spans),
        change_on=change_on,
        change=change,
        now=worst.headline if worst and worst.level < Level.BRAKED else "",
    )


def next_change(row: BoardRow) -> tuple[dt.date | None, str]:
    """
    Return the day a level or its conditions next change, and why; None within the strip.

    Spans that differ only in what leads them are passed over: they let nothing change.
    """
    found: list[tuple[dt.date, str]] = []
    for status in row.systems.values():
        after = [
            s for s in status.strip if status.span and s.since >= status.span.since
        ]
        for span, following in pairwise(after):
            if _allowed(span) != _allowed(following):
                found.append((following.since, span.change))
                break
    return min(found, default=(None, ""))


def _allowed(span: StoredSpan) -> tuple[Level, list[str]]:
    return span.level, _conditions_of(span)


def _conditions_of(span: StoredSpan | None) -> list[str]:
    """Return the conditions to run under; what is not to run has none."""
    return [] if span is None or span.level is Level.STOPPED else span.conditions


def _mark(row: BoardRow, system: System) -> tuple[str, str]:
    """Return the code and words of a level mark."""
    if system not in row.systems:
        return "none", "not fitted"
    span = row.systems[system].span
    if span is None:
        return "stale", "Not yet reassessed" if row.stale else "Nothing known"
    return span.level.code, span.words


def _conditions(spans: dict[System, StoredSpan | None]) -> list[str]:
    said: dict[str, None] = {}
    for span in spans.values():
        for words in _conditions_of(span):
            said.setdefault(words)
    return list(said)
