"""What every paper says beside its subject: when it was made, on what records, cautions."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fleet.engineering.calendar import add_months
from fleet.fitness.findings import Span
from fleet.register.vocabulary import Level, System, level_words
from fleet.ui.cautions import caution as standing_caution
from fleet.ui.drawing import Drawing
from fleet.ui.strip import StripRow, StripSpan, status_strip
from fleet.upkeep.due import later, written

DASH = "\N{EN DASH}"
NOT_REASSESSED = "Not yet reassessed"
NOT_FITTED = "Not fitted"
INSTRUCTION = (
    "Your local maintenance instruction governs every limit and interval shown."
)
UNCONTROLLED = "Uncontrolled when printed"
_MONTHS_BACK, _MONTHS_ON = 6, 18


@dataclass(frozen=True, slots=True)
class Printed:
    """When a paper is made, in local time, and the newest entry it rests on."""

    at: dt.datetime
    entry: int | None = None
    known: dt.datetime | None = None  # local time up to which records count; None: all

    @property
    def time(self) -> str:
        """Return the time in words, with its zone."""
        return f"{written(self.at.date())}, {self.at:%H:%M %Z}".strip()

    @property
    def records(self) -> str:
        """Return what the paper rests on."""
        if self.known is not None:
            at = f"{written(self.known.date())}, {self.known:%H:%M %Z}".strip()
            return f"Only what was recorded up to {at}, entry {self.entry}"
        if self.entry is None:
            return f"Data as of {self.time}; nothing is recorded yet"
        return f"Data as of {self.time}, entry {self.entry}"


@dataclass(frozen=True, slots=True)
class Head:
    """What stands on every page, and the caution that goes with it."""

    title: str
    subject: str
    status_on: str
    remark: str  # how a past or future day is to be read
    generated: str
    records: str
    caution: str


def head(title: str, subject: str, *, on: dt.date, printed: Printed) -> Head:
    """Return the head of a paper about the close of a day."""
    return Head(
        title,
        subject,
        f"Brake status at the close of {written(on)}",
        _remark(on, printed),
        f"Generated {printed.time}",
        printed.records,
        caution(printed.time),
    )


def _remark(on: dt.date, printed: Printed) -> str:
    if printed.known is None:
        return _reading(on, printed.at.date())
    return (
        "As it was known then, read by today's rules. What was recorded later does not "
        "count in this paper."
    )


def _reading(on: dt.date, today: dt.date) -> str:
    if on > today:
        return (
            "A day to come: shown as it will stand if nothing more is recorded. "
            "Dates that rest on usage are forecasts."
        )
    if on < today:
        return f"A day gone by: shown from what is recorded on {written(today)}."
    return ""


def standing_cautions() -> tuple[str, ...]:
    """Return the cautions that go with any limit or due date, as sentences."""
    found = (standing_caution(key) for key in ("local_instruction", "statutory"))
    return tuple(f"{one.title}. {one.text}" for one in found)


def caution(time: str) -> str:
    """Return the caution of every printed verdict."""
    return (
        f"Shows what was recorded at {time}. It is not permission to move. The rule "
        "book and the person in charge decide. Look at the vehicle: if it disagrees "
        "with this sheet, stop and report."
    )


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence, and whether it is to stand out."""

    words: str
    grave: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """A level as its shape and its words."""

    shape: str  # a code of fleet.ui.level_shapes
    words: str


NONE = Mark("none", NOT_FITTED)
STALE = Mark("stale", NOT_REASSESSED)
UNKNOWN = Mark("stale", "Not known")


def mark_of(span: Span | None) -> Mark:
    """Return how the level of a span is shown; None: the system is not fitted."""
    if span is None:
        return NONE
    words = level_words(span.level, span.system, whole_vehicle=span.whole_vehicle)
    return Mark(span.level.code, words)


def strip(
    spans: Iterable[Span],
    systems: Iterable[System],
    *,
    on: dt.date,
    width: float,
    labels: bool = False,
    stale: bool = False,
) -> Drawing | None:
    """
    Return the status strip about a day, a row for each system; None without systems.

    Six months back to eighteen on. A system without spans, and with `stale` every one,
    shows as not yet reassessed.
    """
    rows = strip_rows(spans, systems, on=on, stale=stale)
    return drawn_strip(rows, on=on, width=width, labels=labels)


def strip_rows(
    spans: Iterable[Span],
    systems: Iterable[System],
    *,
    on: dt.date,
    stale: bool = False,
) -> list[StripRow]:
    """Return the rows of the strip about a day."""
    first, _last = strip_window(on)
    ordered = () if stale else sorted(spans, key=lambda span: span.since)
    waiting = (StripSpan(first, None, STALE.shape, STALE.words),)
    return [
        StripRow(
            system.label,
            tuple(_strip_span(s) for s in ordered if s.system is system) or waiting,
        )
        for system in systems
    ]


def drawn_strip(
    rows: Sequence[StripRow], *, on: dt.date, width: float, labels: bool = False
) -> Drawing | None:
    """Return the strip of rows about a day; None without rows."""
    if not rows:
        return None
    first, last = strip_window(on)
    return status_strip(
        rows, first=first, last=last, today=on, width=width, labels=labels
    )


def strip_window(on: dt.date) -> tuple[dt.date, dt.date]:
    """Return the first and last day of the strips about a day."""
    return add_months(on, -_MONTHS_BACK), add_months(on, _MONTHS_ON)


def _strip_span(span: Span) -> StripSpan:
    forecast = any(f.forecast and f.since == span.since for f in span.findings)
    return StripSpan(
        span.since, span.until, span.level.code, span.level.label, forecast=forecast
    )


@dataclass(frozen=True, slots=True)
class Outlook:
    """How long a level holds, and what ends it."""

    until: str
    first: str


def outlook(spans: Iterable[Span], on: dt.date) -> Outlook:
    """
    Return how long the level that one system has on a day will hold, and what ends it.

    Fit is fit with or without conditions; a change between the two is told, but does
    not end it. `spans` are those of one system.
    """
    ahead = sorted(
        (s for s in spans if s.until is None or s.until > on), key=lambda s: s.since
    )
    if not ahead or ahead[0].since > on:
        return Outlook("", "")
    now, rest = ahead[0], ahead[1:]
    if now.level is Level.STOPPED:
        why = "The vehicle itself is not to run" if now.whole_vehicle else now.headline
        return Outlook("", why)
    least = min(now.level, Level.CONDITIONAL)
    before = now
    for span in rest:
        if span.level < least:
            return Outlook(_good_to(span, now.level), _reason(before, span))
        before = span
    if before.until is not None:  # the system is taken off the vehicle
        return Outlook(written(later(before.until, -1)), before.change)
    return Outlook("No end recorded", "")


def _good_to(end: Span, level: Level) -> str:
    forecast = any(f.forecast and f.since == end.since for f in end.findings)
    words = written(later(end.since, -1))
    words += " (forecast)" if forecast else ""
    return words if level >= Level.CONDITIONAL else f"As piped: {words}"


def _reason(before: Span, end: Span) -> str:
    opening = [f.text for f in end.findings if f.since == end.since]
    return before.change or end.headline or "; ".join(opening)
