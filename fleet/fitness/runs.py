"""Statements for a whole set of vehicles: begun once, gone on with by whoever may sign."""

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.core.exceptions import ValidationError

from fleet.fitness.findings import Span
from fleet.fitness.models import (
    RunEnd,
    RunOutcome,
    RunPlace,
    Statement,
    StatementRun,
)
from fleet.fitness.statements import Content
from fleet.people.competence import entitling
from fleet.people.models import Person, Skill, User
from fleet.records.clock import today
from fleet.records.deeds import deed
from fleet.records.moments import present
from fleet.records.refusing import codes_of, refusing
from fleet.records.versions import identify, write_many
from fleet.register.models import Vehicle
from fleet.register.vocabulary import Level, System, level_words

WORDS = 300

# Issues the statement of a vehicle for a day; the check is held against what it freezes.
Check = Callable[[Content], None]
Issue = Callable[[Vehicle, dt.date, Check], Statement]


@dataclass(frozen=True, slots=True)
class Floor:
    """What a vehicle must be fit for to get a statement: a level, on a system or on any."""

    least: Level | None = None
    system: System | None = None

    def check(self, content: Content) -> None:
        """Refuse what falls short on its day, saying how; code `not_fit`."""
        spans = [s for s in content.held if self.system in (None, s.system)]
        if self.system is not None and not spans:
            raise refusing(
                f"The {self.system.label.lower()} brake is not fitted, or its status "
                "that day is not known.",
                code="not_fit",
            )
        if self.least is None or any(span.level >= self.least for span in spans):
            return
        words = " / ".join(dict.fromkeys(_short(span) for span in spans))
        raise refusing(
            words or "Nothing is known of its brakes that day.", code="not_fit"
        )


def _short(span: Span) -> str:
    words = level_words(span.level, span.system, whole_vehicle=span.whole_vehicle)
    if not span.whole_vehicle:
        words = f"{span.system.label}: {words}"
    return f"{words}. {span.headline}" if span.headline else words


def floor_of(run: StatementRun) -> Floor:
    """Return what the vehicles of a run are held to."""
    least = None if run.least is None else Level(run.least)
    return Floor(least, System(run.system) if run.system else None)


def begin_run(
    *,
    by: User | None,
    person: Person,
    vehicles: Iterable[int],
    on: dt.date,
    floor: Floor,
    asked: str,
) -> StatementRun:
    """
    Record which vehicles are to get a statement for the close of a day; issue none yet.

    `vehicles` are keys, in the order in which they are to be gone through. Raises
    ValidationError: `in_the_past`, `no_vehicles`.
    """
    chosen = list(dict.fromkeys(vehicles))
    _refuse_gone(on, "Choose today or a day to come.")
    if not chosen:
        raise refusing("Tick a vehicle at least.", code="no_vehicles")
    with deed("fitness.begin_run", by=by) as entry:
        run = identify(
            StatementRun,
            entry=entry,
            on=on,
            system=floor.system.value if floor.system else "",
            least=None if floor.least is None else int(floor.least),
            asked=asked[:WORDS],
            by=person,
        )
        list(write_many(RunPlace(run=run, vehicle_id=key) for key in chosen))
        return run


def go_on(
    *,
    by: User | None,
    person: Person,
    run: StatementRun,
    issue: Issue,
    at_most: int | None = None,
) -> list[RunOutcome]:
    """
    Issue the next statements of a run, each in a deed of its own, or note why not.

    What others issued meanwhile is left to them. Raises ValidationError, and settles
    nothing, where it is not a vehicle that stands in the way: `cancelled`,
    `in_the_past`, `not_competent`.
    """
    _refuse_gone(
        run.on,
        "The day of this run has gone by. Begin one for those that wait, for today or "
        "a day to come.",
    )
    entitling(person, Skill.RELEASE, present())
    places = run.places.waiting().select_related("vehicle")[:at_most]
    settled = (
        _settle(by=by, person=person, run=run, place=place, issue=issue)
        for place in places
    )
    return [outcome for outcome in settled if outcome is not None]


def cancel_run(
    *, by: User | None, person: Person, run: StatementRun, reason: str
) -> RunEnd:
    """
    Cancel a run: what waits gets no statement from it, what was issued stands.

    Raises ValidationError: `no_reason`, `cancelled`, `finished`.
    """
    if not reason.strip():
        raise refusing("Say why it is cancelled.", code="no_reason", field="reason")
    with deed("fitness.cancel_run", by=by, locking=(run,)) as entry:
        _refuse_cancelled(run)
        if not run.places.waiting().exists():
            raise refusing("Nothing waits in it any more.", code="finished")
        return identify(RunEnd, entry=entry, run=run, reason=reason.strip(), by=person)


_OF_THE_RUN = {"cancelled", "in_the_past", "not_competent"}


def _settle(
    *,
    by: User | None,
    person: Person,
    run: StatementRun,
    place: RunPlace,
    issue: Issue,
) -> RunOutcome | None:
    try:
        with deed("fitness.issue_statement", by=by, locking=(run,)) as entry:
            _refuse_settled(run, place)
            statement = issue(place.vehicle, run.on, floor_of(run).check)
            return identify(
                RunOutcome, entry=entry, place=place, statement=statement, by=person
            )
    except ValidationError as refusal:
        return _refused(refusal, by=by, person=person, run=run, place=place)


def _refused(
    refusal: ValidationError,
    *,
    by: User | None,
    person: Person,
    run: StatementRun,
    place: RunPlace,
) -> RunOutcome | None:
    """Note why a vehicle is refused; hand on what is not the vehicle's fault."""
    codes = codes_of(refusal)
    if "settled" in codes:
        return None
    if codes & _OF_THE_RUN:
        raise refusal
    words = " ".join(refusal.messages)[:WORDS]
    try:
        with deed("fitness.refuse_in_run", by=by, locking=(run,)) as entry:
            _refuse_settled(run, place)
            return identify(
                RunOutcome, entry=entry, place=place, refused=words, by=person
            )
    except ValidationError as overtaken:
        if "settled" in codes_of(overtaken):
            return None
        raise


def _refuse_settled(run: StatementRun, place: RunPlace) -> None:
    """Refuse a vehicle another tab or person has dealt with; the run is locked."""
    _refuse_cancelled(run)
    if RunOutcome.objects.filter(place=place).exists():
        raise refusing("It was dealt with meanwhile.", code="settled")


def _refuse_cancelled(run: StatementRun) -> None:
    end = RunEnd.objects.filter(run=run).first()
    if end is not None:
        raise refusing(f"This run was cancelled: {end.reason}", code="cancelled")


def _refuse_gone(on: dt.date, words: str) -> None:
    if on < today():
        raise refusing(words, code="in_the_past", field="on")
