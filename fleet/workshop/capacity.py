"""What the workshop has, week by week: hours by skill, roads, pits, closed weeks."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from fleet.workshop.engine.problem import WEEK, Capacity
from fleet.workshop.models import (
    ClosureVersion,
    ShopPlaceVersion,
    WorkTimeVersion,
)
from fleet.workshop.vocabulary import Each, Place

WORKING_DAYS = 5  # Monday to Friday
DAY = dt.timedelta(days=1)


def capacity(start: dt.date, weeks: int) -> Capacity:
    """
    Return what there is in each of so many weeks from a Monday.

    A week is closed when the whole shop is shut on all its working days, Monday to
    Friday: then nothing stands in it and no hours count. Otherwise hours "each week"
    go down in proportion to the working days that are shut, or lie before the first or
    after the last day, to the whole hour below; hours "each of its days" count on every
    day that is not shut, also at a weekend; hours "in all" are spread evenly over the
    weeks of their days that are not closed, the odd ones first. A place counts in a
    week if it is there and not shut itself on every working day. Three queries.
    """
    last = start + dt.timedelta(days=WEEK * weeks) - DAY
    # Past closures too: they bear on how hours "in all" are spread.
    shut = Shut.by(ClosureVersion.objects.current())
    places = list(ShopPlaceVersion.objects.current().exclude(last__lt=start))
    return Capacity(
        hours=_hours(start, weeks, last, shut),
        roads=tuple(_places(places, Place.ROAD, start, weeks, shut)),
        pits=tuple(_places(places, Place.PIT, start, weeks, shut)),
        closed=frozenset(w for w in range(weeks) if shut.week(_monday(start, w))),
    )


def week_of(day: dt.date) -> dt.date:
    """Return the Monday of a day's week."""
    return day - dt.timedelta(days=day.weekday())


def _monday(start: dt.date, week: int) -> dt.date:
    return start + dt.timedelta(days=WEEK * week)


def _working(monday: dt.date) -> list[dt.date]:
    return [monday + n * DAY for n in range(WORKING_DAYS)]


Span = tuple[dt.date, dt.date]


@dataclass(slots=True)
class Shut:
    """When the whole shop is shut, and when one place is."""

    shop: list[Span] = field(default_factory=list)
    places: dict[int, list[Span]] = field(default_factory=dict)

    @classmethod
    def by(cls, closures: Iterable[ClosureVersion]) -> "Shut":
        """Sort closures by what they shut."""
        found = cls()
        for row in closures:
            assert row.last is not None  # a closure ends; the model sees to it
            of = found.shop
            if row.place_id is not None:
                of = found.places.setdefault(row.place_id, [])
            of.append((row.first, row.last))
        return found

    def on(self, day: dt.date, place: int | None = None) -> bool:
        """Say whether the shop, or a place by itself, is shut on a day."""
        spans = self.shop if place is None else self.places.get(place, [])
        return any(first <= day <= last for first, last in spans)

    def week(self, monday: dt.date) -> bool:
        """Say whether the shop is shut on all working days of a week."""
        return all(self.on(day) for day in _working(monday))


def _hours(
    start: dt.date, weeks: int, last: dt.date, shut: Shut
) -> dict[str, tuple[int, ...]]:
    found: dict[str, list[int]] = {}
    rows = WorkTimeVersion.objects.current().filter(first__lte=last)
    for row in rows.exclude(last__lt=start):
        of_skill = found.setdefault(row.skill, [0] * weeks)
        for week, hours in _of_source(row, start, weeks, shut):
            of_skill[week] += hours
    return {skill: tuple(hours) for skill, hours in sorted(found.items())}


def _of_source(
    row: WorkTimeVersion, start: dt.date, weeks: int, shut: Shut
) -> Iterator[tuple[int, int]]:
    """Yield week and hours of one source, for the weeks that are not closed."""
    spread = _spread(row, shut) if row.each == Each.ONCE else {}
    for week in range(weeks):
        monday = _monday(start, week)
        if shut.week(monday):
            continue
        match Each(row.each):
            case Each.WEEK:
                there = sum(_there(row, day, shut) for day in _working(monday))
                yield week, row.hours * there // WORKING_DAYS
            case Each.DAY:
                days = (monday + n * DAY for n in range(WEEK))
                yield week, row.hours * sum(_there(row, day, shut) for day in days)
            case Each.ONCE:
                yield week, spread.get(monday, 0)


def _there(row: WorkTimeVersion, day: dt.date, shut: Shut) -> bool:
    ended = row.last is not None and day > row.last
    return row.first <= day and not ended and not shut.on(day)


def _spread(row: WorkTimeVersion, shut: Shut) -> dict[dt.date, int]:
    """Return the hours of each week, by its Monday, of a source that gives them once."""
    assert row.last is not None  # the model sees to it
    mondays = []
    monday = week_of(row.first)
    while monday <= row.last:
        if not shut.week(monday):
            mondays.append(monday)
        monday += WEEK * DAY
    if not mondays:
        return {}
    each, rest = divmod(row.hours, len(mondays))
    return {monday: each + (n < rest) for n, monday in enumerate(mondays)}


def _places(
    places: Iterable[ShopPlaceVersion],
    kind: Place,
    start: dt.date,
    weeks: int,
    shut: Shut,
) -> Iterator[int]:
    rows = [row for row in places if row.kind == kind]
    for week in range(weeks):
        days = _working(_monday(start, week))
        yield sum(all(_usable(row, day, shut) for day in days) for row in rows)


def _usable(row: ShopPlaceVersion, day: dt.date, shut: Shut) -> bool:
    there = row.first <= day and (row.last is None or day <= row.last)
    return there and not shut.on(day, row.place_id)
