"""How the blocks and the piston travel of a vehicle wear, and when limits are reached."""

import datetime as dt
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from operator import attrgetter

from django.db.models import Q

from fleet.engineering.units import convert
from fleet.engineering.wear import (
    Grows,
    Standing,
    WearReading,
    WearTrend,
    standing,
    wear_trend,
)
from fleet.examination.models import ProcedureLine, Reading
from fleet.examination.vocabulary import Found, Stage
from fleet.register.models import Vehicle
from fleet.upkeep.due import written

BLOCKS = "Block thickness"  # how the text of a line of block thickness begins
LATEST_SHOWN = 6
# A criterion that says so lays the condemning limit down beside the line's own limit,
# which is the one not to release beyond.
CONDEMNED = re.compile(r"condemned (?:below|above) (\d+(?:\.\d+)?) mm", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit in mm, when it is reached at the recent rate, and between which days."""

    name: str
    mm: float
    reached: str
    band: str


@dataclass(frozen=True, slots=True)
class Wear:
    """One thing that wears: its last readings, its rate, its limits, how it stands."""

    title: str
    readings: tuple[tuple[str, str], ...]  # day, mm, newest first
    rate: str
    limits: tuple[Limit, ...]
    standing: str
    grave: bool


def wear_of(vehicle: Vehicle) -> list[Wear]:
    """Return what wears on a vehicle, by line and place; one query."""
    lines = Q(line__finds=Found.STROKE) | Q(line__text__startswith=BLOCKS)
    rows = (
        Reading.objects.filter(
            lines,
            line__quantity="length",
            value__isnull=False,
            record__vehicle=vehicle,
            record__closed_by__isnull=True,
        )
        .exclude(record__change="retracted")
        .select_related("line", "record")
        .order_by("line__text", "position", "record__on_latest", "record_id")
    )
    groups = groupby(rows, key=lambda r: (r.line.text, r.position))
    return [_wear(place, list(found)) for (_text, place), found in groups]


def condemning_limit(line: ProcedureLine) -> float | None:
    """Return the condemning limit a line's criterion lays down, mm; None if it does not."""
    said = CONDEMNED.search(line.criterion)
    return float(said[1]) if said else None


def _wear(place: str, rows: list[Reading]) -> Wear:
    line = rows[-1].line
    grows = Grows.DOWN if line.text.startswith(BLOCKS) else Grows.UP
    readings = list(_by_day(rows, grows))
    last = readings[-1].mm
    release, condemning = _release_limit(line, grows), condemning_limit(line)
    named = (("Not to be released beyond", release), ("Condemned beyond", condemning))
    stated = [(name, mm) for name, mm in named if mm is not None]
    trends = [(name, mm, _trend(readings, mm, grows)) for name, mm in stated]
    stands = _standing(last, release, condemning, grows)
    return Wear(
        title=f"{line.text}, {place}" if place else line.text,
        readings=tuple(
            (written(r.on), f"{r.mm:g} mm") for r in readings[: -LATEST_SHOWN - 1 : -1]
        ),
        rate=_rate(trends[0][2] if trends else None, grows),
        limits=tuple(_limit(*each) for each in trends),
        standing=_sentence(stands),
        grave=stands is not None and stands is not Standing.IN_ORDER,
    )


def _by_day(rows: Iterable[Reading], grows: Grows) -> Iterator[WearReading]:
    """Yield one reading a day: as it was left, of several the worst."""
    worst = min if grows is Grows.DOWN else max
    dated = [row for row in rows if row.record.on.latest]
    for day, same in groupby(dated, key=attrgetter("record.on_latest")):
        found = list(same)
        left = [row for row in found if row.line.stage == Stage.AS_LEFT] or found
        yield WearReading(day, worst(map(_mm, left)))


def _mm(row: Reading) -> float:
    assert row.value is not None
    return float(convert(row.value, row.unit, "mm"))


def _release_limit(line: ProcedureLine, grows: Grows) -> float | None:
    limit = line.low if grows is Grows.DOWN else line.high
    return None if limit is None else float(convert(limit, line.unit, "mm"))


def _trend(readings: list[WearReading], mm: float, grows: Grows) -> WearTrend | None:
    try:
        return wear_trend(readings, mm, grows=grows)
    except ValueError:
        return None  # renewed since: a single reading has no trend


def _rate(trend: WearTrend | None, grows: Grows) -> str:
    if trend is None:
        return "No rate yet: two readings are needed since the part was renewed."
    spread = (
        "error not known" if trend.band is None else f"± {trend.band:.1f} mm at 95 %"
    )
    if trend.rate <= 0:
        return f"No wear seen in {trend.readings} readings ({spread})."
    return (
        f"{grows.value.capitalize()} by {trend.rate:.1f} mm a year ({spread}), from "
        f"{trend.readings} readings since {written(trend.since)}."
    )


def _limit(name: str, mm: float, trend: WearTrend | None) -> Limit:
    if trend is None:
        return Limit(name, mm, "Not known", "")
    reached = _day(trend.reached_on)
    if trend.band is None:
        return Limit(name, mm, reached, "two readings have no band")
    band = f"between {_day(trend.earliest_on)} and {_day(trend.latest_on).lower()}"
    return Limit(name, mm, reached, band)


def _day(day: dt.date | None) -> str:
    return "Not foreseen" if day is None else written(day)


def _standing(
    mm: float, release: float | None, condemning: float | None, grows: Grows
) -> Standing | None:
    """Return how the last reading stands; None where no limit is laid down."""
    if release is None and condemning is None:
        return None
    limits = (release, condemning) if condemning is not None else (None, release)
    assert limits[1] is not None
    found = standing(mm, condemning_mm=limits[1], release_mm=limits[0], grows=grows)
    only_release = condemning is None and found is Standing.CONDEMNED
    return Standing.NOT_TO_RELEASE if only_release else found


def _sentence(found: Standing | None) -> str:
    if found is None:
        return "No limit is laid down."
    return f"{found.value[:1].upper()}{found.value[1:]}."
