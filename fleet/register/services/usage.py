"""Recording miles and days in service, and periods out of use."""

import datetime as dt
from decimal import Decimal

from fleet.engineering.calendar import Moment
from fleet.people.models import User
from fleet.records.deeds import announce, deed
from fleet.records.moments import refuse_future, refuse_unknown
from fleet.records.refusing import refusing
from fleet.records.versions import continue_version, open_version
from fleet.register.models import StoragePeriod, Usage, Vehicle
from fleet.register.services.splitting import split
from fleet.register.services.vehicles import newest_particulars
from fleet.register.vocabulary import VehicleStatus


def log_usage(
    *,
    by: User | None,
    vehicle: Vehicle,
    first: dt.date,
    last: dt.date,
    miles: Decimal,
    days: int,
) -> Usage:
    """
    Record miles run and days in service between two days, both included.

    Raises ValidationError: `in_the_future`, `ends_before_it_begins`, `too_many_days`,
    `usage_overlap`.
    """
    _refuse_days(first, last, days)
    with deed("register.log_usage", by=by, locking=(vehicle,)) as entry:
        _refuse_overlap(vehicle, first, last)
        usage = open_version(
            Usage,
            entry=entry,
            vehicle=vehicle,
            first=first,
            last=last,
            miles=miles,
            days=days,
        )
        announce(vehicle)
        return usage


def read_meter(
    *, by: User | None, vehicle: Vehicle, on: dt.date, meter_miles: Decimal, days: int
) -> Usage:
    """
    Record a meter reading and the days in service since the reading before it.

    The first reading of a vehicle only sets where counting begins: it adds no miles.
    Raises ValidationError: `meter_went_back`, `reading_not_later`, and as `log_usage`.
    """
    with deed("register.read_meter", by=by, locking=(vehicle,)) as entry:
        before = _last_reading(vehicle)
        first = on if before is None else before.last + dt.timedelta(days=1)
        miles = Decimal(0) if before is None else _run(before, on, meter_miles)
        days = days if before is not None else 0
        _refuse_days(first, on, days)
        _refuse_overlap(vehicle, first, on)
        usage = open_version(
            Usage,
            entry=entry,
            vehicle=vehicle,
            first=first,
            last=on,
            miles=miles,
            days=days,
            meter_miles=meter_miles,
        )
        announce(vehicle)
        return usage


def store_vehicle(
    *,
    by: User | None,
    vehicle: Vehicle,
    since: Moment,
    place: str = "",
    preserved: str = "",
) -> StoragePeriod:
    """
    Record that a vehicle was put out of use; from then its status is stored.

    Raises ValidationError at `since`: `storage_overlap`, `later_particulars`,
    `in_the_future`, `unknown_date`.
    """
    refuse_unknown(since, "since")
    refuse_future(since, "since")
    with deed("register.store_vehicle", by=by, locking=(vehicle,)) as entry:
        if _storage(vehicle) is not None:
            raise refusing(
                "The vehicle is stored already. Return it to traffic first.",
                code="storage_overlap",
                field="since",
            )
        period = open_version(
            StoragePeriod,
            entry=entry,
            vehicle=vehicle,
            since=since,
            place=place,
            preserved=preserved,
        )
        split(
            newest_particulars(vehicle),
            since=since,
            entry=entry,
            status=VehicleStatus.STORED,
        )
        announce(vehicle)
        return period


def return_vehicle(*, by: User | None, vehicle: Vehicle, at: Moment) -> StoragePeriod:
    """
    End a vehicle's storage; from then its status is in traffic.

    What its return asks for (tests after storage) the rules say. Raises ValidationError
    at `at`: `not_stored`, `ends_before_it_begins`, `in_the_future`, `unknown_date`.
    """
    refuse_unknown(at, "at")
    refuse_future(at, "at")
    with deed("register.return_vehicle", by=by, locking=(vehicle,)) as entry:
        held = _storage(vehicle)
        if held is None:
            raise refusing("The vehicle is not stored.", code="not_stored", field="at")
        if (at.key or 0) < held.since_key:
            raise refusing(
                f"It was stored on {held.since}; it cannot have returned before.",
                code="ends_before_it_begins",
                field="at",
            )
        period = continue_version(held, entry=entry, until=at)
        split(
            newest_particulars(vehicle),
            since=at,
            entry=entry,
            status=VehicleStatus.IN_TRAFFIC,
        )
        announce(vehicle)
        return period


def _storage(vehicle: Vehicle) -> StoragePeriod | None:
    held = StoragePeriod.objects.current().filter(vehicle=vehicle)
    found: StoragePeriod | None = held.open_ended().first()
    return found


def _last_reading(vehicle: Vehicle) -> Usage | None:
    held = Usage.objects.current().filter(vehicle=vehicle)
    found: Usage | None = held.by_meter().last()
    return found


def _run(before: Usage, on: dt.date, meter_miles: Decimal) -> Decimal:
    if on <= before.last:
        raise refusing(
            f"The meter was read on {before.last} already. Give a later day.",
            code="reading_not_later",
            field="on",
        )
    assert before.meter_miles is not None
    if meter_miles < before.meter_miles:
        raise refusing(
            f"The reading on {before.last} was {before.meter_miles}; a lower one means "
            "another meter or a slip. Log the miles of the time between instead.",
            code="meter_went_back",
            field="meter_miles",
        )
    return meter_miles - before.meter_miles


def _refuse_days(first: dt.date, last: dt.date, days: int) -> None:
    refuse_future(last, "last")
    if last < first:
        raise refusing(
            f"{last} is before {first}. Give the days in order.",
            code="ends_before_it_begins",
            field="last",
        )
    span = (last - first).days + 1
    if days > span:
        raise refusing(
            f"There are only {span} days from {first} to {last}.",
            code="too_many_days",
            field="days",
        )


def _refuse_overlap(vehicle: Vehicle, first: dt.date, last: dt.date) -> None:
    held = Usage.objects.current().filter(vehicle=vehicle)
    taken = held.sharing_days(first, last).first()
    if taken is not None:
        raise refusing(
            f"Usage from {taken.first} to {taken.last} is recorded already; the same "
            "miles would count twice.",
            code="usage_overlap",
            field="first",
        )
