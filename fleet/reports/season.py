"""Statements for a whole set of vehicles: who is meant, and the run that issues them."""

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.fitness.models import RunOutcome, Statement, StatementRun
from fleet.fitness.runs import Check, Floor, begin_run, go_on
from fleet.fitness.status import BoardRow, board_rows
from fleet.people.models import Person, User
from fleet.records.clock import now
from fleet.records.refusing import refusing
from fleet.register.models import Vehicle
from fleet.register.vocabulary import Level, System
from fleet.reports.issuing import issue
from fleet.reports.loading import content_of, printed_at

FLOORS = {
    "braked": (Level.CONDITIONAL, "fit to run braked, with or without conditions"),
    "movable": (Level.PIPED, "fit to run braked or conveyed as piped"),
    "all": (None, "whatever their level"),
}
BATCH = 20  # between two reports of how far a run has got


@dataclass(frozen=True, slots=True)
class Choice:
    """Which vehicles are meant: by depot, type, brake system and level on a day."""

    on: dt.date
    which: str = "braked"  # a key of FLOORS
    floor: Floor = field(default=Floor(Level.CONDITIONAL))
    depot: str = ""
    type_code: str = ""

    @property
    def words(self) -> str:
        """Return the choice as people would say it."""
        system = self.floor.system
        parts = [
            self.depot or "all depots",
            f"type {self.type_code}" if self.type_code else "all types",
            FLOORS[self.which][1],
            f"on the {system.label.lower()} brake" if system else "on any brake system",
        ]
        words = ", ".join(parts)
        return words[:1].upper() + words[1:]

    def answering(self) -> list[BoardRow]:
        """Return the vehicles that answer to it; none that waits to be reassessed."""
        return [row for row in board_rows(self.on) if self._answers(row)]

    def _answers(self, row: BoardRow) -> bool:
        system, least = self.floor.system, self.floor.least
        levels = [
            status.level
            for status in row.systems.values()
            if system in (None, status.system) and status.level is not None
        ]
        return (
            self.depot in ("", row.depot)
            and self.type_code in ("", row.type_code)
            and bool(levels)
            and (least is None or max(levels) >= least)
        )


def choice(
    on: dt.date,
    which: str,
    *,
    system: str = "",
    depot: str = "",
    type_code: str = "",
) -> Choice:
    """Return a choice from the code words of a form or a command."""
    floor = Floor(FLOORS[which][0], System(system) if system else None)
    return Choice(on, which, floor, depot, type_code)


def which_of(floor: Floor) -> str:
    """Return the code word of a floor."""
    return next(key for key, (least, _) in FLOORS.items() if least == floor.least)


def numbered(on: dt.date, numbers: Iterable[str]) -> tuple[list[BoardRow], list[str]]:
    """Return the vehicles of running numbers on a day, and the numbers nobody bears."""
    there = {row.number.casefold(): row for row in board_rows(on)}
    asked = list(dict.fromkeys(n.strip().casefold() for n in numbers if n.strip()))
    spelt = {n.strip().casefold(): n.strip() for n in numbers}
    found = [there[number] for number in asked if number in there]
    return found, [spelt[number] for number in asked if number not in there]


def begin(
    chosen: Choice,
    vehicles: Iterable[int],
    *,
    by: User | None,
    person: Person,
    picked: str = "",
) -> StatementRun:
    """Begin a run of some vehicles; `picked` says how they were picked out of those."""
    return begin_run(
        by=by,
        person=person,
        vehicles=vehicles,
        on=chosen.on,
        floor=chosen.floor,
        asked=f"{chosen.words}{picked}",
    )


def step(
    run: StatementRun, *, by: User | None, person: Person, at_most: int | None = None
) -> list[RunOutcome]:
    """Issue the next statements of a run, signed by a person; as `go_on`."""

    def signed(vehicle: Vehicle, on: dt.date, check: Check) -> Statement:
        return issue(by=by, person=person, vehicle=vehicle, on=on, check=check)

    return go_on(by=by, person=person, run=run, issue=signed, at_most=at_most)


def run_through(
    run: StatementRun,
    *,
    by: User | None,
    person: Person,
    progress: Callable[[int, int], None],
) -> None:
    """Issue all that waits in a run, saying how far it has got."""
    total = run.places.count()
    while step(run, by=by, person=person, at_most=BATCH):
        progress(total - run.places.waiting().count(), total)


def refusal_of(vehicle: int, chosen: Choice) -> str:
    """Return why a vehicle would be refused a statement now, "" if it would not be."""
    content = content_of(
        vehicle, on=chosen.on, printed=printed_at(timezone.localtime(now()))
    )
    try:
        if content is None:
            raise refusing("Nothing is recorded of it.", code="nothing_known")
        chosen.floor.check(content)
    except ValidationError as refusal:
        return " ".join(refusal.messages)
    return ""
