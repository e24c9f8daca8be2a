"""How a logger's file is laid out: where its figures begin, its columns and its units."""

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from fleet.engineering.traces import pressure_unit
from fleet.engineering.units import UNITS, unit_named

DELIMITERS = (";", "\t", "|", ",", " ")
SAMPLE_LINES = 200
SECONDS = {"s": 1.0, "ms": 0.001, "min": 60.0, "h": 3600.0}
_TIME_WORDS = re.compile(r"\b(time|zeit|elapsed|seconds?|sec|clock|t)\b", re.IGNORECASE)
_NUMBER = re.compile(r"[-+]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][-+]?\d+)?")
_CLOCK = re.compile(r"(?:\d{4}-\d\d-\d\d[T ])?\d{1,2}:\d\d(?::\d\d(?:[.,]\d+)?)?Z?")
_DATE = re.compile(r"\d{4}-\d\d-\d\d|\d{1,2}[./]\d{1,2}[./]\d{4}")
_BRACKETED = re.compile(r"[\[(]([^\])]+)[\])]")


@dataclass(frozen=True, slots=True)
class Columns:
    """
    Which columns to read, counted from 1 or by their heading; None is looked for.

    `unit` and `time_unit` (s, ms, min, h) where the heading does not say, or to confirm
    it; `step_s` the time from sample to sample where the file has no time column.
    """

    time: int | str | None = None
    value: int | str | None = None
    unit: str = ""
    time_unit: str = ""
    step_s: float | None = None


@dataclass(frozen=True, slots=True)
class Layout:
    """How the figures stand in a file; `time` is None for evenly logged values."""

    delimiter: str
    decimal: str
    width: int
    time: int | None
    value: int
    unit: str
    second: float = 1.0
    clock: bool = False
    step_s: float = 1.0

    @property
    def words(self) -> str:
        """Return how the file is understood, columns counted from 1."""
        value = f"{self.unit} from column {self.value + 1}"
        if self.time is None:
            return f"{value}, a sample every {self.step_s:g} s"
        name = next((n for n, s in SECONDS.items() if s == self.second), "s")
        return f"time in {'clock time' if self.clock else name} from column {self.time + 1}, {value}"

    def fields(self, line: str) -> list[str]:
        """Return the fields of a line."""
        return split(line, self.delimiter)


@dataclass(frozen=True, slots=True)
class _Head:
    """The lines before the figures, and the first lines of figures, as fields."""

    names: list[str]
    units: list[str]
    rows: list[list[str]]
    delimiter: str
    decimal: str


def layout_of(text: str, columns: Columns) -> tuple[Layout, int, str]:
    """
    Return the layout, the number of the first line of figures, and the text from there.

    Raises ValueError with a sentence for the user where a column or unit is not told.
    """
    lines = text.split("\n")
    delimiter, decimal = _style(lines[:SAMPLE_LINES])
    first = _first_figures(lines, delimiter)
    head = _head(lines, first, delimiter, decimal)
    value, time = _chosen(head, columns)
    clock = time is not None and bool(_CLOCK.fullmatch(head.rows[0][time].strip()))
    layout = Layout(
        delimiter,
        decimal,
        len(head.rows[0]),
        time,
        value,
        _unit(head, value, columns),
        1.0 if clock or time is None else _second(head, time, columns),
        clock,
        columns.step_s or 1.0,
    )
    return layout, first + 1, "\n".join(lines[first:])


def split(line: str, delimiter: str) -> list[str]:
    """Return the fields of a line, quotes taken off."""
    if delimiter == " ":
        return line.split()
    if '"' in line:
        return next(csv.reader([line], delimiter=delimiter))
    return line.split(delimiter)


def line_units(text: str) -> frozenset[str]:
    """Return the units of pressure or vacuum named in a line of words."""
    words = [text, *re.split(r"[\s;,|\[\]()]+", text), *_BRACKETED.findall(text)]
    found = (_pressure_unit(word) for word in words)
    return frozenset(unit for unit in found if unit)


def _style(lines: list[str]) -> tuple[str, str]:
    """Return delimiter and decimal sign: those that make the most lines of figures."""
    best, most = (",", "."), 0
    for delimiter in DELIMITERS:
        for decimal in (".", ","):
            if decimal == delimiter and not any('"' in line for line in lines):
                continue
            count = _figures(lines, delimiter, decimal)
            if count > most:
                best, most = (delimiter, decimal), count
    if not most:
        raise ValueError(
            "No line of the file holds figures; save it as CSV, with a time and a "
            "pressure on each line."
        )
    return best


def _figures(lines: list[str], delimiter: str, decimal: str) -> int:
    """Count what speaks for a style: figures in lines of two and more, then of one."""
    count = 0
    wrong = "," if decimal == "." else "."
    for line in lines:
        fields = split(line, delimiter)
        good = sum(_is_figure(f, wrong) for f in fields)
        if fields and good == len([f for f in fields if f.strip()]):
            count += 3 * good if good > 1 else good
    return count


def _is_figure(field: str, wrong: str = "") -> bool:
    field = field.strip()
    if _CLOCK.fullmatch(field) or _DATE.fullmatch(field):
        return True
    return bool(_NUMBER.fullmatch(field)) and not (wrong and wrong in field)


def _first_figures(lines: list[str], delimiter: str) -> int:
    for at, line in enumerate(lines):
        if not _mostly_figures(line, delimiter):
            continue
        following = next((ln for ln in lines[at + 1 :] if ln.strip()), line)
        alike = len(split(following, delimiter)) == len(split(line, delimiter))
        if alike and _mostly_figures(following, delimiter):
            return at
    raise ValueError("No line of the file holds figures; save it as CSV.")


def _mostly_figures(line: str, delimiter: str) -> bool:
    fields = [field for field in split(line, delimiter) if field.strip()]
    return bool(fields) and 2 * sum(map(_is_figure, fields)) >= len(fields)


def _head(lines: list[str], first: int, delimiter: str, decimal: str) -> _Head:
    rows = [split(ln, delimiter) for ln in lines[first : first + 20] if ln.strip()]
    width = len(rows[0])
    above = [split(line, delimiter) for line in lines[:first] if line.strip()]
    named = [[f.strip() for f in row] for row in above if len(row) == width]
    if delimiter == " " and not named and above:
        named = [re.split(r"\s{2,}", lines[first - 1].strip())]
    units, names = [""] * width, [""] * width
    if named and all(_is_unit(word) for word in named[-1] if word):
        units = named.pop()
    if named and len(named[-1]) == width:
        names = named[-1]
    return _Head(names, units, rows, delimiter, decimal)


def _is_unit(word: str) -> bool:
    word = word.strip("[]() ").casefold()
    return word in SECONDS or word in {"sec", "hh:mm:ss"} or _any_unit(word) != ""


def _chosen(head: _Head, columns: Columns) -> tuple[int, int | None]:
    """Return the places of the value and of the time."""
    width = len(head.rows[0])
    time = _place(head, columns.time, "time")
    value = _place(head, columns.value, "pressure")
    if time is None and columns.step_s is None:
        time = _time_column(head, value)
    if time is None and not columns.step_s:
        raise ValueError("Say which column is the time, or how far samples are apart.")
    if value is None:
        value = _value_column(head, time)
    if value == time or value >= width:
        raise ValueError("Choose two different columns for time and pressure.")
    return value, time


def _place(head: _Head, wanted: int | str | None, what: str) -> int | None:
    if wanted is None:
        return None
    width = len(head.rows[0])
    if isinstance(wanted, int):
        if not 1 <= wanted <= width:
            raise ValueError(
                f"The file has {width} columns; there is no column {wanted} for the {what}."
            )
        return wanted - 1
    names = [name.casefold() for name in head.names]
    if wanted.strip().casefold() not in names:
        listed = ", ".join(f"“{name}”" for name in head.names if name) or "no headings"
        raise ValueError(f"No column is headed “{wanted}”; the file has {listed}.")
    return names.index(wanted.strip().casefold())


def _time_column(head: _Head, value: int | None) -> int | None:
    for at, name in enumerate(head.names):
        dated = bool(_DATE.fullmatch(head.rows[0][at].strip()))
        if at != value and not dated and (_TIME_WORDS.search(name) or _time_unit(name)):
            return at
    for at in range(len(head.rows[0])):
        if at != value and _rises(head, at):
            return at
    return None


def _holds_numbers(head: _Head, at: int) -> bool:
    cells = (row[at].strip() for row in head.rows if at < len(row))
    return any(_NUMBER.fullmatch(cell) for cell in cells)


def _rises(head: _Head, at: int) -> bool:
    try:
        texts = [row[at].replace(",", ".") for row in head.rows]
    except IndexError:
        return False
    if _CLOCK.fullmatch(texts[0].strip()):
        return True
    if not _holds_numbers(head, at):
        return False
    numbers = [float(text) for text in texts if _NUMBER.fullmatch(text.strip())]
    # A single line of figures tells no order: the first column is the time.
    return all(a < b for a, b in pairwise(numbers))


def _value_column(head: _Head, time: int | None) -> int:
    width = len(head.rows[0])
    rest = [i for i in range(width) if i != time and _holds_numbers(head, i)]
    worded = [i for i in rest if _named_unit(head, i)]
    choice = worded or rest
    if not choice:
        raise ValueError("The file has no column of pressures beside the time.")
    if len(choice) > 1:
        names = [head.names[i] or f"column {i + 1}" for i in choice]
        raise ValueError(f"Say which column is the pressure: {', '.join(names)}.")
    return choice[0]


def _unit(head: _Head, value: int, columns: Columns) -> str:
    named = _named_unit(head, value)
    if not columns.unit.strip():
        if not named:
            raise ValueError("Give the unit of the pressure; the file does not say it.")
        return named
    unit = pressure_unit(columns.unit)
    # Millibar of vacuum and of pressure are written alike; the choice decides.
    if named and named != unit:
        raise ValueError(
            f"The file's heading says {named}, but {unit} was chosen: give {named}, or "
            "correct the heading."
        )
    return unit


def _named_unit(head: _Head, at: int) -> str:
    for text in (*_words(head.units[at]), *_words(head.names[at])):
        unit = _pressure_unit(text)
        if unit:
            return unit
    return ""


def _second(head: _Head, time: int, columns: Columns) -> float:
    named = _time_unit(head.units[time]) or _time_unit(head.names[time])
    chosen = columns.time_unit.strip().casefold()
    if chosen and chosen not in SECONDS:
        raise ValueError(
            f"“{columns.time_unit}” is no unit of time here; use s, ms, min or h."
        )
    if chosen and named and chosen != named:
        raise ValueError(f"The heading gives time in {named}, but {chosen} was chosen.")
    return SECONDS[chosen or named or "s"]


def _time_unit(text: str) -> str:
    for word in _words(text):
        plain = {"sec": "s", "seconds": "s", "secs": "s"}.get(
            word.casefold(), word.casefold()
        )
        if plain in SECONDS:
            return plain
    return ""


def _words(text: str) -> Iterator[str]:
    """Yield what may be a unit: the words in brackets first, then the last word."""
    yield from (word.strip() for word in _BRACKETED.findall(text))
    yield text.strip("[]() ")
    yield from (word for word in re.split(r"[\s_/]+", text.strip()) if word)


def _pressure_unit(text: str) -> str:
    unit = _any_unit(text)
    return unit if unit and UNITS[unit].quantity in {"pressure", "vacuum"} else ""


def _any_unit(text: str) -> str:
    try:
        return unit_named(text) if text.strip() else ""
    except ValueError:
        return ""
