"""Sheets of the running diary: what they look like, and their rows as plain text."""

import csv
import datetime as dt
import io
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from fleet.records.refusing import refusing

LONGEST = 2_000  # rows
LARGEST = 1_000_000  # bytes of the file
UNPACKED = 20_000_000  # bytes of a workbook, which is a packed file
SECOND = 2  # the first row under the headings, as a spreadsheet counts


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, whether it must be filled, what goes into it."""

    heading: str
    needed: bool
    meaning: str
    example: str


COLUMNS = (
    Column("what runs", True, "Its name, up to 100 letters.", "Summer trains"),
    Column("from", True, "First day: 2027-05-01 or 01/05/2027.", "2027-05-01"),
    Column("to", False, "Last day, included. Empty: one day only.", "2027-09-26"),
    Column("days", False, "Sat Sun, Mon-Fri, daily. Empty: daily.", "Sat Sun"),
    Column("system", True, "air or vacuum: what they must be fit braked on.", "air"),
    Column("type", False, "Name or code of the type. Empty: any type.", ""),
    Column("how many", False, "Vehicles. Empty: one.", "4"),
    Column("vehicle", False, "One vehicle by its number, instead of a type.", ""),
    Column("weight", False, "How much a day short counts, 1 to 20. Empty: 1.", "1"),
)
HEADINGS = tuple(column.heading for column in COLUMNS)
EXAMPLES = (
    tuple(column.example for column in COLUMNS),
    ("Santa trains", "2027-12-04", "2027-12-19", "Sat Sun", "air", "", "6", "", "5"),
    ("Gala day", "2027-10-09", "", "", "vacuum", "", "3", "", "10"),
)

Row = dict[str, str]  # text by heading


def read_sheet(name: str, data: bytes) -> list[tuple[int, Row]]:
    """
    Return the rows of a sheet, each with the number a spreadsheet shows for it.

    Takes CSV (comma or semicolon, UTF-8) and XLSX (its first sheet). Empty rows are
    passed over. Raises ValidationError: `too_large`, `not_a_sheet`, `headings`,
    `no_rows`, `too_many_rows`.
    """
    if len(data) > LARGEST:
        raise refusing("The file is larger than 1 MB.", code="too_large", field="file")
    raw = _workbook(data) if name.lower().endswith(".xlsx") else _text(data)
    headings = [str(_plain(cell)).strip().lower() for cell in next(raw, ())]
    _refuse_headings(headings)
    rows = list(_rows(raw, headings))
    if not rows:
        raise refusing("There are no rows in it.", code="no_rows", field="file")
    if len(rows) > LONGEST:
        raise refusing(
            f"More than {LONGEST} rows. Divide it.", code="too_many_rows", field="file"
        )
    return rows


def example_csv() -> bytes:
    """Return an example sheet as CSV."""
    out = io.StringIO()
    csv.writer(out).writerows([HEADINGS, *EXAMPLES])
    return out.getvalue().encode("utf-8-sig")


def example_xlsx() -> bytes:
    """Return an example sheet as a workbook."""
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (HEADINGS, *EXAMPLES):
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _rows(
    raw: Iterable[Sequence[Any]], headings: Sequence[str]
) -> Iterator[tuple[int, Row]]:
    for number, cells in enumerate(raw, start=SECOND):
        if number > SECOND + 2 * LONGEST:
            return
        texts = [_plain(cell) for cell in cells]
        if any(texts):
            yield number, dict(zip(headings, texts, strict=False))


def _refuse_headings(headings: Sequence[str]) -> None:
    unknown = [h for h in headings if h and h not in HEADINGS]
    missing = [c.heading for c in COLUMNS if c.needed and c.heading not in headings]
    double = {h for h in headings if h and headings.count(h) > 1}
    said = []
    if missing:
        said.append(f"Missing from the first row: {', '.join(missing)}.")
    if unknown:
        said.append(f"Not known: {', '.join(unknown)}.")
    if double:
        said.append(f"There twice: {', '.join(sorted(double))}.")
    if said:
        raise refusing(" ".join(said), code="headings", field="file")


def _plain(cell: Any) -> str:
    """Return a cell as a person would have typed it."""
    if cell is None:
        return ""
    if isinstance(cell, dt.datetime):
        return cell.date().isoformat()
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return " ".join(str(cell).split())


def _text(data: bytes) -> Iterator[Sequence[Any]]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refusing(
            "This is neither a workbook (.xlsx) nor CSV in UTF-8.",
            code="not_a_sheet",
            field="file",
        ) from None
    first = text.partition("\n")[0]
    mark = ";" if first.count(";") > first.count(",") else ","
    return _counted(text, mark)


def _counted(text: str, mark: str) -> Iterator[Sequence[Any]]:
    try:
        yield from csv.reader(io.StringIO(text, newline=""), delimiter=mark)
    except csv.Error as error:
        raise refusing(
            f"This CSV cannot be read: {error}.", code="not_a_sheet", field="file"
        ) from None


def _workbook(data: bytes) -> Iterator[Sequence[Any]]:
    from openpyxl import load_workbook

    refused = refusing(
        "This is no workbook that can be read. Save it as .xlsx again, or as CSV.",
        code="not_a_sheet",
        field="file",
    )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(part.file_size for part in packed.infolist()) > UNPACKED:
                raise refusing(
                    "The workbook is too large. Keep only the diary in it.",
                    code="too_large",
                    field="file",
                )
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    except (zipfile.BadZipFile, KeyError, ValueError, OSError):
        raise refused from None
    return iter(book.worksheets[0].iter_rows(values_only=True))
