"""What a fitting does to the store records of its item: they give way, and close up."""

from fleet.engineering.calendar import Moment
from fleet.records.models import Entry
from fleet.records.refusing import refusing
from fleet.records.versions import (
    continue_version,
    correct_version,
    open_version,
    retract_version,
)
from fleet.register.managers import FittingQuerySet
from fleet.register.models import Depot, Equipment, Fitting

_REASON = "It was on a vehicle then."


def leave_stores(
    equipment: Equipment, *, since: Moment, until: Moment | None, entry: Entry
) -> None:
    """
    End, shorten or split the item's time in stores so that an interval is free.

    Raises ValidationError, code `item_elsewhere`, if the item came to the store only
    after the interval began and is still said to be there.
    """
    for row in list(_stored(equipment).overlapping(since, until)):
        _give_way(row, since, until, entry)


def _give_way(row: Fitting, since: Moment, until: Moment | None, entry: Entry) -> None:
    begins, ends = since.key or 0, until.key if until else None
    goes_on = ends is not None and (row.until_key is None or ends < row.until_key)
    if not since.known and not goes_on and row.since_key == begins:
        # Nobody knows when it left the store, so that it was there says nothing.
        retract_version(row, entry=entry, reason=_REASON)
    elif row.since_key < begins or (row.since_key == begins and not goes_on):
        _end(row, since, entry)
        if goes_on:
            open_version(
                Fitting,
                entry=entry,
                equipment=row.equipment,
                store=row.store,
                since=until,
                until=row.until,
            )
    elif goes_on:
        correct_version(row, entry=entry, reason=_REASON, since=until)
    elif row.until_key is None:
        raise refusing(
            f"This item is recorded in store at {row.store} since {row.since}. Give a "
            "date after that, or say when it came off again.",
            code="item_elsewhere",
            field="equipment",
        )
    else:
        retract_version(row, entry=entry, reason=_REASON)


def _end(row: Fitting, at: Moment, entry: Entry) -> None:
    if row.until_key is None:
        continue_version(row, entry=entry, until=at)
    else:
        correct_version(row, entry=entry, reason=_REASON, until=at)


def enter_store(
    equipment: Equipment, *, store: Depot, since: Moment, entry: Entry
) -> Fitting:
    """Record that an item is in a store from a moment on."""
    return open_version(
        Fitting, entry=entry, equipment=equipment, store=store, since=since
    )


def stored_before(fitting: Fitting) -> Fitting | None:
    """Return the store record that ended when the item was fitted."""
    rows = _stored(fitting.equipment).filter(until_key=fitting.since_key)
    found: Fitting | None = rows.last()
    return found


def stored_after(fitting: Fitting) -> Fitting | None:
    """Return the store record that began when the item came off."""
    if fitting.until_key is None:
        return None
    found: Fitting | None = (
        _stored(fitting.equipment).filter(since_key=fitting.until_key).first()
    )
    return found


def _stored(equipment: Equipment) -> FittingQuerySet:
    held: FittingQuerySet = Fitting.objects.current().filter(equipment=equipment)
    return held.filter(store__isnull=False).order_by("since_key")
