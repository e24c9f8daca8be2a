"""Re-checks of concessions: recorded, retracted."""

import datetime as dt

from fleet.people.models import Person, User
from fleet.records.deeds import announce, deed
from fleet.records.moments import refuse_future
from fleet.records.refusing import refusing
from fleet.records.versions import open_version, retract_version
from fleet.upkeep.models import Concession, ConcessionVersion, Recheck


def record_recheck(
    *,
    by: User | None,
    person: Person,
    concession: Concession,
    on: dt.date,
    holds: bool,
    found: str,
) -> Recheck:
    """Record that the terms of a concession were looked at, and whether they hold."""
    refuse_future(on, "on")
    with deed(
        "upkeep.record_recheck",
        by=by,
        locking=(concession.vehicle, concession.equipment, concession),
    ) as entry:
        granted = ConcessionVersion.objects.granted().filter(concession=concession)
        if not any(grant.since <= on < grant.until for grant in granted):
            raise refusing(
                "It did not run on that day. Give a day on which it did.",
                code="not_within_it",
                field="on",
            )
        recheck = open_version(
            Recheck,
            entry=entry,
            concession=concession,
            checked_on=on,
            by=person,
            holds=holds,
            found=found,
        )
        announce(concession, concession.vehicle, concession.equipment)
    return recheck


def retract_recheck(*, by: User | None, recheck: Recheck, reason: str) -> Recheck:
    """Say that a re-check never was."""
    concession = recheck.concession
    with deed(
        "upkeep.retract_recheck",
        by=by,
        locking=(concession.vehicle, concession.equipment, concession),
    ) as entry:
        retracted = retract_version(recheck, entry=entry, reason=reason)
        announce(concession, concession.vehicle, concession.equipment)
    return retracted
