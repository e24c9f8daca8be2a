"""What the diary wants beside what the board's stored spans say will be fit, week by week."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import accumulate

from django.contrib.humanize.templatetags.humanize import apnumber

from fleet.fitness.models import Stale, StatusSpan
from fleet.register.vocabulary import Level, System
from fleet.workshop.diary import Runner, days_by_week, lines_in, runners
from fleet.workshop.engine.problem import WEEK
from fleet.workshop.models import DiaryLineVersion

Key = tuple[System, str, int]  # "any" and 0, "type" and its key, "vehicle" and its key


@dataclass(frozen=True, slots=True)
class Cover:
    """One line of the diary in one week: what it wants, and the fewest fit on its days."""

    line: DiaryLineVersion
    monday: dt.date
    days: int
    fit: int

    @property
    def short(self) -> int:
        """Return how many are missing on the worst day."""
        return max(0, self.line.vehicles - self.fit)

    @property
    def words(self) -> str:
        """Return it in words."""
        return f"short by {apnumber(self.short)}" if self.short else "enough"


def covers(start: dt.date, weeks: int) -> list[Cover]:
    """
    Return every line of the diary in every week of so many from a Monday.

    As the records stand now: what is planned in the shop is not in it. A vehicle counts
    where it is in traffic and its stored span says fit braked, with conditions too; one
    not yet reassessed does not. Four queries.
    """
    lines = lines_in(start, weeks)
    counts = _counts(lines, start, weeks)
    return [
        Cover(
            line,
            start + dt.timedelta(days=WEEK * week),
            len(days),
            min(counts[_key(line)][(day - start).days] for day in days),
        )
        for line in lines
        for week, days in sorted(days_by_week(line, start, weeks).items())
    ]


def _key(line: DiaryLineVersion) -> Key:
    system = System(line.system)
    if line.vehicle_id is not None:
        return system, "vehicle", line.vehicle_id
    if line.vehicle_type_id is not None:
        return system, "type", line.vehicle_type_id
    return system, "any", 0


def _counts(
    lines: Iterable[DiaryLineVersion], start: dt.date, weeks: int
) -> dict[Key, list[int]]:
    """Return the vehicles fit on each day of the window, for what the lines ask for."""
    length = WEEK * weeks
    steps = {_key(line): [0] * (length + 1) for line in lines}
    vehicles = {vehicle.key: vehicle for vehicle in runners()}
    stale = set(Stale.objects.values_list("vehicle", flat=True))
    last = start + dt.timedelta(days=length - 1)
    spans = StatusSpan.objects.between(start, last).filter(level__gte=Level.CONDITIONAL)
    for key, name, since, until in spans.order_by().values_list(
        "vehicle", "system", "since", "until"
    ):
        vehicle = vehicles.get(key)
        if vehicle is None or key in stale or System(name) not in vehicle.braked:
            continue
        first = max(0, (since - start).days)
        end = length if until is None else min(length, (until - start).days)
        for what in _asked_of(vehicle, System(name)):
            if what in steps:
                steps[what][first] += 1
                steps[what][end] -= 1
    return {what: list(accumulate(step)) for what, step in steps.items()}


def _asked_of(vehicle: Runner, system: System) -> tuple[Key, ...]:
    return (
        (system, "any", 0),
        (system, "type", vehicle.type),
        (system, "vehicle", vehicle.key),
    )
