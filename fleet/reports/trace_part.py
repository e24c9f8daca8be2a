"""A trace as a certificate shows it: the drawing, where it is from, what was read off it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from fleet.examination.judging import with_unit
from fleet.examination.models import ProcedureLine, Trace
from fleet.examination.traces import taken, trace_sheet
from fleet.examination.vocabulary import TRACED
from fleet.reports.answers import asked_words
from fleet.ui.drawing import Drawing
from fleet.ui.trace_drawing import trace_drawing

DIGEST_SHOWN = 16  # characters of it, enough to tell files apart


@dataclass(frozen=True, slots=True)
class TracePart:
    """A trace: its heading, the drawing, its origin, and the values lines took from it."""

    title: str
    drawing: Drawing
    origin: str
    found: tuple[tuple[str, str, str], ...]  # line, value, how far it can be relied on
    notes: tuple[str, ...]


def trace_part(number: int, trace: Trace, lines: Iterable[ProcedureLine]) -> TracePart:
    """Return what a certificate shows of a trace held against some lines."""
    asked = [line for line in lines if line.finds in TRACED]
    samples = "sample" if trace.count == 1 else "samples"
    named = (trace.name, f"{trace.count} {samples}", trace.found["read"])
    return TracePart(
        title=f"Trace {number}: line {trace.line.order}, {asked_words(trace.line)}",
        drawing=trace_drawing(trace_sheet(trace, asked)),
        origin=f"{'; '.join(filter(None, named))}; SHA-256 "
        f"{trace.digest[:DIGEST_SHOWN]}.",
        found=tuple(_found(trace, asked)),
        notes=(*trace.found.get("steps", ()), *trace.found["notes"]),
    )


def _found(
    trace: Trace, lines: Iterable[ProcedureLine]
) -> Iterator[tuple[str, str, str]]:
    for line in lines:
        values = taken(line, trace)
        name = f"{line.order}. {asked_words(line)}"
        if values is None:
            yield name, "Not found", ""
        else:
            yield name, with_unit(values["value"], values["unit"]), values["note"]
