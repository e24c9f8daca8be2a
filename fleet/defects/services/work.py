"""Work in hand on a vehicle, and its signed release to traffic."""

from fleet.defects import steps, whereabouts
from fleet.defects.clearing import clearing_on
from fleet.defects.models import WorkInHand
from fleet.defects.signing import asked
from fleet.defects.vocabulary import Step
from fleet.defects.working import refuse_work_end
from fleet.engineering.calendar import Moment
from fleet.people.models import Person, User
from fleet.records.deeds import announce, deed
from fleet.records.refusing import refusing
from fleet.records.versions import continue_version, open_version
from fleet.register.models import Vehicle
from fleet.register.vocabulary import Scope


def start_work(
    *,
    by: User | None,
    person: Person,
    vehicle: Vehicle,
    what: str,
    since: Moment,
    scope: str = Scope.VEHICLE,
) -> WorkInHand:
    """Take a vehicle in hand; it is not to run until the signed release to traffic."""
    steps.refuse_undatable(since, "since")
    with deed("defects.start_work", by=by, locking=(vehicle,)) as entry:
        work = open_version(
            WorkInHand,
            entry=entry,
            vehicle=vehicle,
            what=what.strip(),
            scope=scope,
            done_by=person,
            since=since,
        )
        announce(vehicle)
        return work


def release_to_traffic(
    *,
    by: User | None,
    person: Person,
    work: WorkInHand,
    at: Moment,
    done_by: Person | None = None,
) -> WorkInHand:
    """
    Sign a vehicle back to traffic; `done_by` where another did the work than began it.

    Raises ValidationError: `already_released`, `work_not_done`,
    `independent_person_needed`, `before_the_last_step`, `in_the_future`.
    """
    steps.refuse_undatable(at, "at")
    with deed(
        "defects.release_to_traffic", by=by, locking=(work.vehicle, work.defect)
    ) as entry:
        if work.until is not None:
            raise refusing(
                f"This work was released on {work.until}.", code="already_released"
            )
        refuse_work_end(work, at, "at")
        _refuse_open_defect(work, at)
        doers = [done_by or work.done_by]
        doers += steps.doers_of(work.defect) if work.defect else []
        steps.refuse_own_release(
            clearing_on(at.latest), Scope(work.scope), person, doers
        )
        ended = continue_version(
            work,
            entry=entry,
            until=at,
            released_by=person,
            done_by=doers[0],
            **asked(Step.RELEASED, person, at),
        )
        announce(work.vehicle, work.defect)
        return ended


def _refuse_open_defect(work: WorkInHand, at: Moment) -> None:
    """Refuse while the defect in hand still bears on the vehicle and is not done."""
    if work.defect is None or whereabouts.bearer(work.defect, at) != work.vehicle:
        return
    stands = Step(steps.standing(work.defect).step)
    if not stands.ends:
        raise refusing(
            f"“{work.defect.title}” is still open on this vehicle "
            f"({stands.label.lower()}). Clear it from the defect's page; that ends the "
            "work.",
            code="work_not_done",
        )
