"""What people do with visiting vehicles: accept them for a time, see newer evidence, end it."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from typing import Self

from fleet.engineering.calendar import Moment
from fleet.examination.flags import flags_of
from fleet.examination.models import Test, TestRecord
from fleet.people.competence import entitling
from fleet.people.models import Person, Skill, User
from fleet.records.clock import today
from fleet.records.deeds import announce, deed
from fleet.records.refusing import refusing
from fleet.records.revisions import need_reason
from fleet.records.versions import continue_version, identify, open_version, write_many
from fleet.register.models import Vehicle, VehicleVersion
from fleet.register.vocabulary import VehicleStatus
from fleet.upkeep.due import written
from fleet.upkeep.models import (
    VisitAcceptance,
    VisitAcceptanceVersion,
    VisitEvidence,
    VisitTest,
)


@dataclass(frozen=True, slots=True)
class Seen:
    """A piece of evidence as it was seen: the document, by whom, of which day."""

    words: str
    number: str = ""
    issued_by: str = ""
    dated: dt.date | None = None
    valid_until: dt.date | None = None

    @classmethod
    def of(cls, line: VisitEvidence) -> Self:
        """Return a line that is recorded, as it was seen."""
        return cls(**{name: getattr(line, name) for name in SEEN})


SEEN = tuple(field.name for field in fields(Seen))


def accept_visit(
    *,
    by: User | None,
    person: Person,
    vehicle: Vehicle,
    owner: str,
    regime: str,
    since: dt.date,
    last_day: dt.date,
    evidence: Sequence[Seen],
    tests: Sequence[Test],
    condition: str = "",
) -> VisitAcceptance:
    """
    Accept a visiting vehicle on its owner's regime, up to a last good day.

    Raises ValidationError: `not_visiting`, `no_evidence`, `evidence_run_out`,
    `evidence_in_the_future`, `no_test`, `test_of_another`, `test_does_not_count`,
    `ends_before_it_begins`, `in_the_future`, `accepted_already`, `not_competent`.
    """
    if since > today():
        raise refusing(
            "A vehicle is accepted when it was seen; choose today or a day that has been.",
            code="in_the_future",
            field="since",
        )
    _refuse_evidence(evidence, since)
    with deed("upkeep.accept_visit", by=by, locking=(vehicle,)) as entry:
        _refuse_resident(vehicle, since)
        _refuse_second(vehicle, since, last_day)
        _refuse_tests(vehicle, tests, since)
        competence = entitling(person, Skill.RELEASE, Moment.on(since))
        acceptance = identify(VisitAcceptance, entry=entry, vehicle=vehicle)
        version = open_version(
            VisitAcceptanceVersion,
            entry=entry,
            acceptance=acceptance,
            vehicle=vehicle,
            owner=owner.strip(),
            regime=regime.strip(),
            condition=condition.strip(),
            since=since,
            last_day=last_day,
            accepted_by=person,
            competence=competence,
        )
        _keep_evidence(version, evidence)
        list(write_many(VisitTest(acceptance=acceptance, test=t) for t in tests))
        announce(vehicle)
        return acceptance


def evidence_of(version: VisitAcceptanceVersion) -> list[VisitEvidence]:
    """Return the evidence an acceptance rested on, as one version has it."""
    lines = VisitEvidence.objects.filter(acceptance=version.acceptance).order_by("pk")
    return list(lines.filter(version=version)) or list(lines.filter(version=None))


def renew_evidence(
    *,
    by: User | None,
    person: Person,
    acceptance: VisitAcceptance,
    evidence: Sequence[Seen],
    reason: str,
) -> VisitAcceptanceVersion:
    """
    Record what evidence was seen since, or what was written down wrongly of it.

    `evidence` is the whole list from now on; the list before stays with the version it
    was of. Raises ValidationError: `no_reason`, `no_evidence`, `evidence_in_the_future`,
    `not_competent`.
    """
    need_reason(reason)
    _refuse_evidence(evidence, None)
    with deed("upkeep.renew_evidence", by=by, locking=(acceptance.vehicle,)) as entry:
        entitling(person, Skill.RELEASE, Moment.on(today()))
        held = VisitAcceptanceVersion.objects.current().get(acceptance=acceptance)
        renewed: VisitAcceptanceVersion = continue_version(
            held, entry=entry, reason=f"{reason.strip()} ({person})"[:300]
        )
        _keep_evidence(renewed, evidence)
        announce(acceptance.vehicle)
        return renewed


def end_visit(
    *,
    by: User | None,
    person: Person,
    acceptance: VisitAcceptance,
    last_day: dt.date,
    reason: str,
) -> VisitAcceptanceVersion:
    """
    End an acceptance before its time, or go back to a shorter one.

    Raises ValidationError: `no_reason`, `not_shorter`, `ends_before_it_begins`.
    """
    need_reason(reason)
    with deed("upkeep.end_visit", by=by, locking=(acceptance.vehicle,)) as entry:
        held = VisitAcceptanceVersion.objects.current().get(acceptance=acceptance)
        if last_day >= held.last_day:
            raise refusing(
                "It ends by itself on its last good day. To let the vehicle stay longer, "
                "look at it and accept it anew.",
                code="not_shorter",
                field="last_day",
            )
        announce(acceptance.vehicle)
        seen = [Seen.of(line) for line in evidence_of(held)]
        ended: VisitAcceptanceVersion = continue_version(
            held,
            entry=entry,
            reason=f"{reason.strip()} ({person})"[:300],
            last_day=last_day,
        )
        _keep_evidence(ended, seen)
        return ended


def _keep_evidence(version: VisitAcceptanceVersion, evidence: Sequence[Seen]) -> None:
    lines = (
        VisitEvidence(acceptance=version.acceptance, version=version, **asdict(seen))
        for seen in evidence
    )
    list(write_many(lines))


def _refuse_evidence(evidence: Sequence[Seen], since: dt.date | None) -> None:
    """Refuse no evidence, evidence yet to come, or run out when it is accepted."""
    if not any(seen.words.strip() for seen in evidence):
        raise refusing("Say what evidence was seen.", code="no_evidence")
    for seen in evidence:
        if seen.dated is not None and seen.dated > today():
            raise refusing(
                f"{seen.words}: its date, {written(seen.dated)}, is still to come.",
                code="evidence_in_the_future",
            )
        if since and seen.valid_until is not None and seen.valid_until < since:
            raise refusing(
                f"{seen.words}: it ran out on {written(seen.valid_until)}, before the "
                "acceptance begins. It shows nothing.",
                code="evidence_run_out",
            )


def _refuse_resident(vehicle: Vehicle, on: dt.date) -> None:
    held = VehicleVersion.objects.current().holding_on(on).filter(vehicle=vehicle)
    if not held.filter(status=VehicleStatus.VISITING).exists():
        raise refusing(
            "On that day it was no visiting vehicle. Alter its particulars first.",
            code="not_visiting",
            field="since",
        )


def _refuse_second(vehicle: Vehicle, since: dt.date, last_day: dt.date) -> None:
    overlapping = VisitAcceptanceVersion.objects.current().filter(
        vehicle=vehicle, since__lte=last_day, last_day__gte=since
    )
    held = overlapping.first()
    if held is not None:
        raise refusing(
            f"It is accepted already from {held.since} to {held.last_day}. End that "
            "first, or begin the day after.",
            code="accepted_already",
            field="since",
        )


def _refuse_tests(vehicle: Vehicle, tests: Sequence[Test], since: dt.date) -> None:
    if not tests:
        raise refusing(
            "Name the acceptance test made here; record it first.",
            code="no_test",
            field="tests",
        )
    records = list(TestRecord.objects.current().filter(test__in=tests).for_list())
    flags = flags_of(records)
    if {r.vehicle_id for r in records} != {vehicle.pk} or len(records) < len(tests):
        raise refusing(
            "A test named is of something else, or was withdrawn.",
            code="test_of_another",
            field="tests",
        )
    for record in records:
        late = record.on.latest is None or record.on.latest > since
        if not record.passed or flags[record.pk].doubted or late:
            raise refusing(
                f"{record}: it was not passed, is in doubt, or was made after the "
                "acceptance begins. It shows nothing.",
                code="test_does_not_count",
                field="tests",
            )
