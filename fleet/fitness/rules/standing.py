"""Rules of the vehicle's standing: accepted, stored, withdrawn, visiting, in work."""

from collections.abc import Iterator
from dataclasses import replace

from fleet.engineering.calendar import Moment
from fleet.fitness.case import Case
from fleet.fitness.examples import DAY, changed, days_ago, particulars, sound
from fleet.fitness.facts import StorageFact, WorkFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import FOREVER, gaps, held
from fleet.fitness.rulebook import Example, Rule, rule
from fleet.register.vocabulary import Effect, Scope, VehicleStatus

_SOURCE = "common practice"


def _until(status: VehicleStatus, days: int) -> Example:
    """Return the sound coach with a status up to days before the example."""
    ends = Moment.on(days_ago(days))
    first = particulars(status=status, until=ends)
    return changed(particulars=(first, particulars(since=ends)))


def _stopped(
    rule: Rule, case: Case, status: VehicleStatus, text: str
) -> Iterator[Finding]:
    for days in case.while_status(status):
        evidence = (Evidence("vehicle", case.file.id, status.label),)
        yield rule.finding(
            case, days, Effect.STOP, Scope.VEHICLE, text, evidence=evidence
        )


@rule(
    "S01",
    "Not yet accepted",
    why="Nobody has yet taken the vehicle over as in order.",
    source=_SOURCE,
    clears="Accept the vehicle into traffic.",
    flags=_until(VehicleStatus.NOT_ACCEPTED, -1),
    passes=_until(VehicleStatus.NOT_ACCEPTED, 0),
)
def not_accepted(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days before the vehicle was accepted."""
    yield from _stopped(
        rule, case, VehicleStatus.NOT_ACCEPTED, "Vehicle not yet accepted"
    )


@rule(
    "S02",
    "Stored",
    why="Seals set and pipes corrode while a vehicle stands out of use.",
    source=_SOURCE,
    clears="Return the vehicle from storage.",
    flags=sound(
        storage=(StorageFact(Moment.on(days_ago(9)), Moment.on(days_ago(-1))),)
    ),
    passes=sound(storage=(StorageFact(Moment.on(days_ago(9)), Moment.on(DAY)),)),
)
def stored(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days the vehicle was out of use."""
    for days in case.stored:
        evidence = (Evidence("vehicle", case.file.id, "Storage period"),)
        yield rule.finding(
            case,
            days,
            Effect.STOP,
            Scope.VEHICLE,
            "Vehicle stored, out of use",
            evidence=evidence,
        )


@rule(
    "S03",
    "Withdrawn",
    why="A withdrawn vehicle is no longer looked after for running.",
    source=_SOURCE,
    clears="Take the vehicle back into traffic.",
    flags=_until(VehicleStatus.WITHDRAWN, -1),
    passes=_until(VehicleStatus.WITHDRAWN, 0),
)
def withdrawn(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days the vehicle was withdrawn."""
    yield from _stopped(rule, case, VehicleStatus.WITHDRAWN, "Vehicle withdrawn")


@rule(
    "S04",
    "Visiting",
    why="A visiting vehicle is kept up by its owner, on rules of its own.",
    source="the operator's general conditions",
    clears="Record its departure, or take it into the fleet.",
    flags=_until(VehicleStatus.VISITING, -1),
    passes=_until(VehicleStatus.VISITING, 0),
)
def visiting(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days the vehicle was a visitor, with the words crew must see."""
    for days in case.while_status(VehicleStatus.VISITING):
        for part, conditions in case.conditions_over(days):
            yield rule.finding(
                case,
                part,
                Effect.CONDITION,
                Scope.VEHICLE,
                "Visiting vehicle",
                source=conditions.source,
                condition=conditions.visiting_condition,
                evidence=(Evidence("vehicle", case.file.id, "Visiting"),),
            )


@rule(
    "S05",
    "No particulars",
    why="Without particulars nobody can say how the vehicle is braked.",
    source=_SOURCE,
    clears="Record the vehicle's particulars for the time that is missing.",
    flags=changed(particulars=(particulars(until=Moment.on(DAY)),)),
    passes=changed(particulars=(particulars(until=Moment.on(days_ago(-1))),)),
)
def no_particulars(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days for which no particulars are recorded."""
    known = ((phase.since, phase.until) for phase in case.phases)
    for days in gaps(known, (case.begin, FOREVER)):
        yield rule.finding(
            case,
            days,
            Effect.STOP,
            Scope.VEHICLE,
            "No particulars of the vehicle recorded",
            missing=True,
        )


_HANGER = WorkFact(90, "brake hanger renewed", Moment.on(days_ago(9)), None)


@rule(
    "W01",
    "Work in hand",
    why="A vehicle under repair is fit for nothing until somebody entitled releases it.",
    source=_SOURCE,
    clears="Complete the work and sign the release to traffic.",
    flags=sound(work=(replace(_HANGER, until=Moment.on(days_ago(-1))),)),
    passes=sound(work=(replace(_HANGER, until=Moment.on(DAY)),)),
)
def work_in_hand(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days work was in hand without its release."""
    for work in case.file.work:
        yield rule.finding(
            case,
            held(work.since, work.until),
            Effect.STOP,
            Scope.VEHICLE,
            f"Work in hand, not released: {work.what}",
            evidence=(Evidence("work", work.id, work.what),),
        )
