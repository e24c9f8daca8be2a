"""What of a group is where, what is needed when, and where it will be short."""

import calendar
import datetime as dt
import heapq
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.contrib.humanize.templatetags.humanize import apnumber
from django.db.models import Count, Exists, OuterRef, Subquery

from fleet.register.models import DistributorParticulars, EquipmentVersion, Fitting
from fleet.register.vocabulary import EquipmentState, Timing
from fleet.workshop.exchange import Coming, items_away, overdue_in_store
from fleet.workshop.forecast import Ask, forecast
from fleet.workshop.lapsed import Lapse
from fleet.workshop.models import ConsignmentVersion
from fleet.workshop.naming import contractor_names

FITTED, READY, BENCH = "fitted", "serviceable in store", "on the own bench"
OVERDUE = "in store, overdue"
CONTRACTOR, OTHER = "at a contractor", "in store, not serviceable"
PLACES = (FITTED, READY, OVERDUE, BENCH, CONTRACTOR, OTHER)
MONTHS_AHEAD = 12


@dataclass(frozen=True, slots=True)
class Unit:
    """An item of a group and where it is."""

    version: EquipmentVersion
    place: str  # one of PLACES
    where: str  # the vehicle and position, the store, or the contractor
    doubtful: str = ""  # what speaks against it


def counts_of(today: dt.date) -> dict[str, Counter[str]]:
    """Return how many items of each group are in each place. Four queries at most."""
    here = (
        Fitting.objects.current().open_ended().filter(equipment=OuterRef("equipment"))
    )
    rows = EquipmentVersion.objects.newest().exclude(group="")
    rows = rows.exclude(state=EquipmentState.SCRAPPED).annotate(
        on_vehicle=Exists(here.filter(vehicle__isnull=False)),
        in_store=Exists(here.filter(store__isnull=False)),
        is_away=Exists(items_away().filter(equipment=OuterRef("equipment"))),
    )
    found: dict[str, Counter[str]] = defaultdict(Counter)
    names = ("group", "state", "on_vehicle", "in_store", "is_away")
    for group, *said, number in (
        rows.order_by().values_list(*names).annotate(number=Count("pk"))
    ):
        found[group][_place(*said)] += number
    for lapse in overdue_in_store(today).values():
        found[lapse.group][READY] -= 1
        found[lapse.group][OVERDUE] += 1
    return found


def _place(state: str, on_vehicle: bool, in_store: bool, is_away: bool) -> str:  # noqa: FBT001  # one row of the register
    if on_vehicle:
        return FITTED
    if state == EquipmentState.AT_CONTRACTOR:
        return CONTRACTOR
    if is_away:
        return BENCH
    ready = in_store and state == EquipmentState.SERVICEABLE
    return READY if ready else OTHER


def units_of(code: str, today: dt.date) -> list[Unit]:
    """Return the items of a group, scrapped ones left out. Seven queries at most."""
    rows = EquipmentVersion.objects.for_list().filter(group=code)
    rows = rows.exclude(state=EquipmentState.SCRAPPED).select_related("equipment")
    away = _whose()
    overdue = overdue_in_store(today)
    return [
        _unit(
            row,
            overdue.get(row.equipment_id),
            is_away=row.equipment_id in away,
            contractor=away.get(row.equipment_id, ""),
        )
        for row in rows
    ]


def _whose() -> dict[int, str]:
    """Return the contractor of each item that is away; "" for the own bench. Two queries."""
    names = contractor_names()
    sent = ConsignmentVersion.objects.current().filter(
        consignment=OuterRef("consignment")
    )
    rows = items_away().annotate(contractor=Subquery(sent.values("contractor")[:1]))
    return {
        equipment: names.get(contractor, "")
        for equipment, contractor in rows.values_list("equipment", "contractor")
    }


def _unit(row: Any, lapse: Lapse | None, *, is_away: bool, contractor: str) -> Unit:
    """Return a unit from a row `with_place`."""
    fitted = row.at_vehicle is not None
    place = _place(row.state, fitted, row.at_store is not None, is_away)
    if fitted:
        where = f"{row.at_number}, {row.at_label or row.at_position}"
        doubt = "also recorded as away: put one of the two right" if is_away else ""
        return Unit(row, place, where, doubt)
    if place == CONTRACTOR:  # the store it went from is only where it comes back to
        where = contractor or "contractor not recorded"
        doubt = "" if is_away else "in no consignment: put one of the two right"
        return Unit(row, place, where, doubt)
    where = row.at_store or "no place recorded"
    if lapse:
        return Unit(row, OVERDUE, where, lapse.words)
    return Unit(row, place, where)


def mismatches(units: Sequence[Unit]) -> list[str]:
    """Return, in words, in what the items of one group differ though they should not."""
    keys = [unit.version.equipment_id for unit in units]
    rated = DistributorParticulars.objects.current().open_ended()
    rated = rated.filter(equipment__in=keys)
    values: dict[str, Counter[str]] = {
        "kind": Counter(u.version.get_kind_display().lower() for u in units),
        "type designation": Counter(u.version.designation for u in units),
        "rated pressure": Counter(_bar(u.version.pressure_bar) for u in units),
        "bore": Counter(f"{u.version.bore_mm or ''} mm".lstrip() for u in units),
        "bracket": Counter(row.bracket for row in rated),
        "timing": Counter(
            Timing(row.timing).label.lower() if row.timing else "" for row in rated
        ),
        "maximum cylinder pressure": Counter(
            _bar(row.max_cylinder_bar) for row in rated
        ),
    }
    return [
        f"{what.capitalize()}: {_shares(counted)}."
        for what, counted in values.items()
        if len({v for v in counted if v not in {"", "mm"}}) > 1
    ]


def _bar(value: object) -> str:
    return "" if value is None else f"{value} bar"


def _shares(counted: Counter[str]) -> str:
    told = [
        (v if v not in {"", "mm"} else "not stated", n)
        for v, n in sorted(counted.items())
    ]
    return ", ".join(f"{n} {value}" for value, n in told)


@dataclass(slots=True)
class Month:
    """What is needed of a group in a month, and how far it is there."""

    first: dt.date
    needed: int = 0
    there: int = 0  # of those needed, there in time
    late: list[dt.date] = field(default_factory=list)  # when the others come back

    @property
    def missing(self) -> int:
        """Return how many never come back within what is known."""
        return self.needed - self.there - len(self.late)

    @property
    def short(self) -> int:
        """Return how many are not there in time."""
        return self.needed - self.there

    @property
    def words(self) -> str:
        """Return it in words: "three needed, two there, one comes back in June 2027"."""
        there = "none" if not self.there else apnumber(self.there)
        said = [f"{apnumber(self.needed)} needed", f"{there} there"]
        for (year, month), n in sorted(
            Counter((day.year, day.month) for day in self.late).items()
        ):
            verb = "comes" if n == 1 else "come"
            when = f"{calendar.month_name[month]} {year}"
            said.append(f"{apnumber(n)} {verb} back in {when}")
        if self.missing:
            verb = "has" if self.missing == 1 else "have"
            said.append(f"{apnumber(self.missing)} {verb} no unit coming")
        return ", ".join(said)


def due_units(today: dt.date) -> dict[str, list[dt.date]]:
    """
    Return the days of a year on which work that takes an exchange unit falls due, by group.

    Every time counts, as the forecast has it: the later ones as if the work were done
    on its due date before. What is overdue or cannot be dated counts today. As many
    queries as a forecast takes.
    """
    found: dict[str, list[dt.date]] = defaultdict(list)
    for row in forecast(Ask(months=MONTHS_AHEAD), today):
        if row.group:
            found[row.group].append(max(row.due or today, today))
    return found


def months_of(
    needed: Iterable[dt.date],
    *,
    first: dt.date,
    stock: int,
    returns: Iterable[Coming],
    turnaround: int | None,
) -> list[Month]:
    """
    Return the months in which units of a group are needed, and how far they are there.

    Each need takes the unit that is there first; the one taken off is serviceable again
    after the turnaround. A need that must wait takes the next unit that comes back.
    Returns expected before `first` are overdue, and counted on by nobody.
    """
    ready = [first] * stock
    for one in returns:
        if one.expected_on >= first:
            ready += [one.expected_on] * one.units
    heapq.heapify(ready)
    months: dict[dt.date, Month] = {}
    for day in sorted(needed):
        begin = day.replace(day=1)
        month = months.setdefault(begin, Month(begin))
        month.needed += 1
        if not ready:
            continue
        there = heapq.heappop(ready)
        if there <= day:
            month.there += 1
        else:
            month.late.append(there)
        if turnaround is not None:
            heapq.heappush(ready, max(day, there) + dt.timedelta(weeks=turnaround))
    return [months[begin] for begin in sorted(months)]
