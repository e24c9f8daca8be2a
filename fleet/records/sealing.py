"""
Digests of what a deed wrote, chained from entry to entry. No database here.

Format 1. A row is its table, its key and its columns as text that does not depend on the
database, less those at their default and the one column that may still be written; a seal covers the entry, the
digests of the rows the deed wrote, the rows it closed, and the seal before. Names of
people are in none of them: they stand in a table of their own, and rows hold its keys.
"""

import datetime as dt
import json
from collections.abc import Callable, Iterable
from decimal import Decimal
from enum import Enum
from hashlib import sha256
from typing import Any, TypeAlias

from django.db import models

FORMAT = 1
ROW_DIGITS = 32  # hexadecimal: 128 bits tell rows apart and cannot be aimed at
Line: TypeAlias = tuple[str, int, str]  # table, key, digest of the row
Closing: TypeAlias = tuple[str, int, int]  # table, key, entry that closed it


def row_line(row: models.Model) -> Line:
    """Return the line of a row: its table, its key and the digest of its columns."""
    fields = sealed_fields(type(row))
    values = [getattr(row, field.attname) for field in fields]
    return row._meta.label_lower, row.pk, digest_of(type(row), values)


def sealed_fields(model: type[models.Model]) -> list[models.Field[Any, Any]]:
    """
    Return the columns a digest covers: all but the key and what may still be closed.

    A column the database works out from the others says nothing of its own.
    """
    return [
        field
        for field in model._meta.concrete_fields
        if not (field.primary_key or field.generated)
        and field.attname != "closed_by_id"
    ]


def digest_of(model: type[models.Model], values: Iterable[Any]) -> str:
    """Return the digest of a row from the values of its sealed columns, in their order."""
    plain = {}
    for field, value in zip(sealed_fields(model), values, strict=True):
        text = _plain(field, value)
        # A column added later stands at its default in older rows: their digest stays.
        if text != _plain(field, field.get_default()):
            plain[field.attname] = text
    return sha256(_text(plain)).hexdigest()[:ROW_DIGITS]


def seal_digest(
    number: int,
    previous: str,
    entry: models.Model,
    lines: Iterable[Line],
    closings: Iterable[Closing],
) -> str:
    """Return the digest that seals an entry behind the one before, under a format."""
    about = {
        field.attname: _plain(field, getattr(entry, field.attname))
        for field in entry._meta.concrete_fields
    }
    body = [
        number,
        previous,
        about,
        [list(x) for x in lines],
        [list(x) for x in closings],
    ]
    return sha256(_text(body)).hexdigest()


def _text(value: Any) -> bytes:
    return json.dumps(
        value, sort_keys=True, ensure_ascii=False, separators=(",", ":")
    ).encode()


def _plain(field: models.Field[Any, Any], value: Any) -> Any:
    """Return a value as both databases give it back, whatever it was set from."""
    if value is None or isinstance(value, bool):
        return value
    for kinds, plain in _PLAIN:
        if isinstance(field, kinds):
            return plain(field, value)
    return str(value.value if isinstance(value, Enum) else value)


def _decimal(field: Any, value: Any) -> str:
    places = Decimal(1).scaleb(-(field.decimal_places or 0))
    return f"{Decimal(str(value)).quantize(places):f}"


def _json(_field: Any, value: Any) -> Any:
    # PostgreSQL knows no minus zero.
    return json.loads(json.dumps(value), parse_float=lambda text: float(text) + 0.0)


# The first that fits: a date and time is a date, too.
_PLAIN: tuple[tuple[Any, Callable[[Any, Any], Any]], ...] = (
    (models.JSONField, _json),
    (models.DecimalField, _decimal),
    (
        models.DateTimeField,
        lambda _, at: at.astimezone(dt.UTC).isoformat(timespec="microseconds"),
    ),
    (
        (models.DateField, models.TimeField),
        lambda field, value: field.to_python(value).isoformat(),
    ),
    (models.FloatField, lambda _, value: repr(float(value))),
    ((models.IntegerField, models.ForeignKey), lambda _, value: int(value)),
)
