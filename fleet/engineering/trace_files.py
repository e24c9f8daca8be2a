"""Reads the CSV of a pressure logger: columns, delimiter, decimal comma, units, clock."""

import codecs
import datetime as dt
import re
from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import isfinite
from typing import IO

from fleet.engineering.trace_heads import Columns, Layout, layout_of, line_units
from fleet.engineering.traces import MOST_SAMPLES, Trace, ordered_trace, trace_of

CHUNK_BYTES = 1 << 18
# A gauge of 16 bits writes no more different values than this.
MOST_REMEMBERED = 70_000
LONGEST_LINE = 10_000
_DAY_S = 86_400.0
_CLOCK = re.compile(
    r"(?:(\d{4})-(\d\d)-(\d\d)[T ])?(\d{1,2}):(\d\d)(?::(\d\d(?:[.,]\d+)?))?Z?"
)
_WITH_UNIT = re.compile(r"([-+]?[\d.,]+(?:[eE][-+]?\d+)?)\s*([^\d\s.,;][^;]*)")


class _Remembered(dict[str, float]):
    """Numbers by their text: a gauge writes the same few thousand over and over."""

    def __missing__(self, text: str) -> float:
        value = float(text)
        if len(self) < MOST_REMEMBERED:
            self[text] = value
        return value


@dataclass(slots=True)
class _Read:
    """What has been read so far."""

    layout: Layout
    line: int
    times: "array[float]" = field(default_factory=lambda: array("d"))
    values: "array[float]" = field(default_factory=lambda: array("d"))
    skipped: int = 0
    ordered: bool = True
    days: int = 0
    seen: _Remembered = field(default_factory=_Remembered)


def read_trace(file: IO[bytes], columns: Columns | None = None) -> Trace:
    """
    Read a logger's CSV into a trace: seconds and the unit its heading or `columns` gives.

    Takes comma, semicolon, tab, bar or spaces between fields, decimal point or comma, any
    number of lines before the figures, UTF-8, UTF-16 or Latin-1, times in s, ms or min or
    as a clock, alone or after a date (past midnight too). Lines without a number are
    counted in `skipped`. Up to 1 000 000 samples, read piece by piece: memory is that of
    the two columns. Raises ValueError with a sentence for the user, naming the line.
    """
    pieces = _pieces(file)
    head = next(pieces, "")
    if not head.strip():
        raise ValueError("The file is empty: choose the file the logger wrote.")
    layout, first_line, body = layout_of(head, columns or Columns())
    read = _Read(layout, first_line)
    _take(read, body)
    for piece in pieces:
        _take(read, piece)
    if layout.clock and read.times:
        start = read.times[0]
        read.times = array("d", (time - start for time in read.times))
    whole = ordered_trace if read.ordered else trace_of
    return whole(read.times, read.values, layout.unit, skipped=read.skipped)


def layout_in(file: IO[bytes], columns: Columns | None = None) -> Layout:
    """Return how `read_trace` understands a file, from its first piece; raises as it."""
    return layout_of(next(_pieces(file), ""), columns or Columns())[0]


def _pieces(file: IO[bytes]) -> Iterator[str]:
    """Yield the text in pieces of whole lines, each ending in a line feed."""
    raw = file.read(CHUNK_BYTES)
    decoder = codecs.getincrementaldecoder(_encoding(raw))(errors="replace")
    rest = ""
    while raw:
        text = rest + decoder.decode(raw)
        if "\r" in text:
            # A carriage return at the very end may have its line feed in the next piece.
            held = "\r" * text.endswith("\r")
            text = text.removesuffix("\r").replace("\r\n", "\n")
            text = text.replace("\r", "\n") + held
        end = text.rfind("\n") + 1
        rest = text[end:]
        if len(rest) > max(CHUNK_BYTES, LONGEST_LINE):
            raise ValueError("This is no CSV file: it has no lines. Choose another.")
        if end:
            yield text[:end]
        raw = file.read(CHUNK_BYTES)
    rest += decoder.decode(b"", final=True)
    if rest:
        yield rest.replace("\r", "\n").rstrip("\n") + "\n"


def _encoding(raw: bytes) -> str:
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    try:
        raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # A letter cut in two at the end of the piece is no sign of another encoding.
        return "utf-8-sig" if error.start > CHUNK_BYTES - 4 else "latin-1"
    return "utf-8-sig"


def _take(read: _Read, text: str) -> None:
    if not _taken_whole(read, text):
        _take_lines(read, text)
    if len(read.times) > MOST_SAMPLES:
        raise ValueError(
            "The file has more than 1 000 000 samples; cut it, or log more slowly."
        )


def _taken_whole(read: _Read, text: str) -> bool:
    """Take a piece in which every line holds plain numbers; say whether it was one."""
    layout = read.layout
    if layout.clock or layout.delimiter == " " or '"' in text:
        return False
    lines = text.count("\n")
    if layout.decimal == ",":
        text = text.replace(",", ".")
    fields = text.replace("\n", layout.delimiter).split(layout.delimiter)
    if len(fields) != lines * layout.width + 1:
        return False
    fields.pop()
    try:
        times = _times(layout, fields, len(read.times) + read.skipped, lines)
        values = list(map(read.seen.__getitem__, fields[layout.value :: layout.width]))
    except ValueError:
        return False
    if _may_be_infinite(text) and not isfinite(sum(times) + sum(values)):
        return False
    after = not read.times or not times or times[0] >= read.times[-1]
    read.ordered = read.ordered and after and times == sorted(times)
    read.times.fromlist(times)
    read.values.fromlist(values)
    read.line += lines
    return True


def _may_be_infinite(text: str) -> bool:
    """Say whether "nan", "inf" or too great an exponent can stand in the text."""
    return any(letter in text for letter in "nNeE")


def _times(layout: Layout, fields: list[str], before: int, lines: int) -> list[float]:
    if layout.time is None:
        return [(before + i) * layout.step_s for i in range(lines)]
    times = list(map(float, fields[layout.time :: layout.width]))
    if layout.second == 1:
        return times
    return [time * layout.second for time in times]


def _take_lines(read: _Read, text: str) -> None:
    for line in text.split("\n")[:-1]:
        _take_line(read, line)
        read.line += 1


def _take_line(read: _Read, line: str) -> None:
    layout = read.layout
    if not line.strip():
        return
    fields = layout.fields(line)
    try:
        value = _number(fields[layout.value], layout.decimal)
        time = _time(read, fields)
    except (ValueError, IndexError):
        _refuse_other_unit(read, line, fields)
        read.skipped += 1
        return
    if not (isfinite(value) and isfinite(time)):
        read.skipped += 1
        return
    read.ordered = read.ordered and (not read.times or time >= read.times[-1])
    read.times.append(time)
    read.values.append(value)


def _number(text: str, decimal: str) -> float:
    text = text.strip()
    return float(text.replace(",", ".") if decimal == "," else text)


def _time(read: _Read, fields: Sequence[str]) -> float:
    layout = read.layout
    if layout.time is None:
        return (len(read.times) + read.skipped) * layout.step_s
    text = fields[layout.time]
    if not layout.clock:
        return _number(text, layout.decimal) * layout.second
    time = clock_s(text) + read.days * _DAY_S
    if read.times and read.times[-1] - time > _DAY_S / 2:
        read.days += 1
        time += _DAY_S
    return time


def clock_s(text: str) -> float:
    """
    Return the seconds of a time such as 14:03:07.25, with the days of a date before it.

    Raises ValueError for anything else.
    """
    shape = _CLOCK.fullmatch(text.strip())
    if shape is None:
        raise ValueError(f"“{text}” is no time of day.")
    year, month, day, hour, minute, second = shape.groups()
    seconds = int(hour) * 3600 + int(minute) * 60
    seconds_part = float((second or "0").replace(",", "."))
    days = 0
    if year:
        days = dt.date(int(year), int(month), int(day)).toordinal()
    return days * _DAY_S + seconds + seconds_part


def _refuse_other_unit(read: _Read, line: str, fields: Sequence[str]) -> None:
    """Refuse a second heading, and a value that carries another unit."""
    unit, where = read.layout.unit, f"Line {read.line}"
    cell = fields[read.layout.value] if read.layout.value < len(fields) else ""
    worded = _WITH_UNIT.fullmatch(cell.strip())
    others = line_units(worded.group(2) if worded else line)
    if others - {unit}:
        raise ValueError(
            f"{where} is in {min(others - {unit})}, the lines before it in {unit}: give "
            "one recording in one unit."
        )
    if others:
        raise ValueError(
            f"{where} is a second heading: give one recording only, with plain numbers."
        )
