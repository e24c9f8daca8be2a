"""Concessions as pages show them: how each stands on a day, how old, what they defer."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from fleet.fitness.deferring import deferred_to
from fleet.fitness.facts import ConcessionFact
from fleet.fitness.status import current_verdict
from fleet.register.models import Fitting
from fleet.register.vocabulary import EquipmentKind
from fleet.upkeep.conceding import Checked, held_days, recheck_due
from fleet.upkeep.due import later, written
from fleet.upkeep.models import Concession, ConcessionVersion, Recheck
from fleet.upkeep.vocabulary import ConcessionStatus

ASKED, LAPSED, IN_FORCE, TO_COME, EXPIRED, WITHDRAWN, REFUSED = (
    "Awaits a decision",
    "Lapsed: re-check overdue or terms not kept",
    "In force",
    "Granted, still to begin",
    "Expired",
    "Withdrawn",
    "Refused",
)
_ORDER = (ASKED, LAPSED, IN_FORCE, TO_COME, EXPIRED, WITHDRAWN, REFUSED)


@dataclass(slots=True)
class ConcessionRow:
    """A concession, all its grants in order, and how it stands on a day."""

    concession: Concession
    on: dt.date
    versions: list[Any]  # ConcessionVersion with number and serial, as `for_list`
    rechecks: list[Recheck] = field(default_factory=list)

    @property
    def granted(self) -> list[Any]:
        """Return what was granted, withdrawn later or not."""
        return [version for version in self.versions if version.granted]

    @property
    def waiting(self) -> Any:
        """Return what is asked and not decided; None if nothing is."""
        newest = self.versions[-1]
        return newest if newest.status == ConcessionStatus.ASKED else None

    @property
    def running(self) -> Any:
        """Return the grant whose days include the day, else the next; None if none."""
        ahead = (version for version in self.granted if self.on < version.until)
        return next(ahead, None)

    @property
    def subject(self) -> str:
        """Return the vehicle or the item in words."""
        first = self.versions[0]
        item = self.concession.equipment
        if item is None:
            return first.number or "vehicle"
        return f"{EquipmentKind(item.kind).label} {first.serial}"

    @property
    def against(self) -> str:
        """Return the requirement or the defect in words."""
        defect, requirement = self.concession.defect, self.concession.requirement
        return f"Defect: {defect.title}" if defect else f"Requirement {requirement}"

    @property
    def standing(self) -> str:
        """Return how it stands on the day, in words."""
        running = self.running
        if running is None:
            return _over(self)
        if self.on < running.since:
            return TO_COME
        return IN_FORCE if _held_on(running, self._checks, self.on) else LAPSED

    @property
    def rank(self) -> tuple[int, dt.date]:
        """Order what wants a decision or a re-check first."""
        at = _ORDER.index(ASKED if self.waiting else self.standing)
        return at, self.last_day or dt.date.max

    @property
    def first_granted(self) -> dt.date | None:
        """Return the day it was first granted."""
        return self.granted[0].decided_on if self.granted else None

    @property
    def age_days(self) -> int | None:
        """Return the days since it was first granted."""
        first = self.first_granted
        return None if first is None else (self.on - first).days

    @property
    def renewals(self) -> int:
        """Return how often it has been renewed."""
        return max(0, len(self.granted) - 1)

    @property
    def last_day(self) -> dt.date | None:
        """Return the last day it holds, or held; of one asked for, that asked for."""
        last = self.running or (self.granted or self.versions)[-1]
        return later(last.until, -1)

    @property
    def days_left(self) -> int | None:
        """Return the days left to it, the day itself not counted; None once over."""
        running = self.running
        return None if running is None else (running.until - self.on).days - 1

    @property
    def recheck(self) -> dt.date | None:
        """Return the last day for the next re-check; None if none is to come."""
        running = self.running
        if running is None:
            return None
        due = recheck_due(
            running.since, running.until, running.recheck_days, self._checks
        )
        return due if due < running.until else None

    @property
    def recheck_overdue(self) -> bool:
        """Say whether the next re-check is overdue."""
        return self.recheck is not None and self.recheck < self.on

    @property
    def _checks(self) -> list[Checked]:
        return [Checked(r.checked_on, r.holds) for r in self.rechecks]


def _held_on(version: Any, checks: Sequence[Checked], day: dt.date) -> bool:
    held = held_days(version.since, version.until, version.recheck_days, checks)
    return any(since <= day < until for since, until in held)


def _over(row: ConcessionRow) -> str:
    if not row.granted:
        return ASKED if row.waiting else REFUSED
    withdrawn = row.granted[-1].status == ConcessionStatus.WITHDRAWN
    return WITHDRAWN if withdrawn else EXPIRED


def concession_rows(day: dt.date) -> list[ConcessionRow]:
    """Return every concession, those that want something first: two queries."""
    return sorted(_rows(ConcessionVersion.objects.all(), day), key=lambda r: r.rank)


def concession_row(concession: Concession, day: dt.date) -> ConcessionRow | None:
    """Return one concession as it stands on a day; None where it was retracted."""
    found = _rows(concession.versions.all(), day)
    return found[0] if found else None


def _rows(versions: Any, day: dt.date) -> list[ConcessionRow]:
    found: dict[int, ConcessionRow] = {}
    for version in versions.for_list():
        key = version.concession_id
        if key not in found:
            found[key] = ConcessionRow(version.concession, day, [])
        found[key].versions.append(version)
    checks = Recheck.objects.current().select_related("by").order_by("checked_on", "pk")
    if len(found) == 1:
        checks = checks.filter(concession__in=found)
    for recheck in checks:
        if recheck.concession_id in found:
            found[recheck.concession_id].rechecks.append(recheck)
    return list(found.values())


def last_good_day(
    requirement: str, vehicle: int | None, equipment: int | None
) -> dt.date | None:
    """Return the last good day of a requirement, worked out from the facts now."""
    if vehicle is None:
        held = Fitting.objects.current().on_vehicles().open_ended()
        vehicle = held.filter(equipment=equipment).values_list("vehicle").first()
        vehicle = vehicle[0] if vehicle else None
    found = current_verdict(vehicle) if vehicle is not None else None
    for due in found.due if found else ():
        if due.requirement == requirement and due.equipment == equipment:
            return due.last_good_day
    return None


def counted_from(concession: Concession) -> dt.date | None:
    """Return the last good day a concession is counted from; None for a defect."""
    if concession.requirement is None:
        return None
    return last_good_day(
        concession.requirement.code, concession.vehicle_id, concession.equipment_id
    )


def deferral(
    concessions: Iterable[ConcessionFact],
    requirement: str,
    equipment: int | None,
    last_good: dt.date | None,
    day: dt.date,
) -> str:
    """Return to when a concession that holds on a day defers a requirement; "" if none."""
    found = deferred_to(concessions, requirement, equipment, last_good, day)
    if found is None:
        return ""
    return f"deferred to {written(found[0])}, concession {found[1]}"
