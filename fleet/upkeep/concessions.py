"""
What people do with concessions: ask, renew, refuse, withdraw, retract.

Nothing here ends a concession when its time is up. How long each holds follows from what
is recorded, so the brake status falls back by itself.
"""

import datetime as dt
from typing import Any

from fleet.defects.models import Defect
from fleet.people.models import Person, User
from fleet.records.clock import today
from fleet.records.deeds import announce, deed
from fleet.records.moments import refuse_future
from fleet.records.refusing import refusing
from fleet.records.revisions import need_reason
from fleet.records.versions import (
    continue_version,
    identify,
    open_version,
    retract_version,
)
from fleet.register.models import Equipment, Vehicle
from fleet.upkeep.concession_terms import Terms, refuse_beyond, terms_on
from fleet.upkeep.due import later, written
from fleet.upkeep.models import (
    Concession,
    ConcessionVersion,
    Requirement,
)
from fleet.upkeep.vocabulary import ConcessionStatus


def ask_concession(
    *,
    by: User | None,
    person: Person,
    on: dt.date,
    requirement: Requirement | None = None,
    defect: Defect | None = None,
    vehicle: Vehicle | None = None,
    equipment: Equipment | None = None,
    counted_from: dt.date | None = None,
    **asked: Any,
) -> ConcessionVersion:
    """
    Ask for a concession against one requirement of one subject, or one open defect.

    `counted_from` is the last good day of the requirement; of a defect it is the day it
    was raised. `asked`: why, risk, condition, recheck_days, since, last_day. Raises
    ValidationError: `nothing_to_count_from`, `no_policy`, `never_granted`,
    `beyond_the_ceiling`, `rechecked_too_seldom`, `renew_instead`, and others.
    """
    refuse_future(on, "on")
    if defect is not None:
        vehicle = None if defect.equipment else defect.vehicle
        equipment = defect.equipment
    subject = {"vehicle": vehicle, "equipment": equipment}
    target = {"requirement": requirement, "defect": defect}
    with deed("upkeep.ask_concession", by=by, locking=(vehicle, equipment)) as entry:
        known = Concession.objects.filter(**subject, **target).order_by("pk")
        made = Concession(**subject, **target)
        terms = terms_on(made, counted_from, on)
        refuse_beyond(terms, asked)
        for earlier in known:
            _refuse_second(earlier, terms.counted_from)
        concession = identify(Concession, entry=entry, **subject, **target)
        version: ConcessionVersion = open_version(
            ConcessionVersion,
            entry=entry,
            concession=concession,
            counted_from=terms.counted_from,
            asked_by=person,
            asked_on=on,
            **asked,
        )
        announce(concession, vehicle, equipment)
    return version


def ask_renewal(
    *,
    by: User | None,
    person: Person,
    concession: Concession,
    on: dt.date,
    counted_from: dt.date | None = None,
    **asked: Any,
) -> ConcessionVersion:
    """
    Ask for a concession to be renewed, or anew after it was refused.

    Raises ValidationError as `ask_concession`, and `asked_already`,
    `no_more_renewals`, `work_done_since`, `before_the_last_one_ends`.
    """
    refuse_future(on, "on")
    with deed(
        "upkeep.ask_renewal",
        by=by,
        locking=(concession.vehicle, concession.equipment, concession),
    ) as entry:
        newest = _newest(concession)
        if newest is None:
            raise refusing("It was retracted. Ask for a new one.", code="retracted")
        if newest.status == ConcessionStatus.ASKED:
            raise refusing(
                "It has been asked for and awaits a decision.", code="asked_already"
            )
        terms = terms_on(concession, counted_from, on)
        refused = newest.status == ConcessionStatus.REFUSED
        renewal = newest.renewal + (not refused)
        refuse_renewal(concession, renewal, terms, asked)
        refuse_beyond(terms, asked)
        values = asked | {
            "counted_from": terms.counted_from,
            "asked_by": person,
            "asked_on": on,
        }
        if refused:
            version = continue_version(
                newest,
                entry=entry,
                status=ConcessionStatus.ASKED,
                agreed_by=None,
                accepted_by=None,
                decided_on=None,
                **values,
            )
        else:
            version = open_version(
                ConcessionVersion,
                entry=entry,
                concession=concession,
                renewal=renewal,
                **values,
            )
        announce(concession, concession.vehicle, concession.equipment)
    return version


def refuse_concession(
    *,
    by: User | None,
    person: Person,
    version: ConcessionVersion,
    on: dt.date,
    reason: str,
) -> ConcessionVersion:
    """Refuse what was asked for."""
    refuse_future(on, "on")
    need_reason(reason)
    concession = version.concession
    with deed("upkeep.refuse_concession", by=by, locking=(concession,)) as entry:
        refuse_decided(version)
        refused = continue_version(
            version,
            entry=entry,
            status=ConcessionStatus.REFUSED,
            accepted_by=person,
            decided_on=on,
            reason=reason,
        )
        announce(concession, concession.vehicle, concession.equipment)
    return refused


def withdraw_concession(
    *,
    by: User | None,
    version: ConcessionVersion,
    withdrawn_from: dt.date,
    reason: str,
) -> ConcessionVersion:
    """End a concession early, from today at the earliest."""
    need_reason(reason)
    concession = version.concession
    with deed(
        "upkeep.withdraw_concession",
        by=by,
        locking=(concession.vehicle, concession.equipment, concession),
    ) as entry:
        if version.status != ConcessionStatus.GRANTED:
            raise refusing(
                "Only what was granted can be withdrawn.", code="not_granted"
            )
        if not today() <= withdrawn_from <= version.last_day:
            raise refusing(
                f"Choose a day from today to its last day, {written(version.last_day)}.",
                code="not_within_it",
                field="withdrawn_from",
            )
        ended = continue_version(
            version,
            entry=entry,
            status=ConcessionStatus.WITHDRAWN,
            withdrawn_from=withdrawn_from,
            reason=reason,
        )
        announce(concession, concession.vehicle, concession.equipment)
    return ended


def retract_concession(
    *, by: User | None, version: ConcessionVersion, reason: str
) -> ConcessionVersion:
    """
    Say that a concession, or its renewal, was recorded by mistake: it never held.

    Raises ValidationError: `later_one_recorded` while a renewal follows it.
    """
    concession = version.concession
    with deed(
        "upkeep.retract_concession",
        by=by,
        locking=(concession.vehicle, concession.equipment, concession),
    ) as entry:
        newest = _newest(concession)
        if newest is not None and newest.renewal > version.renewal:
            raise refusing(
                f"Renewal {newest.renewal} rests on it. Retract that one first.",
                code="later_one_recorded",
            )
        retracted = retract_version(version, entry=entry, reason=reason)
        announce(concession, concession.vehicle, concession.equipment)
    return retracted


def _refuse_second(earlier: Concession, counted_from: dt.date) -> None:
    """Refuse a second concession for what one was asked or granted for already."""
    newest = _newest(earlier)
    waits = newest is not None and newest.status == ConcessionStatus.ASKED
    if waits or _granted_beyond(earlier, counted_from):
        raise refusing(
            f"There is concession {earlier.pk} for this already. Have that one decided "
            "or renewed.",
            code="renew_instead",
        )


def _granted_beyond(concession: Concession, counted_from: dt.date) -> bool:
    """Say whether it was granted for the work that is still to be done."""
    granted = ConcessionVersion.objects.granted().filter(concession=concession)
    return granted.filter(last_day__gte=counted_from).exists()


def refuse_renewal(
    concession: Concession, renewal: int, terms: Terms, asked: dict[str, Any]
) -> None:
    """Refuse a renewal too many, too early, or after the work was done."""
    before = ConcessionVersion.objects.granted().filter(concession=concession)
    before = before.exclude(renewal=renewal)
    if renewal > terms.most_renewals:
        raise refusing(
            f"It has been renewed {renewal - 1} times; the operator allows "
            f"{terms.most_renewals}. Do the work.",
            code="no_more_renewals",
        )
    if before and not _granted_beyond(concession, terms.counted_from):
        raise refusing(
            "The work has been done since it was granted. Ask for a new one.",
            code="work_done_since",
        )
    ends = max((grant.until for grant in before), default=None)
    if ends is not None and asked["since"] < ends:
        raise refusing(
            f"It holds up to {written(later(ends, -1))}. A renewal begins after that.",
            code="before_the_last_one_ends",
            field="since",
        )


def _newest(concession: Concession) -> ConcessionVersion | None:
    """Return what was last asked; None where all of it was retracted."""
    held = ConcessionVersion.objects.current().filter(concession=concession)
    found: ConcessionVersion | None = held.order_by("renewal").last()
    return found


def refuse_decided(version: ConcessionVersion) -> None:
    """Refuse to decide again what was decided."""
    if version.status != ConcessionStatus.ASKED:
        raise refusing(
            f"It has been decided: {version.status_words.lower()}.", code="not_asked"
        )
