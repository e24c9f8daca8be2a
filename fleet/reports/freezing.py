"""A statement frozen as values that JSON can hold, and drawn again from them alone."""

import datetime as dt
from dataclasses import asdict, fields, is_dataclass, replace
from types import UnionType
from typing import Any, get_args, get_origin, get_type_hints

from fleet.fitness.findings import Verdict
from fleet.reports.sheet import drawn_strip, strip_rows
from fleet.reports.statement import STRIP_WIDTH, StatementSheet, systems_of
from fleet.ui.strip import StripRow


def frozen(sheet: StatementSheet, verdict: Verdict, on: dt.date) -> dict[str, Any]:
    """Return all that the paper says; its strip as rows, for a drawing is drawn anew."""
    rows = strip_rows(verdict.spans, systems_of(verdict), on=on)
    said = {
        "sheet": asdict(replace(sheet, strip=None)),
        "strip": [asdict(row) for row in rows],
        "on": on,
    }
    return {name: _plain(value) for name, value in said.items()}


def thawed(paper: dict[str, Any]) -> StatementSheet:
    """Return the sheet that was frozen."""
    on = dt.date.fromisoformat(paper["on"])
    sheet: StatementSheet = _typed(StatementSheet, paper["sheet"])
    rows = [_typed(StripRow, row) for row in paper["strip"]]
    drawn = drawn_strip(rows, on=on, width=STRIP_WIDTH, labels=True)
    return replace(sheet, strip=drawn)


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _plain(part) for name, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(part) for part in value]
    return value.isoformat() if isinstance(value, dt.date) else value


def _typed(kind: Any, value: Any) -> Any:
    """Return a value as the type that a field of a dataclass names."""
    if value is None:
        return None
    if is_dataclass(kind) and isinstance(kind, type):
        hints = get_type_hints(kind)
        return kind(
            **{f.name: _typed(hints[f.name], value[f.name]) for f in fields(kind)}
        )
    if get_origin(kind) is tuple:
        parts = get_args(kind)
        if parts[-1] is Ellipsis:
            return tuple(_typed(parts[0], part) for part in value)
        return tuple(_typed(p, part) for p, part in zip(parts, value, strict=True))
    if get_origin(kind) is UnionType:
        return _typed(get_args(kind)[0], value)
    return dt.date.fromisoformat(value) if kind is dt.date else value
