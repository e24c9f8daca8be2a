"""A finding: an interval in which something recorded, or missing, bears on the brake."""

import datetime as dt
from dataclasses import dataclass, field
from typing import Literal

from fleet.register.vocabulary import Effect, Level, Scope, System

# What a finding may lean on; `witnesses` has a reader for each.
EvidenceKind = Literal[
    "cock",
    "concession",
    "defect",
    "equipment",
    "fitting",
    "instrument",
    "isolation",
    "matrix",
    "notice",
    "released",
    "requirement",
    "storage",
    "test",
    "type",
    "usage",
    "vehicle",
    "visit",
    "work",
]


@dataclass(frozen=True, slots=True)
class Evidence:
    """A record a finding leans on: what kind, its key and the words to show."""

    kind: EvidenceKind
    id: int | str
    label: str


@dataclass(frozen=True, slots=True)
class Finding:
    """
    What is wrong or worth knowing from `since` up to, not including, `until`.

    `text` says what and by how much; `clears` the shortest action that ends it;
    `condition` the plain words crew must see; `missing` marks an unknown fact.
    """

    code: str
    since: dt.date
    until: dt.date | None
    effect: Effect
    scope: Scope
    text: str
    clears: str
    source: str
    condition: str = ""
    position: str = ""
    equipment: int | None = None
    evidence: tuple[Evidence, ...] = field(default=())
    missing: bool = False
    forecast: bool = False  # the date rests on a forecast of usage

    def holds_on(self, day: dt.date) -> bool:
        """Say whether the finding holds at the close of a day."""
        return self.since <= day and (self.until is None or day < self.until)


@dataclass(frozen=True, slots=True)
class Span:
    """
    The level of one system from `since` up to `until`, and the findings behind it.

    `until` None: for as long as nothing more is recorded. `change` says what the next
    span is due to. `whole_vehicle`: a finding of vehicle scope stops it in any train.
    """

    system: System
    since: dt.date
    until: dt.date | None
    level: Level
    headline: str = ""  # the heaviest finding's text; "" where nothing is outstanding
    conditions: tuple[str, ...] = ()
    whole_vehicle: bool = False
    change: str = ""
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Due:
    """The date a requirement falls due for a subject, with the basis that produced it."""

    requirement: str
    revision: int
    title: str
    equipment: int | None
    position: str
    due_on: dt.date | None  # None: cannot be worked out, see basis
    last_good_day: dt.date | None  # due_on plus tolerance
    basis: str
    scope: Scope
    effect: Effect
    procedure: str = ""
    forecast: bool = False


@dataclass(frozen=True, slots=True)
class Verdict:
    """All that follows from one file: findings, spans per system, due dates."""

    findings: tuple[Finding, ...]
    spans: tuple[Span, ...]
    due: tuple[Due, ...] = ()

    def span_on(self, system: System, day: dt.date) -> Span | None:
        """Return the span of a system at the close of a day; None if not fitted then."""
        for span in self.spans:
            held = span.since <= day and (span.until is None or day < span.until)
            if span.system is system and held:
                return span
        return None
