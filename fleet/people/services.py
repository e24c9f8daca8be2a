"""What is recorded of competences: granted, withdrawn, corrected, retracted."""

import datetime as dt
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.people.models import Competence, CompetenceVersion, Person, Skill, User
from fleet.records.deeds import announce, deed
from fleet.records.models import Entry
from fleet.records.moments import refuse_future, refuse_unknown
from fleet.records.refusing import refusing
from fleet.records.versions import (
    continue_version,
    correct_version,
    identify,
    open_version,
    retract_version,
)

CORRECTABLE = frozenset({"since", "last_day", "assessed_by", "grounds"})


def grant_competence(
    *,
    by: User | None,
    person: Person,
    skill: str,
    since: Moment,
    assessed_by: str,
    last_day: dt.date | None = None,
    grounds: str = "",
) -> CompetenceVersion:
    """
    Record that a person was assessed to be able to do something, up to a last day.

    Assessed anew, the one that held ends there. Raises ValidationError: `unknown_skill`,
    `in_the_future`, `unknown_date`, `ends_before_it_begins`, `later_one_recorded`.
    """
    refuse_unknown(since, "since")
    refuse_future(since, "since")
    if skill not in Skill.values:
        raise refusing("Choose what it is for.", code="unknown_skill", field="skill")
    until = _until(since, last_day)
    with deed("people.grant_competence", by=by, locking=(person,)) as entry:
        competence = _competence(person, skill, entry)
        _end_earlier(competence, since, entry)
        version: CompetenceVersion = open_version(
            CompetenceVersion,
            entry=entry,
            competence=competence,
            since=since,
            until=until,
            assessed_by=assessed_by.strip(),
            grounds=grounds.strip(),
        )
        announce(competence)
        return version


def withdraw_competence(
    *, by: User | None, version: CompetenceVersion, at: Moment, reason: str
) -> CompetenceVersion:
    """
    End a competence at a moment; what was done under it before stays.

    Raises ValidationError: `no_reason`, `in_the_future`, `ended_already`,
    `ends_before_it_begins`.
    """
    refuse_unknown(at, "at")
    refuse_future(at, "at")
    if not reason.strip():
        raise refusing("Say why, in a few words.", code="no_reason", field="reason")
    ended = version.until is not None and (version.until.key or 0) <= (at.key or 0)
    if ended:
        raise refusing(
            "It had ended by then. Nothing is left to withdraw.",
            code="ended_already",
            field="at",
        )
    if (at.key or 0) < (version.since.key or 0):
        raise refusing(
            f"It was granted on {version.since}. If it should never have been, retract "
            "it.",
            code="ends_before_it_begins",
            field="at",
        )
    with deed(
        "people.withdraw_competence", by=by, locking=(version.competence,)
    ) as entry:
        withdrawn = continue_version(version, entry=entry, until=at, reason=reason)
        announce(version.competence)
        return withdrawn


def correct_competence(
    *, by: User | None, version: CompetenceVersion, reason: str, **changes: Any
) -> CompetenceVersion:
    """
    Put right what was written down wrongly: since, last_day, assessed_by, grounds.

    Tests that leaned on days it did not hold are in want of a counter-signature again.
    """
    strangers = set(changes) - CORRECTABLE
    if strangers:
        raise TypeError(f"not to be corrected: {', '.join(sorted(strangers))}")
    since = changes.get("since", version.since)
    refuse_unknown(since, "since")
    refuse_future(since, "since")
    if "last_day" in changes:
        changes["until"] = _until(since, changes.pop("last_day"))
    with deed(
        "people.correct_competence", by=by, locking=(version.competence,)
    ) as entry:
        corrected = correct_version(version, entry=entry, reason=reason, **changes)
        announce(version.competence)
        return corrected


def retract_competence(
    *, by: User | None, version: CompetenceVersion, reason: str
) -> CompetenceVersion:
    """Say that a competence was never rightly granted; what leaned on it is flagged."""
    with deed(
        "people.retract_competence", by=by, locking=(version.competence,)
    ) as entry:
        retracted = retract_version(version, entry=entry, reason=reason)
        announce(version.competence)
        return retracted


def _until(since: Moment, last_day: dt.date | None) -> Moment | None:
    if last_day is None:
        return None
    if since.latest is not None and last_day < since.latest:
        raise refusing(
            "The last day lies before it begins. Look at both dates.",
            code="ends_before_it_begins",
            field="last_day",
        )
    return Moment.on(last_day + dt.timedelta(days=1))


def _competence(person: Person, skill: str, entry: Entry) -> Competence:
    held = Competence.objects.filter(person=person, skill=skill).first()
    return held or identify(Competence, entry=entry, person=person, skill=skill)


def _end_earlier(competence: Competence, since: Moment, entry: Entry) -> None:
    """End the grant that holds when the new one begins; none may be later."""
    current = competence.versions.current()
    if current.filter(since_key__gte=since.key or 0).exists():
        raise refusing(
            "One that begins on that day or later is recorded already. Correct that one.",
            code="later_one_recorded",
            field="since",
        )
    for held in current.holding_at(since):
        continue_version(held, entry=entry, until=since, reason="Assessed anew")
