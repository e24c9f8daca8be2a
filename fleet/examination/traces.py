"""Traces of a test: a logger's file or typed points read, and what lines take from them."""

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from decimal import Decimal
from typing import IO, Any

from django.core import signing

from fleet.engineering.trace_files import layout_in, read_trace
from fleet.engineering.trace_found import Wanted
from fleet.engineering.trace_heads import Columns
from fleet.engineering.trace_outline import outline
from fleet.engineering.trace_points import find_points
from fleet.engineering.traces import Trace as Samples
from fleet.engineering.traces import pressure_unit, trace_of
from fleet.engineering.units import UNITS, convert
from fleet.examination.models import ProcedureLine, Trace
from fleet.examination.trace_values import found_in, steps_in, value_name
from fleet.examination.vocabulary import OF_TRAIN_PIPE, Found
from fleet.ui.trace_drawing import (
    TraceLimit,
    TraceMark,
    TraceSheet,
    TraceSpan,
)

LARGEST_BYTES = 64 * 2**20
DRAWN_COLUMNS = 300
# Common practice: a brake counts as released when its cylinder is down to this.
RELEASED_BAR = Decimal("0.4")
FILLED_PERCENT = Decimal(95)  # of the maximum: the filling time of position P
_SALT = "examination.trace"
_LEVELS = {
    Found.RELEASE_TIME: ("released_at", "released at"),
    Found.FALL_TIME: ("fallen_to", "fallen to"),
    Found.RISE_TIME: ("released_at", "back at"),
}
# Not points, in `found`.
_BESIDE = (
    "values",
    "notes",
    "gaps",
    "spans",
    "read",
    "released_at",
    "fallen_to",
    "steps",
)


@dataclass(frozen=True, slots=True)
class ReadTrace:
    """
    A trace as a record keeps it: the thinned curve, what was found, the file's digest.

    `drawn` are pairs of s and value in `unit`. `found` holds each point by its name with
    `at_s` and `value`; `values` by what they stand for, with `value`, `unit`, `note`;
    `notes`, `gaps`, `spans`, `read`, how the file was understood, `released_at`, the
    reading at which the brake counted as released, `fallen_to`, that to which a train
    pipe is timed, and `steps`, those of a graduated application, in words.
    """

    name: str
    unit: str
    count: int
    digest: str
    drawn: list[list[float]]
    found: dict[str, Any]


Kept = ReadTrace | Trace  # as it was read, or as a record keeps it


def read_file(
    file: IO[bytes],
    name: str,
    columns: Columns,
    lines: Iterable[ProcedureLine] = (),
    application: int | None = None,
) -> ReadTrace:
    """
    Read a logger's file and find what a test asks of it, at the points `lines` set.

    Of several applications in it the one of that number counts; None: the highest.

    Raises ValueError with a sentence for the user: empty, flat, reversed, of two units,
    too large, or with a column or unit nobody told.
    """
    size = file.seek(0, 2)
    if size > LARGEST_BYTES:
        raise ValueError(
            f"The file has {size / 2**20:.0f} MB; {LARGEST_BYTES // 2**20} MB are read at "
            "most. Cut it to the one test, or log more slowly."
        )
    file.seek(0)
    digest = hashlib.sha256()
    while piece := file.read(1 << 20):
        digest.update(piece)
    file.seek(0)
    samples = read_trace(file, columns)
    file.seek(0)
    read = layout_in(file, columns).words
    named = (name[-120:], digest.hexdigest(), read)
    return _read(samples, named, lines, application)


def read_points(
    text: str,
    unit: str,
    lines: Iterable[ProcedureLine] = (),
    application: int | None = None,
) -> ReadTrace:
    """
    Read points typed one to a line, seconds and value, and find what a test asks.

    Raises ValueError naming the line, and as `read_file`.
    """
    if not unit:
        raise ValueError("Choose the unit of the points.")
    pairs = [
        _pair(number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip()
    ]
    times, values = [p[0] for p in pairs], [p[1] for p in pairs]
    samples = trace_of(times, values, unit)
    read = f"typed in, s and {samples.unit}"
    return _read(samples, ("", points_digest(text), read), lines, application)


def points_digest(text: str) -> str:
    """Return the digest of typed points: of their words, whatever the spaces between."""
    return hashlib.sha256("\n".join(text.split()).encode()).hexdigest()


def read_again(kept: Trace) -> ReadTrace:
    """Return what a record keeps as it was read, to keep it in another."""
    names = ("name", "unit", "count", "digest", "drawn", "found")
    return ReadTrace(**{name: getattr(kept, name) for name in names})


def sealed(trace: ReadTrace) -> str:
    """Return a trace as a page carries it from one sending to the next, signed."""
    return signing.dumps(asdict(trace), salt=_SALT, compress=True)


def unsealed(text: str) -> ReadTrace | None:
    """Return the trace a page carried; None where it is none of ours."""
    try:
        return ReadTrace(**signing.loads(text, salt=_SALT))
    except signing.BadSignature:
        return None


def taken(line: ProcedureLine, trace: Kept) -> Mapping[str, str] | None:
    """Return `value`, `unit` and `note` a line takes from a trace; None: it gives none."""
    found: Mapping[str, str] | None = trace.found["values"].get(
        value_name(line.finds, line.quantity)
    )
    if found is None or not line.measured:
        return None
    return found if UNITS[found["unit"]].quantity == line.quantity else None


def taken_by(
    lines: Iterable[ProcedureLine], trace: ReadTrace
) -> Iterator[dict[str, Any]]:
    """Yield what services take for every line that finds its value in a trace."""
    for line in lines:
        if line.finds and (values := taken(line, trace)) is not None:
            yield {"line": line, **values}


def trace_sheet(trace: Kept, lines: Iterable[ProcedureLine] = ()) -> TraceSheet:
    """Return what is drawn of a trace, with the limits that `lines` hold it against."""
    found: Mapping[str, Any] = trace.found
    asked = [line for line in lines if line.finds]
    return TraceSheet(
        runs=_runs(trace.drawn, found.get("gaps", ())),
        unit=trace.unit,
        marks=tuple(
            TraceMark(mark["at_s"], mark["value"], name)
            for name, mark in found.items()
            if name not in _BESIDE
        ),
        limits=tuple(_limits(trace, asked)),
        spans=tuple(
            TraceSpan(span["from_s"], span["until_s"], _span_words(span, asked))
            for span in found.get("spans", ())
        ),
    )


def _pair(number: int, line: str) -> tuple[float, float]:
    parts = line.replace(";", " ").split()
    try:
        time, value = map(float, parts)
    except ValueError:
        raise ValueError(
            f"Point {number}, “{line.strip()}”: write the seconds and the reading, with "
            "points and no commas, such as “12.5 3.8”."
        ) from None
    return time, value


def reads_train_pipe(lines: Iterable[ProcedureLine]) -> bool:
    """Say whether lines read a trace of a train pipe, which falls on application."""
    return any(line.finds in OF_TRAIN_PIPE for line in lines)


def _read(
    samples: Samples,
    named: tuple[str, str, str],
    lines: Iterable[ProcedureLine],
    application: int | None,
) -> ReadTrace:
    name, digest, read = named
    wanted = replace(_wanted(samples.unit, list(lines)), application=application)
    points = find_points(samples, wanted)
    runs = outline(samples, DRAWN_COLUMNS)
    drawn = [[round(at, 3), float(f"{v:.5g}")] for run in runs for at, v in run]
    found = found_in(points) | {
        "gaps": [[gap.from_s, gap.until_s] for gap in samples.gaps],
        "read": read,
        "released_at": wanted.release_to,
        "fallen_to": wanted.fill_to,
        "steps": list(steps_in(points)),
    }
    return ReadTrace(name, samples.unit, len(samples), digest, drawn, found)


def _wanted(unit: str, lines: Sequence[ProcedureLine]) -> Wanted:
    """Return what to look for: where a line sets no point, what is common practice."""
    set_at = {line.finds: line for line in lines if line.reads_at is not None}
    if reads_train_pipe(lines):
        levels = [
            _level(set_at.get(finds), unit)
            for finds in (Found.RISE_TIME, Found.FALL_TIME)
        ]
        return Wanted(release_to=levels[0], fill_to=levels[1], falls=True)
    percent = _point(set_at.get(Found.FILL_TIME), FILLED_PERCENT)
    released = None
    if UNITS[pressure_unit(unit)].quantity == "pressure":
        at = _point(set_at.get(Found.RELEASE_TIME), RELEASED_BAR)
        released = float(convert(at, "bar", unit))
    return Wanted(percent=float(percent), release_to=released)


def _point(line: ProcedureLine | None, usual: Decimal) -> Decimal:
    """Return the point a line sets, else the usual one."""
    return usual if line is None or line.reads_at is None else line.reads_at


def _level(line: ProcedureLine | None, unit: str) -> float | None:
    """Return the level a line sets in the unit of a trace; it has to be of one kind."""
    if line is None or line.reads_at is None:
        return None
    meant, logged = (UNITS[name].quantity for name in (line.level_unit, unit))
    if meant != logged:
        raise ValueError(
            f"Line {line.order} reads a {meant}, and the trace is of a {logged}. Choose "
            "the right column and unit."
        )
    return float(convert(line.reads_at, line.level_unit, unit))


def _runs(
    drawn: Sequence[Sequence[float]], gaps: Iterable[Sequence[float]]
) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Return the curve broken where the logger wrote nothing."""
    begins = sorted(until_s for _, until_s in gaps)
    runs: list[list[tuple[float, float]]] = [[]]
    for at_s, value in drawn:
        while begins and at_s >= begins[0] - 0.001:
            begins.pop(0)
            runs.append([])
        runs[-1].append((at_s, value))
    return tuple(tuple(run) for run in runs if run)


def _limits(trace: Kept, lines: Iterable[ProcedureLine]) -> Iterator[TraceLimit]:
    unit, told = trace.unit, trace.found
    for line in lines:
        if line.finds == Found.MAXIMUM and UNITS[unit].quantity == line.quantity:
            for limit, what in ((line.low, "at least"), (line.high, "at most")):
                if limit is not None:
                    value = float(convert(limit, line.unit, unit))
                    yield TraceLimit(value, f"maximum {what} {value:.3g} {unit}")
        key, words = _LEVELS.get(Found(line.finds), ("", ""))
        if (level := told.get(key)) is not None:
            yield TraceLimit(level, f"{words} {level:.3g} {unit}")


def _span_words(span: Mapping[str, Any], lines: Iterable[ProcedureLine]) -> str:
    label: str = span["label"]
    for line in lines:
        if line.finds == span["finds"] and line.limits.stated:
            return f"{label}, limit {line.limits.words}"
    return label
