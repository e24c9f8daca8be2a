"""Adding vehicles, altering them from a date on, correcting what was written down."""

from decimal import Decimal
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.people.models import User
from fleet.records.deeds import announce, deed
from fleet.records.moments import refuse_future
from fleet.records.refusing import refusing
from fleet.records.versions import identify, open_version
from fleet.register.models import Depot, Vehicle, VehicleType, VehicleVersion
from fleet.register.services.splitting import mend, refuse_strangers, split
from fleet.register.vocabulary import MainReservoirPipe, VehicleStatus

ALTERABLE = frozenset(
    {
        "number",
        "type",
        "air",
        "vacuum",
        "main_reservoir_pipe",
        "status",
        "depot",
        "tare_t",
        "timing",
        "empty_load",
        "hand_brake",
    }
)


def add_vehicle(
    *,
    by: User | None,
    number: str,
    type: VehicleType,  # the word the callers read
    since: Moment,
    air: str,
    vacuum: str,
    main_reservoir_pipe: str = MainReservoirPipe.NONE,
    status: str = VehicleStatus.IN_TRAFFIC,
    depot: Depot | None = None,
    tare_t: Decimal | None = None,
    timing: str = "",
    empty_load: bool = False,
    hand_brake: bool = True,
) -> Vehicle:
    """
    Take a vehicle into the register, with its particulars from a moment on.

    `tare_t` in tonnes. Raises ValidationError: `number_taken`, `in_the_future`, or what
    is wrong with a field.
    """
    refuse_future(since, "since")
    with deed("register.add_vehicle", by=by) as entry:
        vehicle = identify(Vehicle, entry=entry)
        open_version(
            VehicleVersion,
            entry=entry,
            vehicle=vehicle,
            number=_free_number(number, vehicle, since),
            type=type,
            since=since,
            air=air,
            vacuum=vacuum,
            main_reservoir_pipe=main_reservoir_pipe,
            status=status,
            depot=depot,
            tare_t=tare_t,
            timing=timing,
            empty_load=empty_load,
            hand_brake=hand_brake,
        )
        announce(vehicle)
        return vehicle


def alter_vehicle(
    *, by: User | None, vehicle: Vehicle, since: Moment, **changes: Any
) -> VehicleVersion:
    """
    Change particulars of a vehicle from a moment on; what held before stays as it was.

    Raises ValidationError at `since`: `later_particulars`, `in_the_future`,
    `unknown_date`.
    """
    refuse_strangers(changes, ALTERABLE)
    with deed("register.alter_vehicle", by=by, locking=(vehicle,)) as entry:
        newest = newest_particulars(vehicle)
        if "number" in changes:
            changes["number"] = _free_number(changes["number"], vehicle, since)
        altered = split(newest, since=since, entry=entry, **changes)
        announce(vehicle)
        return altered


def correct_vehicle(
    *, by: User | None, version: VehicleVersion, reason: str, **changes: Any
) -> VehicleVersion:
    """
    Put right particulars that were written down wrongly; both versions stay.

    `since` may be corrected too. Raises ValidationError: `no_reason`,
    `already_superseded`, `particulars_overlap`, `number_taken`.
    """
    refuse_strangers(changes, ALTERABLE | {"since"})
    refuse_future(changes.get("since"), "since")
    with deed("register.correct_vehicle", by=by, locking=(version.vehicle,)) as entry:
        if "number" in changes:
            changes["number"] = _free_number(
                changes["number"],
                version.vehicle,
                changes.get("since", version.since),
                version.until,
            )
        siblings = VehicleVersion.objects.current().filter(vehicle=version.vehicle)
        corrected: VehicleVersion = mend(
            version, siblings=siblings, entry=entry, reason=reason, **changes
        )
        announce(version.vehicle)
        return corrected


def newest_particulars(vehicle: Vehicle) -> VehicleVersion:
    """Return the particulars of a vehicle that have not ended."""
    held = VehicleVersion.objects.current().filter(vehicle=vehicle)
    found: VehicleVersion = held.open_ended().get()
    return found


def _free_number(
    number: str, vehicle: Vehicle, since: Moment, until: Moment | None = None
) -> str:
    number = " ".join(number.split())
    others = VehicleVersion.objects.current().numbered(number).exclude(vehicle=vehicle)
    taken = others.overlapping(since, until).first()
    if taken is not None:
        raise refusing(
            f"Another vehicle bears the number {taken.number} since {taken.since}. "
            "Renumber that one first, or choose another number.",
            code="number_taken",
            field="number",
        )
    return number
