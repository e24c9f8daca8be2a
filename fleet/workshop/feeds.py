"""The calendar feed: a private address for each user, and what stands under it."""

import datetime as dt
from collections.abc import Iterable
from typing import TYPE_CHECKING

from django.db import transaction

from fleet.fitness.models import Stale
from fleet.people.models import User
from fleet.records.clock import now
from fleet.records.models import Entry
from fleet.upkeep.due import written
from fleet.workshop.forecast import ForecastRow
from fleet.workshop.models import CalendarFeed
from fleet.workshop.sheets import rests_on

if TYPE_CHECKING:  # slow to import
    from icalendar import Event

FEED_MONTHS = 12
_DOMAIN = "brake-register.invalid"  # RFC 2606: a name that nobody bears


def feed_of(user: User) -> CalendarFeed | None:
    """Return a user's feed; None where there is none, or it was revoked."""
    return CalendarFeed.objects.filter(user=user, revoked_at__isnull=True).first()


def open_feed(token: str) -> CalendarFeed | None:
    """Return the feed of an address; None where it was revoked, or its user is gone."""
    return CalendarFeed.objects.filter(
        token=token, revoked_at__isnull=True, user__is_active=True
    ).first()


def make_feed(user: User) -> CalendarFeed:
    """Make a new private address; the one before, if any, leads nowhere from now on."""
    with transaction.atomic():
        User.objects.select_for_update().get(pk=user.pk)
        revoke_feed(user)
        return CalendarFeed.objects.create(user=user, made_at=now())


def revoke_feed(user: User) -> bool:
    """Revoke a user's address; say whether there was one."""
    standing = CalendarFeed.objects.filter(user=user, revoked_at__isnull=True)
    return standing.update(revoked_at=now()) > 0


def last_change() -> dt.datetime:
    """Return when anything was last recorded: no due date has changed since."""
    newest = Entry.objects.order_by("-number").values_list("made_at", flat=True).first()
    return newest or now()


def calendar_of(rows: Iterable[ForecastRow], stamp: dt.datetime) -> bytes:
    """
    Return the rows as an iCalendar object (RFC 5545), an all-day event for each date.

    What has no date has no event. Events carry no person's name and no alarm, and do not
    make anybody busy. There is no METHOD, so that the stamp is the time of the last
    change (3.8.7.2); the next time a requirement falls due keeps its UID while its date
    moves (3.8.4.7).
    """
    from icalendar import Calendar  # slow to import

    calendar = Calendar()
    calendar.add("prodid", "-//Brake register//Forecast//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("x-wr-calname", "Brake work falling due")
    stale = set(Stale.objects.values_list("vehicle", flat=True))
    for row in rows:
        if row.due is not None and row.vehicle.vehicle_id not in stale:
            calendar.add_component(_event(row, row.due, stamp))
    sent: bytes = calendar.to_ical()
    return sent


def _event(row: ForecastRow, due: dt.date, stamp: dt.datetime) -> "Event":
    from icalendar import Event

    event = Event()
    event.add("uid", _uid(row))
    event.add("dtstamp", stamp.astimezone(dt.UTC))
    event.add("dtstart", due)
    event.add("dtend", due + dt.timedelta(days=1))
    event.add("summary", f"{row.number}: {row.falling.title} due")
    event.add("description", _told(row))
    event.add("transp", "TRANSPARENT")
    event.add("categories", ["Overdue" if row.overdue else "Due"])
    return event


def _uid(row: ForecastRow) -> str:
    falling = row.falling
    parts = (falling.code, row.vehicle.vehicle.uuid, falling.equipment or 0, row.time)
    return "-".join(str(part) for part in parts) + f"@{_DOMAIN}"


def _told(row: ForecastRow) -> str:
    lines = [f"The date rests on: {rests_on(row)}."]
    if row.last_good and row.last_good != row.due:
        lines.append(f"Last good day {written(row.last_good)}.")
    if row.conceded and row.standing:
        lines.append(f"A concession holds up to {written(row.conceded)}.")
    if row.falling.item:
        lines.append(f"{row.falling.item.words}.")
    if row.hours_words:
        lines.append(f"Takes {row.hours_words}.")
    lines.append("The operator's own maintenance instructions govern.")
    return "\n".join(lines)
