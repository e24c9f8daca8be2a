"""A cock found in the wrong position: record it, prove the brake, record the cause."""

import datetime as dt

from fleet.defects.clearing import clearing_on
from fleet.defects.models import WrongCock, WrongCockVersion
from fleet.defects.steps import refuse_undatable
from fleet.engineering.calendar import Moment, Order, order_of
from fleet.examination.flags import flags_of
from fleet.examination.models import Test, TestRecord
from fleet.people.competence import entitling
from fleet.people.models import CompetenceVersion, Person, Skill, User
from fleet.records.clock import today
from fleet.records.deeds import announce, deed
from fleet.records.refusing import refusing
from fleet.records.versions import continue_version, identify, open_version
from fleet.register.models import Vehicle
from fleet.register.positions import position_at
from fleet.register.vocabulary import CockPosition


def record_wrong_cock(
    *,
    by: User | None,
    person: Person,
    vehicle: Vehicle,
    position: str,
    on: Moment,
    found: str,
    left: str,
    where: str,
) -> WrongCock:
    """
    Record that a cock was found otherwise than its type lays down.

    Raises ValidationError: `no_such_position`, `not_a_cock`, `not_wrong`,
    `in_the_future`, `unknown_date`.
    """
    refuse_undatable(on, "on")
    place = position_at(vehicle, position, on)
    normal = CockPosition(place.normal)
    if normal is CockPosition.NONE:
        raise refusing(
            f"The type lays down no normal position for {place.label}.",
            code="not_a_cock",
            field="position",
        )
    if found == normal:
        raise refusing(
            f"{place.label} stands {normal.label.lower()} as it should.",
            code="not_wrong",
            field="found",
        )
    with deed("defects.record_wrong_cock", by=by, locking=(vehicle,)) as entry:
        cock = identify(WrongCock, entry=entry, vehicle=vehicle, position=place.code)
        open_version(
            WrongCockVersion,
            entry=entry,
            cock=cock,
            vehicle=vehicle,
            label=place.label,
            scope=place.scope,
            normal=normal,
            found=found,
            left=left,
            where=where.strip(),
            by=person,
            on=on,
            earlier=_earlier(vehicle, on),
        )
        announce(vehicle)
        return cock


def prove_cock(*, by: User | None, cock: WrongCock, test: Test) -> WrongCockVersion:
    """
    Record that the cock was put right and a passed test proved the brake afterwards.

    Raises ValidationError: `test_of_something_else`, `test_not_passed`, `test_in_doubt`,
    `test_before`, `proved_already`.
    """
    record = TestRecord.objects.current().filter(test=test).first()
    with deed("defects.prove_cock", by=by, locking=(cock.vehicle,)) as entry:
        held = standing_cock(cock)
        if held.proved_by_id is not None:
            raise refusing("A test is named already.", code="proved_already")
        if record is None or record.vehicle_id != cock.vehicle_id:
            raise refusing(
                "That test is of something else, or was withdrawn.",
                code="test_of_something_else",
                field="test",
            )
        if not record.passed:
            raise refusing(
                "That test was not passed.", code="test_not_passed", field="test"
            )
        if flags_of([record])[record.pk].doubted:
            raise refusing(
                "That test does not count: an instrument was not to be trusted.",
                code="test_in_doubt",
                field="test",
            )
        if order_of(held.on, record.on) is not Order.BEFORE:
            raise refusing(
                f"The cock was found {held.on}; the test, {record.on}, is not known to "
                "have followed. Give both times, or test again.",
                code="test_before",
                field="test",
            )
        announce(cock.vehicle)
        proved: WrongCockVersion = continue_version(
            held, entry=entry, proved_by=test, left=held.normal
        )
        return proved


def close_cock(
    *, by: User | None, person: Person, cock: WrongCock, on: dt.date, cause: str
) -> WrongCockVersion:
    """
    Record the cause. A repeat is closed by somebody competent to release, not as before.

    Raises ValidationError: `no_cause`, `closed_already`, `in_the_future`,
    `not_competent`, `somebody_else_needed`.
    """
    if not cause.strip():
        raise refusing(
            "Write the cause. “Put back” is no cause.", code="no_cause", field="cause"
        )
    if on > today():
        raise refusing("That day has not been yet.", code="in_the_future", field="on")
    with deed("defects.close_cock", by=by, locking=(cock.vehicle,)) as entry:
        held = standing_cock(cock)
        if not held.is_open:
            raise refusing("Its cause is recorded already.", code="closed_already")
        competence = _entitled(held, person, on) if held.earlier else None
        announce(cock.vehicle)
        closed: WrongCockVersion = continue_version(
            held,
            entry=entry,
            cause=cause.strip(),
            closed_on=on,
            closed_person=person,
            competence=competence,
        )
        return closed


def standing_cock(cock: WrongCock) -> WrongCockVersion:
    """Return what is held of an event now."""
    found: WrongCockVersion = (
        WrongCockVersion.objects.current()
        .select_related("by", "closed_person", "cock__vehicle")
        .get(cock=cock)
    )
    return found


def _earlier(vehicle: Vehicle, on: Moment) -> int:
    assert on.earliest is not None
    days = clearing_on(on.latest).cock_repeat_days
    since = on.earliest - dt.timedelta(days=days)
    before = WrongCockVersion.objects.current().filter(
        vehicle=vehicle, on_latest__gte=since, on_earliest__lte=on.latest
    )
    return before.count()


def _entitled(
    held: WrongCockVersion, person: Person, on: dt.date
) -> CompetenceVersion | None:
    """Return the competence of who closes a repeat; refuse who closed one before."""
    earlier = WrongCockVersion.objects.current().filter(
        vehicle=held.vehicle_id, closed_person=person
    )
    if earlier.exclude(cock=held.cock_id).exists():
        raise refusing(
            f"It happened before on this vehicle, and {person} closed that. Somebody "
            "else, at a higher level, looks for the cause.",
            code="somebody_else_needed",
            field="person",
        )
    return entitling(person, Skill.RELEASE, Moment.on(on))
