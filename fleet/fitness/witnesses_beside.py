"""Who stands behind what bears on a vehicle beside its gear: notices, cocks, its own rows."""

from collections.abc import Iterable
from typing import Any

from fleet.defects.models import WrongCockVersion
from fleet.engineering.calendar import Moment
from fleet.fitness.practice import practice_known
from fleet.fitness.witness import (
    Hand,
    Witness,
    entered,
    known_rows,
    words_of_held,
)
from fleet.register.models import StoragePeriod, Usage, VehicleVersion
from fleet.upkeep.due import written
from fleet.upkeep.models import FleetNoticeVersion, VisitAcceptanceVersion


def notices(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    """Yield what fleet notices say; who issued one is who made its entry."""
    rows = known_rows(FleetNoticeVersion, known_at, "notice", notice__code__in=keys)
    for row in rows:
        code = row.notice.code
        words = (
            f"Fleet notice {code}, {row.title}: issued {written(row.issued_on)}, bears "
            f"on the brake status from {written(row.effective_from)}"
        )
        if row.closed_on is not None:
            words += f", closed {written(row.closed_on)}"
        yield entered(row, words, code, source=row.source)


def cocks(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    """Yield how cocks were found, by whom, and what came of it."""
    rows = known_rows(
        WrongCockVersion,
        known_at,
        "by",
        "closed_person",
        "competence__competence",
        cock__in=keys,
    )
    vouching = practice_known(known_at).vouching
    for row in rows:
        hands = [Hand("found by", row.by.name)]
        if row.closed_person is not None:
            on = Moment.on(row.closed_on)
            words = words_of_held(row.competence, on, vouching)
            held = words if row.competence else ""
            hands.append(Hand("cause recorded by", row.closed_person.name, held))
        proved = "a test proved the brake" if row.proved_by_id else "no test named"
        cause = f"cause: {row.cause}" if row.cause else "cause not recorded"
        words = f"{row.label} found {row.get_found_display().lower()} {row.on}"
        words += f", {row.where}: {proved}, {cause}"
        yield entered(row, words, row.cock_id, hands=tuple(hands))


def vehicles(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    """Yield the newest particulars of vehicles."""
    rows = known_rows(VehicleVersion, known_at, vehicle__in=keys)
    newest = {row.vehicle_id: row for row in rows.order_by("since_key", "pk")}
    for key, row in newest.items():
        status = row.get_status_display().lower()
        yield entered(
            row, f"Particulars of {row.number} from {row.since}: {status}", key
        )


def storage(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    """Yield periods out of use."""
    for row in known_rows(StoragePeriod, known_at, "vehicle", pk__in=keys):
        until = f" to {row.until}" if row.until else ", not yet returned"
        place = f", {row.place}" if row.place else ""
        words = f"Stored {row.since}{until}{place}"
        yield entered(row, words, row.pk, address=row.vehicle.get_absolute_url())


def usage(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    """Yield the newest usage of vehicles: a query for each, and one is asked about."""
    for key in keys:
        rows = known_rows(Usage, known_at, "vehicle", vehicle=key)
        row = rows.order_by("-last", "-pk").first()
        if row is not None:
            words = f"Last usage {written(row.first)} to {written(row.last)}"
            words += f": {row.miles} miles, {row.days} days in service"
            address = row.vehicle.get_absolute_url()
            yield entered(row, words, key, address=address)


def visits(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    """Yield on whose regime visitors were accepted, and by whom."""
    rows = known_rows(
        VisitAcceptanceVersion,
        known_at,
        "acceptance",
        "accepted_by",
        "competence__competence",
        pk__in=keys,
    )
    vouching = practice_known(known_at).vouching
    for row in rows:
        held = words_of_held(row.competence, Moment.on(row.since), vouching)
        competence = held if row.competence else ""
        hands = (Hand("accepted by", row.accepted_by.name, competence),)
        words = f"Accepted from {row.owner}, {row.regime}: {written(row.since)} to "
        words += f"{written(row.last_day)}"
        address = row.acceptance.get_absolute_url()
        yield entered(row, words, row.pk, hands=hands, address=address)
