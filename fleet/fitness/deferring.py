"""Which requirements a concession puts off on a day, and to when."""

import datetime as dt
from collections.abc import Iterable

from fleet.fitness.conceding import reaches
from fleet.fitness.facts import ConcessionFact
from fleet.upkeep.conceding import Checked
from fleet.upkeep.due import later
from fleet.upkeep.models import ConcessionVersion, Recheck

# Concessions by the vehicle or the item they are for.
Deferring = dict[tuple[int | None, int | None], list[ConcessionFact]]


def deferred_to(
    concessions: Iterable[ConcessionFact],
    requirement: str,
    equipment: int | None,
    last_good: dt.date | None,
    day: dt.date,
) -> tuple[dt.date, int] | None:
    """Return the last day to which a concession that holds on a day goes, and which."""
    for fact in concessions:
        named = fact.requirement == requirement and fact.equipment == equipment
        if last_good and named and (until := reaches(fact, last_good, day)):
            return later(until, -1), fact.id
    return None


def deferring(day: dt.date) -> Deferring:
    """Return what was granted and not yet over, by vehicle and item: two queries."""
    found: Deferring = {}
    granted = ConcessionVersion.objects.granted().filter(
        last_day__gte=day, concession__requirement__isnull=False
    )
    versions = list(granted.select_related("concession__requirement"))
    if not versions:
        return found
    checks: dict[int, list[Checked]] = {}
    for recheck in Recheck.objects.current().filter(
        concession__in={version.concession_id for version in versions}
    ):
        checks.setdefault(recheck.concession_id, []).append(
            Checked(recheck.checked_on, recheck.holds)
        )
    for version in versions:
        of = version.concession
        fact = ConcessionFact(
            id=of.pk,
            renewal=version.renewal,
            requirement=of.requirement.code,
            defect=None,
            equipment=of.equipment_id,
            since=version.since,
            until=version.until,
            ceiling_days=version.ceiling_days,
            condition=version.condition,
            recheck_days=version.recheck_days,
            checks=tuple(checks.get(of.pk, ())),
        )
        found.setdefault((of.vehicle_id, of.equipment_id), []).append(fact)
    return found
