"""The demo's workshop: a season to run, what the shop has, units away for overhaul."""

import datetime as dt
from typing import Any

from fleet.config.demo.fleetbook import DEMO, read
from fleet.config.demo.line import Line
from fleet.people.models import User
from fleet.register.models import Equipment, EquipmentVersion, VehicleType
from fleet.register.vocabulary import EquipmentState
from fleet.workshop.capacity import week_of
from fleet.workshop.exchange_services import describe_group, send_away, take_in
from fleet.workshop.keeping import CLOSURES, CONTRACTORS, HOURS, LINES, PLACES, add
from fleet.workshop.models import Contractor, ExchangeGroup, ShopPlace
from fleet.workshop.vocabulary import Each

Book = dict[str, Any]
DAY = dt.timedelta(days=1)
OPENED = 400  # days ago


def workshop(line: Line) -> None:
    """Lay out the season and the shop."""
    book = read(DEMO, "workshop")
    by = User.objects.get(username="planner")
    _diary(line, book, by)
    places = _places(line, book, by)
    _hours(line, book, by)
    _closures(line, book, by, places)
    contractors = _contractors(book, by)
    _groups(book, by, contractors)
    for raw in book["sent"]:
        _send(line, raw, by, contractors)


def _diary(line: Line, book: Book, by: User) -> None:
    types = {type_.code: type_ for type_ in VehicleType.objects.all()}
    for raw in book["line"]:
        if "vehicle" in raw and raw["vehicle"] not in line.vehicles:
            continue
        add(
            LINES,
            by=by,
            title=raw["title"],
            first=line.today + raw["from"] * DAY,
            last=line.today + raw["to"] * DAY,
            weekdays=raw["weekdays"],
            system=raw["system"],
            vehicle=line.vehicles.get(raw.get("vehicle", "")),
            vehicle_type=types.get(raw.get("type", "")),
            vehicles=raw["vehicles"],
            weight=raw["weight"],
        )


def _places(line: Line, book: Book, by: User) -> dict[str, ShopPlace]:
    first = line.today - OPENED * DAY
    return {
        raw["name"]: add(PLACES, by=by, **raw, first=first).place
        for raw in book["place"]
    }


def _hours(line: Line, book: Book, by: User) -> None:
    monday = week_of(line.today)
    for raw in book["hours"]:
        add(HOURS, by=by, **raw, first=line.today - OPENED * DAY)
    for raw in book["weekend"]:
        common = {name: raw[name] for name in ("title", "skill", "hours")}
        for week in raw["weeks"]:
            saturday = monday + dt.timedelta(weeks=week, days=5)
            days = {"first": saturday, "last": saturday + DAY}
            add(HOURS, by=by, **common, **days, each=Each.DAY)
    for raw in book["bought"]:
        common = {name: raw[name] for name in ("title", "skill", "hours")}
        first, last = (line.today + raw[name] * DAY for name in ("from", "to"))
        add(HOURS, by=by, **common, first=first, last=last, each=Each.ONCE)


def _closures(line: Line, book: Book, by: User, places: dict[str, ShopPlace]) -> None:
    for raw in book["closure"]:
        monday = week_of(line.today) + dt.timedelta(weeks=raw["week"])
        first, last = (monday + n * DAY for n in raw["days"])
        add(
            CLOSURES,
            by=by,
            title=raw["title"],
            first=first,
            last=last,
            place=places.get(raw.get("place", "")),
        )


def _contractors(book: Book, by: User) -> dict[str, Contractor]:
    found = {}
    for raw in book["contractor"]:
        facts = {"lead_weeks": raw["weeks"], "note": raw["note"]}
        row = add(CONTRACTORS, by=by, name=raw["name"], **facts)
        found[raw["name"]] = row.contractor
    return found


def _groups(book: Book, by: User, contractors: dict[str, Contractor]) -> None:
    known = set(EquipmentVersion.objects.values_list("group", flat=True))
    for raw in book["group"]:
        if raw["code"] in known:
            describe_group(
                by=by,
                code=raw["code"],
                label=raw["label"],
                alike=raw["alike"],
                contractor=contractors.get(raw.get("contractor", "")),
                turnaround_weeks=raw.get("turnaround"),
                least=raw["least"],
            )


def _send(line: Line, raw: Book, by: User, contractors: dict[str, Contractor]) -> None:
    sent_on = line.today - raw["sent"] * DAY
    items = _sendable(raw["group"], sent_on)[: raw["units"]]
    if not items:
        return
    version = send_away(
        by=by,
        group=ExchangeGroup.objects.get(code=raw["group"]),
        items=items,
        sent_on=sent_on,
        expected_on=line.today + raw["expected"] * DAY,
        contractor=contractors.get(raw.get("contractor", "")),
        reference=raw["reference"],
    )
    back = list(version.consignment.items.select_related("equipment", "consignment"))
    if raw["back"]:
        take_in(by=by, items=back[: raw["back"]], on=line.today - 6 * DAY)


def _sendable(code: str, on: dt.date) -> list[Equipment]:
    """Return the items in store that were there by a day, the worn ones first."""
    rows = EquipmentVersion.objects.newest().in_stores().filter(group=code)
    rows = rows.exclude(state=EquipmentState.SCRAPPED).filter(since_earliest__lte=on)
    held = list(rows.select_related("equipment").order_by("pk"))
    held.sort(key=lambda row: row.state == EquipmentState.SERVICEABLE)
    return [row.equipment for row in held]
