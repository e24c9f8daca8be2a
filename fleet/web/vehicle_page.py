"""What the page of a vehicle shows on a day: levels, findings, what is where, history."""

import datetime as dt
from dataclasses import dataclass, field

from fleet.engineering.calendar import Moment, add_months
from fleet.fitness import gather
from fleet.fitness.facts import EquipmentFact, Particulars, VehicleFile
from fleet.fitness.findings import Due, Finding, Span, Verdict
from fleet.fitness.intervals import held
from fleet.fitness.practice import practice_known
from fleet.fitness.rules import BOOK
from fleet.fitness.verdict import verdict
from fleet.register.models import Position, TypeRevision, Vehicle
from fleet.register.vocabulary import (
    Effect,
    EquipmentKind,
    Fitment,
    Level,
    System,
    arrangement_words,
    level_words,
)
from fleet.ui.pipe_diagram import Diagram
from fleet.ui.strip import StripRow, StripSpan
from fleet.web.diagram import Outstanding, diagrams, fitted_on
from fleet.web.evidence import Link, actions, record_links
from fleet.web.force_part import ForceRow, force_rows
from fleet.web.policy_concessions import deferral

YEARS_BACK, YEARS_ON = 1, 2
CONCEDED_AHEAD = dt.timedelta(days=90)  # how long before a date one asks to pass it


@dataclass(frozen=True, slots=True)
class SystemStatus:
    """The brake status of one system on the day; `span` None: not fitted."""

    system: System
    span: Span | None
    braked: bool = False  # it has a brake of this system, not only its pipe

    @property
    def code(self) -> str:
        """Return the level's code for the mark."""
        return self.span.level.code if self.span else "none"

    @property
    def words(self) -> str:
        """Return the level in words."""
        if self.span is None:
            return "Not fitted"
        whole = self.span.whole_vehicle
        return level_words(self.span.level, self.system, whole_vehicle=whole)


@dataclass(frozen=True, slots=True)
class FindingRow:
    """A finding as the page shows it."""

    number: int | None
    finding: Finding
    level: str  # code of the level it holds the systems to
    systems: str
    records: list[Link]
    actions: list[Link]


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """A position and what is fitted there."""

    place: Position
    kind: str
    item: EquipmentFact | None
    since: Moment | None
    number: int | None


@dataclass(frozen=True, slots=True)
class DueRow:
    """A due date, and what it is asked of in words."""

    due: Due
    on: str
    deferred: str = ""  # to when, under which concession


@dataclass(frozen=True, slots=True)
class VehiclePage:
    """All that the page shows."""

    vehicle: Vehicle
    day: dt.date
    particulars: Particulars | None
    type_name: str
    arrangement: str
    statuses: list[SystemStatus] = field(default_factory=list)
    whole_stop: bool = False
    outstanding: list[FindingRow] = field(default_factory=list)
    advice: list[FindingRow] = field(default_factory=list)
    coming: list[FindingRow] = field(default_factory=list)
    conditions: list[str] = field(default_factory=list)
    places: list[PlaceRow] = field(default_factory=list)
    diagrams: tuple[Diagram, ...] = ()
    strip: list[StripRow] = field(default_factory=list)
    strip_first: dt.date | None = None
    strip_last: dt.date | None = None
    due: list[DueRow] = field(default_factory=list)
    due_later: list[DueRow] = field(default_factory=list)
    forces: list[ForceRow] = field(default_factory=list)


def vehicle_page(
    vehicle: Vehicle, day: dt.date, *, known_at: int | None = None
) -> VehiclePage:
    """
    Return what the records show of a vehicle at the close of a day.

    `known_at` is the number of an entry: only what was recorded up to it counts, and
    nothing can be done about it from here.
    """
    practice = practice_known(known_at)
    files = gather.vehicle_files([vehicle.pk], known_at=known_at, practice=practice)
    file = next(files, None)
    particulars = _particulars_on(file, day) if file else None
    if file is None or particulars is None:
        return VehiclePage(vehicle, day, None, "", "")
    found = verdict(file, practice.policy, BOOK)
    places, type_name = _places(particulars, day, known_at)
    statuses = _statuses(particulars, found, day)
    rows, numbered = _outstanding(file, found, statuses, day)
    first, last = add_months(day, -12 * YEARS_BACK), add_months(day, 12 * YEARS_ON)
    return VehiclePage(
        vehicle,
        day,
        particulars,
        type_name,
        arrangement_words(
            particulars.air, particulars.vacuum, particulars.main_reservoir_pipe
        ),
        statuses,
        any(s.span is not None and s.span.whole_vehicle for s in statuses),
        [row for row in rows if row.finding.effect is not Effect.ADVISE],
        [row for row in rows if row.finding.effect is Effect.ADVISE],
        _coming(file, found, statuses, day, last),
        _conditions(statuses),
        _place_rows(file, places, numbered, day),
        diagrams(file, particulars, places, numbered, day),
        strip_rows(found.spans, particulars),
        first,
        last,
        *_due(file, found.due, places, day, last),
        force_rows(file, practice.policy, day),
    )


def _statuses(
    particulars: Particulars, found: Verdict, day: dt.date
) -> list[SystemStatus]:
    return [
        SystemStatus(
            system,
            found.span_on(system, day),
            braked=particulars.fitment(system) is Fitment.BRAKED,
        )
        for system in System
    ]


def _particulars_on(file: VehicleFile, day: dt.date) -> Particulars | None:
    """Return the particulars on a day; before the first, none."""
    for row in file.particulars:
        first, end = held(row.since, row.until)
        if first <= day < end:
            return row
    return None


def _places(
    particulars: Particulars, day: dt.date, known_at: int | None
) -> tuple[list[Position], str]:
    """Return the positions in force; the first revision counts for the time before it."""
    known = TypeRevision.objects.known_at(known_at)
    revisions = known.filter(type__code=particulars.type_code)
    in_force: TypeRevision | None = None
    for revision in revisions.order_by("effective_from", "number"):
        if in_force is None or revision.effective_from <= day:
            in_force = revision
    if in_force is None:
        return [], particulars.type_code
    return list(in_force.positions.order_by("order", "code")), in_force.name


def _rank(finding: Finding) -> tuple[int, dt.date]:
    return -finding.effect.weight, finding.since


def _outstanding(
    file: VehicleFile, found: Verdict, statuses: list[SystemStatus], day: dt.date
) -> tuple[list[FindingRow], list[Outstanding]]:
    holding = sorted((f for f in found.findings if f.holds_on(day)), key=_rank)
    numbered = [Outstanding(n, f) for n, f in enumerate(holding, start=1)]
    rows = [_row(file, o.finding, o.number, statuses, day) for o in numbered]
    return rows, numbered


def _coming(
    file: VehicleFile,
    found: Verdict,
    statuses: list[SystemStatus],
    day: dt.date,
    last: dt.date,
) -> list[FindingRow]:
    ahead = [f for f in found.findings if day < f.since <= last]
    ahead = [f for f in ahead if f.effect is not Effect.ADVISE]
    ahead.sort(key=lambda finding: finding.since)
    return [_row(file, finding, None, statuses, day) for finding in ahead]


_LEVEL = {
    Effect.ADVISE: Level.BRAKED,
    Effect.CONDITION: Level.CONDITIONAL,
    Effect.DISCOUNT: Level.PIPED,
    Effect.ISOLATE: Level.STOPPED,
    Effect.STOP: Level.STOPPED,
}


def _level(finding: Finding, hit: list[SystemStatus]) -> Level:
    """Return the level a finding holds to; a complete isolation lets it be conveyed."""
    held_to = _LEVEL[finding.effect]
    if finding.effect is not Effect.ISOLATE or not hit:
        return held_to
    return max(held_to, min(s.span.level for s in hit if s.span))


def _row(
    file: VehicleFile,
    finding: Finding,
    number: int | None,
    statuses: list[SystemStatus],
    day: dt.date,
) -> FindingRow:
    hit = [s for s in statuses if s.span and s.system in finding.scope.systems]
    systems = " and ".join(status.system.label.lower() for status in hit)
    has_item = finding.position in fitted_on(file, day)
    return FindingRow(
        number,
        finding,
        _level(finding, hit if number else []).code,
        systems.capitalize(),
        record_links(finding.evidence),
        actions(
            file.id,
            finding,
            has_item=has_item,
            soon=finding.since <= day + CONCEDED_AHEAD,
        ),
    )


def _conditions(statuses: list[SystemStatus]) -> list[str]:
    said: dict[str, None] = {}
    for status in statuses:
        # What is not to run has no conditions to run under.
        if status.span is None or status.span.level is Level.STOPPED:
            continue
        for words in status.span.conditions:
            said.setdefault(f"{status.system.label}: {words}")
    return list(said)


def _place_rows(
    file: VehicleFile,
    places: list[Position],
    numbered: list[Outstanding],
    day: dt.date,
) -> list[PlaceRow]:
    fitted = fitted_on(file, day)
    numbers: dict[str, int] = {}
    for item in numbered:
        numbers.setdefault(item.finding.position, item.number)
    rows = []
    for place in places:
        fitting = fitted.get(place.code)
        rows.append(
            PlaceRow(
                place,
                EquipmentKind(place.kind).label,
                file.equipment.get(fitting.equipment) if fitting else None,
                fitting.since if fitting else None,
                numbers.get(place.code),
            )
        )
    return rows


def _due(
    file: VehicleFile,
    dates: tuple[Due, ...],
    places: list[Position],
    day: dt.date,
    last: dt.date,
) -> tuple[list[DueRow], list[DueRow]]:
    """Return what is undated or due within the strip, and what is due later."""
    labels = {place.code: place.label for place in places}
    soon: list[DueRow] = []
    later: list[DueRow] = []
    for due in dates:
        on = labels.get(due.position, due.position) if due.equipment else "vehicle"
        within = due.due_on is None or due.due_on <= last
        deferred = deferral(
            file.concessions, due.requirement, due.equipment, due.last_good_day, day
        )
        (soon if within else later).append(DueRow(due, on, deferred))
    return soon, later


def strip_rows(spans: tuple[Span, ...], particulars: Particulars) -> list[StripRow]:
    """Return a strip row for each system the vehicle has."""
    return [
        StripRow(
            system.label, tuple(_strip_span(s) for s in spans if s.system is system)
        )
        for system in System
        if particulars.fitment(system) is not Fitment.NONE
    ]


def _strip_span(span: Span) -> StripSpan:
    words = level_words(span.level, span.system, whole_vehicle=span.whole_vehicle)
    title = f"{words}: {span.headline}" if span.headline else words
    ends_by_forecast = any(f.forecast for f in span.findings if f.since == span.since)
    return StripSpan(
        span.since, span.until, span.level.code, title, forecast=ends_by_forecast
    )
