"""Whether issued statements still say what the records show; if not, they are withdrawn."""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from itertools import chain
from typing import Any

from fleet.engineering.calendar import add_months
from fleet.fitness.findings import Span, Verdict
from fleet.fitness.intervals import FOREVER, Interval, overlap
from fleet.fitness.models import Statement, StatementStatus, StatementVersion
from fleet.fitness.storing import among
from fleet.records.deeds import Subject
from fleet.records.models import Entry
from fleet.records.versions import continue_version
from fleet.register.vocabulary import Level, System, level_words

NOTHING = Verdict((), ())  # of a vehicle of which nothing is known
MONTHS = 12  # how long a statement without an end is held to what it says
WORDS = 300


def stated(verdict: Verdict, on: dt.date) -> list[dict[str, Any]]:
    """Return the levels a statement states from its day on, as JSON can hold them."""
    return [
        {
            "system": span.system.value,
            "since": max(span.since, on).isoformat(),
            "until": span.until.isoformat() if span.until else None,
            "level": int(span.level),
            "conditions": list(span.conditions),
            "whole_vehicle": span.whole_vehicle,
        }
        for span in verdict.spans
        if span.until is None or span.until > on
    ]


def fit_until(verdict: Verdict, on: dt.date) -> dt.date | None:
    """Return the first day on which some system is allowed less than on the day."""
    ends = []
    for system in System:
        ahead = [
            span
            for span in verdict.spans
            if span.system is system and (span.until is None or span.until > on)
        ]
        now = [span for span in ahead if span.since <= on]
        if now:
            ends += [s.since for s in ahead if s.since > on and s.level < now[0].level]
    return min(ends, default=None)


class Standing:
    """
    The valid statements of vehicles, held against what the records now show.

    `overturned` are the versions found wrong, each with how: a statement that cites one
    of them says what is no longer held true, whatever its levels. One query.
    """

    def __init__(
        self, ids: Iterable[int] | None, overturned: Mapping[Subject, str]
    ) -> None:
        valid = StatementVersion.objects.current().filter(status=StatementStatus.VALID)
        if ids is not None:
            valid = valid.filter(vehicle__in=among(ids))
        self._overturned = overturned
        self._valid: dict[int, list[StatementVersion]] = {}
        # The paper is the bulk of a statement, and nothing here reads it.
        kept = valid.select_related("statement").defer("statement__paper")
        for version in kept:
            self._valid.setdefault(version.vehicle_id, []).append(version)
        self._contradicted: list[tuple[StatementVersion, str]] = []

    def compare(self, vehicle: int, verdict: Verdict) -> None:
        """Note the statements of a vehicle that its verdict contradicts."""
        for version in self._valid.get(vehicle, ()):
            words = self._found_wrong(version.statement)
            words = words or next(contradictions(version.statement, verdict), "")
            if words:
                self._contradicted.append((version, words))

    def compare_citations(self) -> None:
        """Note the statements that cite what was found wrong; for want of verdicts."""
        for version in chain.from_iterable(self._valid.values()):
            words = self._found_wrong(version.statement)
            if words:
                self._contradicted.append((version, words))

    def _found_wrong(self, statement: Statement) -> str:
        for table, key, words in statement.cited if self._overturned else ():
            how = self._overturned.get((table, key))
            if how is not None:
                return f"A record it rests on, {words}, was {how}"
        return ""

    def withdraw(self, entry: Entry) -> None:
        """Withdraw what is contradicted, under the entry that brought it about."""
        for version, words in self._contradicted:
            continue_version(
                version,
                entry=entry,
                reason="The records now show otherwise",
                status=StatementStatus.WITHDRAWN,
                by=None,
                competence=None,
                words=words[:WORDS],
            )


def contradictions(statement: Statement, verdict: Verdict) -> Iterator[str]:
    """Yield, in words, where a verdict allows less than a statement states."""
    end = statement.fit_until or add_months(statement.on, MONTHS)
    for row in statement.stated:
        since = dt.date.fromisoformat(row["since"])
        until = dt.date.fromisoformat(row["until"]) if row["until"] else FOREVER
        days = overlap((since, until), (statement.on, end))
        if days is None:
            continue
        yield from _less(
            row, days, [s for s in verdict.spans if s.system == row["system"]]
        )


def _less(row: dict[str, Any], days: Interval, spans: list[Span]) -> Iterator[str]:
    covered = False
    for span in spans:
        part = overlap(days, (span.since, span.until or FOREVER))
        if part is None:
            continue
        covered = True
        more = [words for words in span.conditions if words not in row["conditions"]]
        if span.level < row["level"] or (more and span.level > Level.STOPPED):
            words = level_words(
                span.level, span.system, whole_vehicle=span.whole_vehicle
            )
            why = span.headline or "; ".join(more)
            yield f"{span.system.label} from {part[0]:%d %b %Y}: {words}. {why}"
    if not covered:
        yield f"{System(row['system']).label}: nothing is known of these days any more."
