"""
Granting a concession: agreed by somebody entitled, accepted for the operator, corrected.

Whoever agrees signs by doing it under an account of their own; whoever asked does neither.
"""

import datetime as dt
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.people.competence import competent_on, competent_persons
from fleet.people.models import Person, Skill, User
from fleet.records.clock import today
from fleet.records.deeds import announce, deed
from fleet.records.moments import refuse_future
from fleet.records.refusing import refusing
from fleet.records.versions import continue_version, correct_version
from fleet.upkeep.concession_terms import Terms, refuse_beyond, terms_on
from fleet.upkeep.concessions import refuse_decided, refuse_renewal
from fleet.upkeep.due import later, written
from fleet.upkeep.models import Concession, ConcessionPolicy, ConcessionVersion
from fleet.upkeep.vocabulary import ConcessionStatus

CORRECTED = (
    "why",
    "risk",
    "condition",
    "since",
    "last_day",
    "recheck_days",
    "decided_on",
)


def agree_concession(
    *, by: User | None, person: Person, version: ConcessionVersion, on: dt.date
) -> ConcessionVersion:
    """
    Sign, as somebody entitled, that what was asked for is bearable.

    It holds only once it is accepted for the operator, too. Raises ValidationError:
    `not_asked`, `agreed_already`, `asked_for_it`, `not_entitled`, `in_the_future`.
    """
    refuse_future(on, "on")
    concession = version.concession
    with deed("upkeep.agree_concession", by=by, locking=(concession,)) as entry:
        refuse_decided(version)
        if version.agreed_by is not None:
            raise refusing(
                f"{version.agreed_by} has agreed to it.", code="agreed_already"
            )
        _refuse_asker(version, person)
        _refuse_entitled(person, on)
        agreed = continue_version(version, entry=entry, agreed_by=person)
        announce(concession)
    return agreed


def grant_concession(
    *,
    by: User | None,
    person: Person,
    version: ConcessionVersion,
    on: dt.date,
    counted_from: dt.date | None = None,
) -> ConcessionVersion:
    """
    Accept for the operator what an entitled person agreed to.

    Where nobody has agreed before, who accepts it agrees by doing so, and must be
    entitled. It holds from the day asked for, never from before the day it is granted.
    Raises ValidationError: `not_entitled`, `asked_for_it`, `not_asked`,
    `beyond_the_ceiling`, and whatever asking may raise.
    """
    refuse_future(on, "on")
    concession = version.concession
    with deed(
        "upkeep.grant_concession",
        by=by,
        locking=(concession.vehicle, concession.equipment, concession),
    ) as entry:
        refuse_decided(version)
        _refuse_asker(version, person)
        agreed_by = version.agreed_by or person
        _refuse_entitled(agreed_by, on)
        terms = terms_on(concession, counted_from, on)
        since = max(version.since, on)
        asked = {
            "since": since,
            "last_day": version.last_day,
            "recheck_days": version.recheck_days,
        }
        if version.renewal:
            refuse_renewal(concession, version.renewal, terms, asked)
        refuse_beyond(terms, asked)
        granted = continue_version(
            version,
            entry=entry,
            status=ConcessionStatus.GRANTED,
            agreed_by=agreed_by,
            accepted_by=person,
            decided_on=on,
            since=since,
            counted_from=terms.counted_from,
            ceiling_days=terms.ceiling_days,
        )
        announce(concession, concession.vehicle, concession.equipment)
    return granted


def correct_grant(
    *,
    by: User | None,
    person: Person,
    version: ConcessionVersion,
    reason: str,
    **changes: Any,
) -> ConcessionVersion:
    """
    Put right a grant that was written down wrongly; both versions stay.

    Held to the terms it was granted on, and to the policy of the day it was. Raises
    ValidationError: `not_granted`, `asked_for_it`, `not_entitled`, `nothing_changed`,
    `no_reason`, `before_it_was_granted`, `beyond_the_ceiling`, `rechecked_too_seldom`,
    `over_another_grant`, `already_superseded`.
    """
    strangers = sorted(set(changes) - set(CORRECTED))
    if strangers:
        raise TypeError(f"no such value: {', '.join(strangers)}")
    concession = version.concession
    with deed(
        "upkeep.correct_grant",
        by=by,
        locking=(concession.vehicle, concession.equipment, concession),
    ) as entry:
        if not version.granted:
            raise refusing("Only what was granted is corrected.", code="not_granted")
        _refuse_asker(version, person)
        _refuse_entitled(person, today())
        said = {name: getattr(version, name) for name in CORRECTED} | changes
        if all(said[name] == getattr(version, name) for name in CORRECTED):
            raise refusing("Nothing is different.", code="nothing_changed")
        _refuse_terms(version, said)
        _refuse_overlap(concession, version, said)
        corrected = correct_version(version, entry=entry, reason=reason, **changes)
        announce(concession, concession.vehicle, concession.equipment)
    return corrected


def _refuse_terms(version: ConcessionVersion, said: dict[str, Any]) -> None:
    """Refuse what goes beyond the terms and the policy it was granted on."""
    decided_on = said["decided_on"]
    assert version.agreed_by is not None
    assert version.ceiling_days is not None
    refuse_future(decided_on, "decided_on")
    if decided_on != version.decided_on:
        _refuse_entitled(version.agreed_by, decided_on)
    policy = ConcessionPolicy.objects.in_force(decided_on).first()
    if policy is None:
        raise refusing(
            f"No policy on concessions was in force on {written(decided_on)}.",
            code="no_policy",
            field="decided_on",
        )
    if said["since"] < decided_on:
        raise refusing(
            f"It was granted on {written(decided_on)}; it did not hold before.",
            code="before_it_was_granted",
            field="since",
        )
    terms = Terms(
        version.counted_from,
        version.ceiling_days,
        policy.most_renewals,
        policy.recheck_days,
    )
    refuse_beyond(terms, said)


def _refuse_overlap(
    concession: Concession, version: ConcessionVersion, said: dict[str, Any]
) -> None:
    """Refuse days on which another grant of the same concession holds."""
    others = ConcessionVersion.objects.granted().filter(concession=concession)
    for other in others.exclude(renewal=version.renewal):
        if other.since <= said["last_day"] and said["since"] < other.until:
            raise refusing(
                f"Another grant of it holds from {written(other.since)} to "
                f"{written(later(other.until, -1))}.",
                code="over_another_grant",
                field="since" if other.renewal < version.renewal else "last_day",
            )


def _refuse_asker(version: ConcessionVersion, person: Person) -> None:
    if person == version.asked_by:
        raise refusing(
            f"{person} asked for it. Somebody else has to agree, accept and correct it.",
            code="asked_for_it",
        )


def _refuse_entitled(person: Person, on: dt.date) -> None:
    if competent_on(person, Skill.CONCEDE, Moment.on(on)) is None:
        able = ", ".join(map(str, competent_persons(Skill.CONCEDE, Moment.on(on))))
        raise refusing(
            f"{person} was not entitled to agree to concessions on {written(on)}. "
            f"Entitled, each under an account of their own: {able or 'nobody'}.",
            code="not_entitled",
        )
