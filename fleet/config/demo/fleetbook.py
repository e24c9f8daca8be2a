"""What the demo files say: types, vehicles, people and the lapses of their stories."""

import datetime as dt
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.conf import settings

DEMO = Path(settings.BASE_DIR) / "fixtures" / "demo"
PRACTICE = Path(settings.BASE_DIR) / "fixtures" / "practice"


@dataclass(frozen=True, slots=True)
class Lapse:
    """What the generator leaves undone for one vehicle, so that a rule has its example."""

    overdue: tuple[str, ...] = ()  # procedures whose newest test is left out
    never: tuple[str, ...] = ()  # procedures never carried out
    keep: tuple[str, ...] = ()  # positions whose item is never exchanged
    unknown: tuple[str, ...] = ()  # positions whose item has no known date
    silent_days: int = 0  # no usage recorded for so long


@dataclass(frozen=True, slots=True)
class VehiclePlan:
    """One vehicle of the demo: what it is and what is left undone."""

    number: str
    type: str
    depot: str
    lapse: Lapse = field(default_factory=Lapse)


def read(folder: Path, name: str) -> dict[str, Any]:
    """Return a fixture file, its fractions exactly as they are written."""
    with (folder / f"{name}.toml").open("rb") as file:
        return tomllib.load(file, parse_float=Decimal)


def positions_of(book: dict[str, Any], type_: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the positions of a type as keyword mappings, in order."""
    names = ("code", "label", "kind", "scope", "effect_missing")
    rows = [row for name in type_["sets"] for row in book["sets"][name]]
    return [dict(zip(names, row[:5], strict=True)) | row[5] for row in rows]


def vehicles(count: int | None) -> Iterator[VehiclePlan]:
    """Yield the named vehicles of the line, then numbered ones of the same types."""
    book = read(DEMO, "fleet")
    lapses = {number: _lapse(raw) for number, raw in book.get("lapses", {}).items()}
    groups = book["vehicle"]
    named = [
        VehiclePlan(number, g["type"], g["depot"], lapses.get(number, Lapse()))
        for g in groups
        for number in g["numbers"]
    ]
    yield from named[:count]
    for extra in range((count or 0) - len(named)):
        group = groups[extra % len(groups)]
        yield VehiclePlan(f"X {1001 + extra}", group["type"], group["depot"])


def _lapse(raw: dict[str, Any]) -> Lapse:
    values: dict[str, Any] = {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in raw.items()
    }
    return Lapse(**values)


def years_before(day: dt.date, years: float) -> dt.date:
    """Return the day some years earlier, to the nearest day."""
    return day - dt.timedelta(days=round(years * 365.25))
