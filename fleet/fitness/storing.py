"""
What is stored of a verdict, and what differs from it: spans, due dates, stale marks.

Rows are compared as they are stored, and only those that differ are written. They are
written many at a time and without building a model for each, because a change of policy
rewrites a whole fleet.
"""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import connection, models
from django.db.models.expressions import RawSQL

from fleet.fitness.facts import Policy
from fleet.fitness.findings import Due, Span, Verdict
from fleet.fitness.models import DueDate, Stale, StatusSpan
from fleet.fitness.verdict import TEXT_LENGTH
from fleet.records.models import Entry

Row = tuple[Any, ...]

_IDS = {
    "sqlite": "SELECT value FROM json_each(%s)",
    "postgresql": "SELECT unnest(%s::bigint[])",
}
SPAN = (
    "system",
    "since",
    "until",
    "level",
    "whole_vehicle",
    "headline",
    "conditions",
    "change",
)
CONDITIONS = SPAN.index("conditions")
DUE = (
    "equipment_id",
    "position",
    "requirement",
    "revision",
    "title",
    "procedure",
    "due_on",
    "last_good_day",
    "basis",
    "scope",
    "effect",
    "forecast",
)


def among(ids: Iterable[int]) -> RawSQL:
    """Return any number of keys as one parameter, for `filter(...__in=...)`."""
    keys = list(ids)
    value = keys if connection.vendor == "postgresql" else json.dumps(keys)
    return RawSQL(_IDS[connection.vendor], [value])  # noqa: S611  # our own words


@dataclass(slots=True)
class Stored:
    """What is stored of one vehicle: current spans by what they say, and due dates."""

    spans: dict[Row, int] = field(default_factory=dict)  # row -> primary key
    due: set[Row] = field(default_factory=set)


def stored_of(ids: Sequence[int]) -> dict[int, Stored]:
    """Return what is stored of vehicles, in two queries."""
    found = {vehicle: Stored() for vehicle in ids}
    chosen = among(ids)
    spans = StatusSpan.objects.current().filter(vehicle__in=chosen).order_by()
    for vehicle, key, *row in spans.values_list("vehicle", "pk", *SPAN):
        row[CONDITIONS] = tuple(row[CONDITIONS])
        found[vehicle].spans[tuple(row)] = key
    due = DueDate.objects.filter(vehicle__in=chosen).order_by()
    for vehicle, *row in due.values_list("vehicle", *DUE):
        found[vehicle].due.add(tuple(row))
    return found


def span_row(span: Span) -> Row:
    """Return a span as it is stored."""
    return (
        span.system.value,
        span.since,
        span.until,
        int(span.level),
        span.whole_vehicle,
        span.headline,
        span.conditions,
        span.change,
    )


def due_row(due: Due) -> Row:
    """Return a due date as it is stored."""
    return (
        due.equipment,
        due.position,
        due.requirement,
        due.revision,
        due.title,
        due.procedure,
        due.due_on,
        due.last_good_day,
        due.basis[:TEXT_LENGTH],
        due.scope.value,
        due.effect.value,
        due.forecast,
    )


@dataclass(slots=True)
class Changes:
    """What must be written so that what is stored says what the verdicts say."""

    opened: list[tuple[int, Row]] = field(default_factory=list)
    closed: list[int] = field(default_factory=list)
    due_of: list[int] = field(default_factory=list)  # vehicles whose dates are replaced
    due: list[tuple[int, Row]] = field(default_factory=list)

    def compare(self, vehicle: int, stored: Stored, verdict: Verdict | None) -> None:
        """Add what differs for one vehicle; no verdict: nothing is known of it."""
        spans = [span_row(span) for span in verdict.spans] if verdict else []
        said = set(spans)
        self.closed += [key for row, key in stored.spans.items() if row not in said]
        self.opened += [(vehicle, row) for row in spans if row not in stored.spans]
        due = {due_row(one) for one in verdict.due} if verdict else set()
        if due != stored.due:
            self.due_of.append(vehicle)
            self.due += [(vehicle, row) for row in due]

    def write(self, entry: Entry, policy: Policy, rulebook: str) -> None:
        """Close, open and replace under one entry; no query where nothing differs."""
        if self.closed:
            spans = StatusSpan.objects.filter(pk__in=among(self.closed))
            spans.update(closed_by=entry)
        if self.opened:
            _insert(
                StatusSpan,
                ("vehicle_id", *SPAN, "rulebook", "policy", "opened_by_id"),
                [
                    (vehicle, *_as_json(row), rulebook, policy.revision, entry.pk)
                    for vehicle, row in self.opened
                ],
            )
        if self.due_of:
            DueDate.objects.filter(vehicle__in=among(self.due_of)).delete()
        if self.due:
            _insert(
                DueDate,
                ("vehicle_id", *DUE),
                [(vehicle, *row) for vehicle, row in self.due],
            )


def _insert(
    model: type[models.Model], columns: Sequence[str], rows: Sequence[Row]
) -> None:
    names = ", ".join(f'"{column}"' for column in columns)
    places = ", ".join(["%s"] * len(columns))
    table = model._meta.db_table
    with connection.cursor() as cursor:
        cursor.executemany(
            f'INSERT INTO "{table}" ({names}) VALUES ({places})',  # noqa: S608  # names of our own
            rows,
        )


def _as_json(row: Row) -> Row:
    """Return the row of a span with its conditions as both databases take them."""
    conditions = json.dumps(row[CONDITIONS]) if row[CONDITIONS] else "[]"
    return (*row[:CONDITIONS], conditions, *row[CONDITIONS + 1 :])


_MARK = """
INSERT INTO fitness_stale (vehicle_id, entry_id)
SELECT v.id, %s FROM register_vehicle v WHERE WHERE_ASKED
ON CONFLICT DO NOTHING
"""


def mark_stale(ids: Iterable[int] | None, entry: Entry) -> None:
    """Mark vehicles as not yet reassessed, all of them for None; marks there stay."""
    where, params = "1 = 1", [entry.pk]
    if ids is not None:
        chosen = among(ids)
        where, params = f"v.id IN ({chosen.sql})", [entry.pk, *chosen.params]
    with connection.cursor() as cursor:
        cursor.execute(_MARK.replace("WHERE_ASKED", where), params)


def unmark_stale(ids: Sequence[int]) -> None:
    """Take the mark from vehicles just reassessed."""
    Stale.objects.filter(vehicle__in=among(ids)).delete()
