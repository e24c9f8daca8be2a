"""How the blocks and the piston travel of a vehicle wear, and when limits are reached."""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from operator import attrgetter

from django.db.models import Q

from fleet.engineering.calendar import Moment
from fleet.engineering.units import convert
from fleet.engineering.wear import (
    Grows,
    Standing,
    WearReading,
    WearTrend,
    release_limit_mm,
    standing,
    wear_trend,
)
from fleet.examination.asking import place_labels
from fleet.examination.models import ProcedureLine, Reading, TestRecord
from fleet.examination.vocabulary import Found, Stage
from fleet.register.models import Vehicle
from fleet.upkeep.due import written
from fleet.upkeep.models import RequirementRevision

LATEST_SHOWN = 6


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

    asked: str  # the text of the line
    title: str
    readings: tuple[tuple[str, str], ...]  # day, mm, newest first
    rate: str
    limits: tuple[Limit, ...]
    standing: str
    grave: bool


@dataclass(frozen=True, slots=True)
class _Worn:
    """What one thing was measured at, and what it is held against, mm."""

    line: ProcedureLine
    readings: list[WearReading]
    months: int | None  # till the next examination

    @property
    def condemning(self) -> float | None:
        return _in_mm(self.line.condemned, self.line.unit)

    @property
    def release(self) -> float | None:
        down = self.line.grows is Grows.DOWN
        return _in_mm(self.line.low if down else self.line.high, self.line.unit)

    def trend(self, mm: float | None) -> WearTrend | None:
        """Return the recent rate and when a limit is reached; None: one reading."""
        if mm is None:
            return None
        try:
            return wear_trend(self.readings, mm, grows=self.line.grows)
        except ValueError:
            return None  # renewed since: a single reading has no trend

    def own_release(self, rate: float | None) -> float | None:
        """Return the limit to release by at a rate of wear; None: nothing tells it."""
        if rate is None or self.condemning is None or self.months is None:
            return None
        grows = self.line.grows
        return release_limit_mm(self.condemning, rate, self.months, grows=grows)


def wear_of(
    vehicle: Vehicle, on: dt.date, *, known_at: int | None = None
) -> list[Wear]:
    """
    Return what wears on a vehicle, by line and place, as measured up to a day.

    `known_at` is the newest entry whose knowledge counts; None: what is known now.
    """
    rows = list(
        Reading.objects.filter(
            Q(line__finds=Found.STROKE) | Q(line__condemned__isnull=False),
            line__quantity="length",
            value__isnull=False,
            record__in=TestRecord.objects.known_at(known_at).filter(
                vehicle=vehicle, on_latest__lte=on
            ),
        )
        .select_related("line__revision", "record")
        .order_by("line__text", "position", "record__on_latest", "record_id")
    )
    labels = place_labels(vehicle, Moment.on(on)) if rows else {}
    months = _months(on) if rows else {}
    found = []
    for (_text, place), same in groupby(rows, key=lambda r: (r.line.text, r.position)):
        listed = list(same)
        line = listed[-1].line
        worn = _Worn(
            line,
            list(_by_day(listed, line.grows)),
            months.get(line.revision.procedure_id),
        )
        found.append(_wear(worn, labels.get(place, place)))
    return found


def _months(on: dt.date) -> Mapping[int, int]:
    """Return, by procedure, the months after which a requirement asks for it again."""
    asked = RequirementRevision.objects.in_force(on).filter(
        procedure__isnull=False, months__isnull=False
    )
    rows = asked.order_by("-months").values_list("procedure_id", "months")
    return dict(rows)  # of several the shortest stays


def _wear(worn: _Worn, place: str) -> Wear:
    readings, grows = worn.readings, worn.line.grows
    main = worn.trend(worn.condemning if worn.condemning is not None else worn.release)
    own = worn.own_release(main.rate if main else None)
    stands = _standing(worn, own)
    return Wear(
        asked=worn.line.text,
        title=f"{worn.line.text}, {place}" if place else worn.line.text,
        readings=tuple(
            (written(r.on), f"{r.mm:g} mm") for r in readings[: -LATEST_SHOWN - 1 : -1]
        ),
        rate=_rate(main, grows),
        limits=tuple(_limits(worn, main, own)),
        standing=_sentence(stands),
        grave=stands is not None and stands is not Standing.IN_ORDER,
    )


def _limits(worn: _Worn, main: WearTrend | None, own: float | None) -> Iterator[Limit]:
    """Yield the limit to release by as laid down, by its own wear, and to condemn by."""
    side = "below" if worn.line.grows is Grows.DOWN else "above"
    if worn.release is not None:
        name = f"Not to be released {side}, as laid down"
        yield _limit(name, worn.release, worn.trend(worn.release))
    if own is not None and main is not None:
        name = (
            f"Not to be released {side}, by its own wear till the next examination "
            f"({worn.months} months)"
        )
        edge = (
            worn.own_release(main.rate + main.band) if main.band is not None else None
        )
        band = "two readings have no band"
        if edge is not None:
            band = f"{edge:.1f} mm at the upper edge of the rate"
        yield Limit(name, own, _day(_reached(worn, own)), band)
    if worn.condemning is not None:
        yield _limit(f"Condemned {side}", worn.condemning, worn.trend(worn.condemning))


def _reached(worn: _Worn, mm: float) -> dt.date | None:
    trend = worn.trend(mm)
    return trend.reached_on if trend else None


def _by_day(rows: Iterable[Reading], grows: Grows) -> Iterator[WearReading]:
    """Yield one reading a day: as it was left, of several the worst."""
    worst = min if grows is Grows.DOWN else max
    dated = [row for row in rows if row.record.on.latest]
    for day, same in groupby(dated, key=attrgetter("record.on_latest")):
        found = list(same)
        left = [row for row in found if row.line.stage == Stage.AS_LEFT] or found
        yield WearReading(day, worst(_mm(row) for row in left))


def _mm(row: Reading) -> float:
    assert row.value is not None
    return float(convert(row.value, row.unit, "mm"))


def _in_mm(limit: Decimal | None, unit: str) -> float | None:
    return None if limit is None else float(convert(limit, unit, "mm"))


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


def _standing(worn: _Worn, own: float | None) -> Standing | None:
    """
    Return how the last reading stands; None where no limit is laid down.

    Of the limit to release by as laid down and the one by its own wear the stricter
    counts. A line without a condemning limit has the one to release by alone.
    """
    mm, grows, condemning = worn.readings[-1].mm, worn.line.grows, worn.condemning
    if condemning is None:
        if worn.release is None:
            return None
        found = standing(mm, condemning_mm=worn.release, release_mm=None, grows=grows)
        beyond = found is Standing.CONDEMNED
        return Standing.NOT_TO_RELEASE if beyond else found
    asked = [one for one in (worn.release, own) if one is not None]
    stricter = max if grows is Grows.DOWN else min
    release = stricter(asked) if asked else None
    return standing(mm, condemning_mm=condemning, release_mm=release, grows=grows)


def _sentence(found: Standing | None) -> str:
    if found is None:
        return "No limit is laid down."
    return f"{found.value[:1].upper()}{found.value[1:]}."
