"""What pages show of a trace: its drawing, what was found, and where it came from."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from django.utils.safestring import SafeString

from fleet.examination.judging import with_unit
from fleet.examination.models import ProcedureLine, TestRecord
from fleet.examination.traces import Kept, taken, trace_sheet
from fleet.examination.vocabulary import TRACED, LineKind
from fleet.ui.drawing import to_svg
from fleet.ui.trace_drawing import TraceSheet, trace_drawing, trace_words

PHONE_WIDTH = 350.0
DIGEST_SHOWN = 16  # characters of it, enough to tell files apart


@dataclass(frozen=True, slots=True)
class TraceShown:
    """A trace on a page: drawn for a wide screen and for a phone, and told in words."""

    title: str
    wide: SafeString
    narrow: SafeString
    origin: str
    found: tuple[tuple[str, str, str], ...]  # line, value, where it is from
    notes: tuple[str, ...]
    steps: tuple[str, ...] = ()


def shown_trace(
    trace: Kept, lines: Iterable[ProcedureLine], ident: str, title: str = ""
) -> TraceShown:
    """Return what a page shows of a trace, with what each of `lines` takes from it."""
    asked = [line for line in lines if line.finds in TRACED]
    sheet = trace_sheet(trace, asked)
    title, desc = title or "Trace", trace_words(sheet)
    wide, narrow = (
        to_svg(
            trace_drawing(drawn, width=width, height=height),
            title=title,
            desc=desc,
            ident=f"{ident}-{name}",
            css="trace",
        )
        for name, drawn, width, height in (
            ("wide", sheet, 720.0, 300.0),
            ("narrow", _in_short(sheet), PHONE_WIDTH, 240.0),
        )
    )
    return TraceShown(
        title, wide, narrow, _origin(trace), tuple(_found(trace, asked)),
        tuple(trace.found["notes"]), tuple(trace.found.get("steps", ())),
    )  # fmt: skip


def _in_short(sheet: TraceSheet) -> TraceSheet:
    """Return the sheet with words as short as a phone has room for."""
    spans = (replace(s, label=s.label.partition(", limit ")[0]) for s in sheet.spans)
    limits = (
        replace(one, label=one.label.removeprefix("maximum ")) for one in sheet.limits
    )
    return replace(sheet, spans=tuple(spans), limits=tuple(limits))


def traces_of(record: TestRecord) -> list[TraceShown]:
    """Return the traces of a record for its page; no query where none is asked for."""
    lines = list(record.procedure_revision.lines.all())
    if not any(line.kind == LineKind.TRACE for line in lines):
        return []
    kept = record.traces.select_related("line").order_by("line__order")
    return [
        shown_trace(trace, lines, f"trace-{trace.pk}", trace.line.text)
        for trace in kept
    ]


def _origin(trace: Kept) -> str:
    samples = "sample" if trace.count == 1 else "samples"
    parts = [trace.name] if trace.name else []
    parts += [f"{trace.count:,} {samples}".replace(",", " "), trace.found["read"]]
    return f"{'; '.join(parts)}; SHA-256 {trace.digest[:DIGEST_SHOWN]}"


def _found(
    trace: Kept, lines: Iterable[ProcedureLine]
) -> Iterator[tuple[str, str, str]]:
    for line in lines:
        values = taken(line, trace)
        if values is None:
            yield f"{line.order}. {line.text}", "Not found", ""
        else:
            words = with_unit(values["value"], values["unit"])
            yield f"{line.order}. {line.text}", words, values["note"]
