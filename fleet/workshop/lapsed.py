"""Exchange units in store whose own work is overdue, so that none is counted on."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from fleet.engineering.calendar import Moment
from fleet.examination.models import TestRecord
from fleet.register.models import EquipmentVersion
from fleet.upkeep.due import Anchor, Period, course, later, written
from fleet.upkeep.models import RequirementRevision
from fleet.upkeep.vocabulary import CountedFrom, Subject
from fleet.workshop.falling import HOLDING


class Lapse(NamedTuple):
    """What of a unit is overdue, and from which day it was."""

    group: str
    since: dt.date
    title: str

    @property
    def words(self) -> str:
        """Return it in words: "distributor overhaul overdue since 3 May 2027"."""
        return f"{self.title[:1].lower()}{self.title[1:]} overdue since {written(self.since)}"


def lapsed_units(units: Sequence[EquipmentVersion], today: dt.date) -> dict[int, Lapse]:
    """
    Return those of some units in store that are overdue by the calendar, by item.

    The register works out no due dates for what is on no vehicle. So this counts only
    what is past whatever else may hold: months and days from the last pass, or from the
    day it was made, of requirements in force that would hold a vehicle up. Whether a
    pass can be relied on, usage, and what stands still in storage are left to the dates
    worked out once it is fitted. Two queries at most.
    """
    requirements = list(_requirements(today))
    passes = _passes({unit.equipment_id for unit in units}, requirements)
    found: dict[int, Lapse] = {}
    for unit in units:
        overdue = [
            Lapse(unit.group, later(last, 1), row.title)
            for row in requirements
            if _bears(row, unit)
            for last in [_last_good(row, unit, passes)]
            if last is not None and last < today
        ]
        if overdue:
            found[unit.equipment_id] = min(overdue, key=lambda lapse: lapse.since)
    return found


def _requirements(today: dt.date) -> Iterable[RequirementRevision]:
    rows = RequirementRevision.objects.in_force(today).filter(
        subject=Subject.EQUIPMENT,
        effect__in=HOLDING,
        storage_credit_days=None,
    )
    found: Iterable[RequirementRevision] = rows.exclude(counted_from=CountedFrom.FITTED)
    return found


Passes = dict[tuple[int, int], list[Moment]]  # by item and procedure


def _passes(items: set[int], requirements: Iterable[RequirementRevision]) -> Passes:
    procedures = {row.procedure_id for row in requirements if row.procedure_id}
    rows = TestRecord.objects.current().filter(
        passed=True,
        equipment__in=items,
        procedure_revision__procedure__in=procedures,
    )
    found: Passes = defaultdict(list)
    for row in rows.select_related("procedure_revision"):
        assert row.equipment_id is not None  # asked for by item
        key = row.equipment_id, row.procedure_revision.procedure_id
        found[key].append(row.on)
    return found


def _bears(row: RequirementRevision, unit: EquipmentVersion) -> bool:
    # An item of no known designation may be the one that is meant.
    meant = not unit.designation or row.designation in {"", unit.designation}
    return row.kind == unit.kind and meant


def _last_good(
    row: RequirementRevision, unit: EquipmentVersion, passes: Passes
) -> dt.date | None:
    period = Period(
        months=row.months, days=row.calendar_days, tolerance_days=row.tolerance_days
    )
    if not period.counts_calendar:
        return None
    done = passes.get((unit.equipment_id, row.procedure_id or 0), [])
    made = row.counted_from == CountedFrom.MADE
    start = Anchor(unit.made, "made") if made else None
    due = course(done, period, start=start).due
    return due.last_good_day if due else None
