"""Authority to move a vehicle with its brake isolated: given, withdrawn."""

import datetime as dt

from fleet.defects.models import Isolation, IsolationVersion, MoveAuthority
from fleet.defects.signing import asked
from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment
from fleet.people.models import Person, User
from fleet.records.deeds import announce, deed
from fleet.records.refusing import refusing
from fleet.records.versions import continue_version, open_version


def authorise_move(
    *,
    by: User | None,
    isolation: Isolation,
    person: Person,
    since: dt.date,
    last_day: dt.date,
    destination: str,
    limits: str,
) -> MoveAuthority:
    """
    Record leave to move an isolated vehicle from one day to another, both included.

    Whoever gives it must be competent to release to traffic, where such competence is
    recorded. Raises ValidationError: `not_isolated`, `ends_before_it_begins`,
    `not_competent`, `already_authorised`.
    """
    if last_day < since:
        raise refusing(
            "Its last day is before its first.",
            code="ends_before_it_begins",
            field="last_day",
        )
    with deed(
        "defects.authorise_move", by=by, locking=(isolation.vehicle, isolation)
    ) as entry:
        _refuse_restored(isolation, since)
        signed = asked(Step.RELEASED, person, Moment.on(since))
        if signed["skill"] and signed["competence"] is None:
            raise refusing(
                f"{person} held no competence for release to traffic that day.",
                code="not_competent",
                field="person",
            )
        authority = open_version(
            MoveAuthority,
            entry=entry,
            isolation=isolation,
            destination=destination.strip(),
            limits=limits.strip(),
            given_by=person,
            competence=signed["competence"],
            since=Moment.on(since),
            until=Moment.on(last_day + dt.timedelta(days=1)),
        )
        announce(isolation.vehicle, isolation)
        return authority


def withdraw_authority(
    *, by: User | None, authority: MoveAuthority, from_day: dt.date, reason: str
) -> MoveAuthority:
    """
    Record that an authority to move does not hold any more from a day on.

    Raises ValidationError: `no_reason`, `outside_its_days`, `already_superseded`.
    """
    if not reason.strip():
        raise refusing("Say why, in a few words.", code="no_reason", field="reason")
    isolation = authority.isolation
    with deed(
        "defects.withdraw_authority", by=by, locking=(isolation.vehicle, isolation)
    ) as entry:
        first = authority.since.earliest
        if first is None or not first <= from_day <= authority.last_day:
            raise refusing(
                f"It holds from {authority.since} to {Moment.on(authority.last_day)}. "
                "Give one of these days.",
                code="outside_its_days",
                field="from_day",
            )
        ended = continue_version(
            authority, entry=entry, reason=reason.strip(), until=Moment.on(from_day)
        )
        announce(isolation.vehicle, isolation)
        return ended


def _refuse_restored(isolation: Isolation, since: dt.date) -> None:
    held = IsolationVersion.objects.current().filter(isolation=isolation)
    standing = held.open_ended().first()
    first = held.order_by("since_key").first()
    begun = first is not None and (
        first.since.earliest is None or first.since.earliest <= since
    )
    if standing is None or not begun:
        raise refusing(
            "The brake is not recorded as isolated then; there is nothing to authorise.",
            code="not_isolated",
            field="since",
        )
