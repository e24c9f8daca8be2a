"""Traces of a test: a logger's file or typed points read, and what lines take from them."""

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import IO, Any

from django.core import signing

from fleet.engineering.trace_files import layout_in, read_trace
from fleet.engineering.trace_heads import Columns
from fleet.engineering.trace_outline import outline
from fleet.engineering.trace_points import Hold, TracePoints, Wanted, find_points
from fleet.engineering.traces import Trace as Samples
from fleet.engineering.traces import pressure_unit, trace_of
from fleet.engineering.units import UNITS, convert
from fleet.examination.models import ProcedureLine, Trace
from fleet.examination.vocabulary import Found
from fleet.ui.trace_drawing import (
    TraceLimit,
    TraceMark,
    TraceSheet,
    TraceSpan,
    found_on,
)

LARGEST_BYTES = 64 * 2**20
DRAWN_COLUMNS = 300
# Common practice: a brake counts as released when its cylinder is down to this.
RELEASED_BAR = Decimal("0.4")
FILLED_PERCENT = Decimal(95)  # of the maximum: the filling time of position P
LOSS_MINUTES = 5  # over which a line without "per minute" asks the loss
SHORTEST_HOLD_S = 60.0  # a shorter one does not tell what is lost in five minutes
_HUNDRED = 100  # s or kPa, from which on a second decimal tells nothing
_SALT = "examination.trace"
_BESIDE = (
    "values",
    "notes",
    "gaps",
    "spans",
    "read",
    "released_at",
)  # not points, in `found`


@dataclass(frozen=True, slots=True)
class ReadTrace:
    """
    A trace as a record keeps it: the thinned curve, what was found, the file's digest.

    `drawn` are pairs of s and value in `unit`. `found` holds each point by its name with
    `at_s` and `value`; `values` by what they stand for, with `value`, `unit`, `note`;
    `notes`, `gaps`, `spans`, `read`, how the file was understood, and `released_at`, the
    reading at which the brake counted as released.
    """

    name: str
    unit: str
    count: int
    digest: str
    drawn: list[list[float]]
    found: dict[str, Any]


Kept = ReadTrace | Trace  # as it was read, or as a record keeps it


def read_file(
    file: IO[bytes], name: str, columns: Columns, lines: Iterable[ProcedureLine] = ()
) -> ReadTrace:
    """
    Read a logger's file and find what a test asks of it, at the points `lines` set.

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
    return _read(samples, name[-120:], digest.hexdigest(), read, lines)


def read_points(text: str, unit: str, lines: Iterable[ProcedureLine] = ()) -> ReadTrace:
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
    return _read(samples, "", points_digest(text), read, lines)


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
        _name(line.finds, line.quantity)
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


def _read(
    samples: Samples, name: str, digest: str, read: str, lines: Iterable[ProcedureLine]
) -> ReadTrace:
    wanted = _wanted(samples.unit, lines)
    points = find_points(samples, wanted)
    runs = outline(samples, DRAWN_COLUMNS)
    drawn = [[round(at, 3), float(f"{v:.5g}")] for run in runs for at, v in run]
    found = _found(points) | {
        "gaps": [[gap.from_s, gap.until_s] for gap in samples.gaps],
        "read": read,
        "released_at": wanted.release_to,
    }
    return ReadTrace(name, samples.unit, len(samples), digest, drawn, found)


def _wanted(unit: str, lines: Iterable[ProcedureLine]) -> Wanted:
    """Return what to look for: where a line sets no point, what is common practice."""
    points = {line.finds: line.reads_at for line in lines if line.reads_at is not None}
    percent = points.get(Found.FILL_TIME, FILLED_PERCENT)
    released = None
    if UNITS[pressure_unit(unit)].quantity == "pressure":
        at = points.get(Found.RELEASE_TIME, RELEASED_BAR)
        released = float(convert(at, "bar", unit))
    return Wanted(percent=float(percent), release_to=released)


def _found(points: TracePoints) -> dict[str, Any]:
    marks, spans = found_on(points)
    values, notes = _values(points), list(points.notes)
    if points.hold is not None and _name(Found.LEAKAGE, "pressure") not in values:
        notes.append(_why_no_loss(points.hold))
    kinds = {"filled": Found.FILL_TIME, "released": Found.RELEASE_TIME}
    told = [asdict(s) | {"finds": kinds[s.label.split()[0]].value} for s in spans]
    found: dict[str, Any] = {m.label: {"at_s": m.at_s, "value": m.value} for m in marks}
    return found | {"values": values, "notes": notes, "spans": told}


def _name(finds: str, quantity: str) -> str:
    """Return under what a value is kept: a leak has two, a loss and a rate."""
    if finds == Found.LEAKAGE:
        return f"{finds} {'loss' if quantity in {'pressure', 'vacuum'} else 'rate'}"
    return str(finds)


def _values(points: TracePoints) -> dict[str, dict[str, str]]:
    values = {Found.MAXIMUM.value: _value(points.maximum, points.unit)}
    for name, time, ends in (
        (Found.FILL_TIME, points.fill_s, (points.start, points.filled)),
        (Found.RELEASE_TIME, points.release_s, (points.release_start, points.released)),
    ):
        if time is not None:
            within = sum(end.within_s for end in ends if end)
            values[name.value] = _value(time, "s", f", within {within:.2g} s")
    if points.hold is not None and not _rose(points.hold):
        values |= _leak(points.hold, points.unit)
    return values


def _leak(hold: Hold, unit: str) -> dict[str, dict[str, str]]:
    """Return what leaks away a minute, and from a hold long enough in five of them."""
    fall, error = max(hold.fall_per_min, 0.0), hold.error_per_min
    spread = "" if error is None else f", ± {2 * error:.1g}"
    values = {}
    if (rate := f"{unit}/min") in UNITS:
        values[_name(Found.LEAKAGE, "pressure_rate")] = _value(fall, rate, spread)
    held_s = hold.until_s - hold.from_s
    if held_s >= SHORTEST_HOLD_S:
        said = f", at the rate of a hold of {held_s:.0f} s"
        name = _name(Found.LEAKAGE, "pressure")
        values[name] = _value(fall * LOSS_MINUTES, unit, said)
    return values


def _rose(hold: Hold) -> bool:
    """Say whether the pressure rose by more than the scatter of the samples."""
    return hold.fall_per_min < -2 * (hold.error_per_min or 0.0)


def _why_no_loss(hold: Hold) -> str:
    if _rose(hold):
        return "The pressure rose while held: a feed not shut off, or warming air."
    return (
        f"Held for {hold.until_s - hold.from_s:.0f} s: too short to tell what is lost "
        f"in {LOSS_MINUTES} minutes; hold for {SHORTEST_HOLD_S:.0f} s or more."
    )


def _value(number: float, unit: str, within: str = "") -> dict[str, str]:
    size = abs(number)
    places = 3 if size < 1 else 2 if size < _HUNDRED else 1
    typed = f"{number:.{places}f}"
    return {"value": typed, "unit": unit, "note": f"From the trace{within}"}


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
    unit, released = trace.unit, trace.found.get("released_at")
    for line in lines:
        if line.finds == Found.MAXIMUM and UNITS[unit].quantity == line.quantity:
            for limit, what in ((line.low, "at least"), (line.high, "at most")):
                if limit is not None:
                    value = float(convert(limit, line.unit, unit))
                    yield TraceLimit(value, f"maximum {what} {value:.3g} {unit}")
        if line.finds == Found.RELEASE_TIME and released is not None:
            yield TraceLimit(released, f"released at {released:.3g} {unit}")


def _span_words(span: Mapping[str, Any], lines: Iterable[ProcedureLine]) -> str:
    label: str = span["label"]
    for line in lines:
        if line.finds == span["finds"] and line.limits.stated:
            return f"{label}, limit {line.limits.words}"
    return label
