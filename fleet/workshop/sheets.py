"""The forecast as a table for a spreadsheet: CSV and XLSX, every cell a text or a number."""

import csv
import datetime as dt
import io
from collections.abc import Iterable, Iterator

from fleet.workshop.forecast import ForecastRow

HEADINGS = (
    "Vehicle",
    "Depot",
    "Code",
    "Requirement",
    "Item",
    "Earliest sensible",
    "Due",
    "Last good day",
    "With concession to",
    "Concession",
    "Date rests on",
    "Hours",
    "Hours in all",
    "Weeks",
    "Place",
    "Exchange unit",
    "Done together",
    "Counted",
)
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
Cell = str | int


def plain(text: str) -> str:
    """
    Return a text that no spreadsheet takes for a formula.

    OWASP, CSV Injection: a cell that begins with = + - @, a tab or a carriage return may
    be run; a quote before it makes it a text.
    """
    return f"'{text}" if text.startswith(_FORMULA) else text


def cells(rows: Iterable[ForecastRow]) -> Iterator[tuple[Cell, ...]]:
    """Yield the headings, and then the cells of each row; days as 2026-11-25."""
    yield HEADINGS
    for row in rows:
        yield tuple(plain(c) if isinstance(c, str) else c for c in _cells(row))


def _cells(row: ForecastRow) -> tuple[Cell, ...]:
    falling, plan = row.falling, row.plan
    return (
        row.number,
        str(row.vehicle.depot or ""),
        falling.code,
        falling.title,
        falling.item.words if falling.item else "",
        _day(row.earliest),
        _day(row.due) or "cannot be worked out",
        _day(row.last_good),
        _day(row.conceded),
        _concession(row),
        rests_on(row),
        row.hours_words if plan else "no plan",
        sum(row.hours.values()),
        plan.weeks if plan else "",
        row.place.label if row.place else "",
        row.group,
        row.together,
        falling.basis if row.time == 0 else "",
    )


def rests_on(row: ForecastRow) -> str:
    """Return what a date rests on."""
    if row.time:
        return "if done on its due date before"
    return "forecast of usage" if row.estimated else "the records"


def _concession(row: ForecastRow) -> str:
    if row.conceded is None:
        return ""
    return "granted" if row.standing else "could be granted"


def _day(day: dt.date | None) -> str:
    return day.isoformat() if day else ""


def as_csv(rows: Iterable[ForecastRow]) -> bytes:
    """Return the rows as CSV (RFC 4180), marked as UTF-8 for spreadsheets."""
    written = io.StringIO(newline="")
    csv.writer(written).writerows(cells(rows))
    return written.getvalue().encode("utf-8-sig")


def as_xlsx(rows: Iterable[ForecastRow]) -> bytes:
    """Return the rows as a workbook of one sheet."""
    from openpyxl import Workbook  # slow to import
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    book = Workbook(write_only=True)
    sheet = book.create_sheet("Forecast")
    sheet.freeze_panes = "A2"
    for values in cells(rows):
        line = [
            WriteOnlyCell(
                sheet,
                # a workbook has no place for control characters
                value=ILLEGAL_CHARACTERS_RE.sub("", v) if isinstance(v, str) else v,
            )
            for v in values
        ]
        for cell in line:
            if isinstance(cell.value, str):
                cell.data_type = "s"
        sheet.append(line)
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()
