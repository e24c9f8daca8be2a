"""Rules of the vehicle's standing: accepted, stored, withdrawn, visiting, in work."""

from collections.abc import Iterator
from dataclasses import replace

from fleet.engineering.calendar import Moment
from fleet.fitness.case import Case
from fleet.fitness.examples import DAY, changed, days_ago, particulars, sound
from fleet.fitness.facts import StorageFact, WorkFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import FOREVER, gaps, held, overlap
from fleet.fitness.outside_facts import VisitFact
from fleet.fitness.rulebook import Example, Rule, rule
from fleet.register.vocabulary import Effect, Scope, VehicleStatus
from fleet.upkeep.due import later, written

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
        evidence = (_vehicle(case, status),)
        yield rule.finding(
            case, days, Effect.STOP, Scope.VEHICLE, text, evidence=evidence
        )


def _vehicle(case: Case, status: VehicleStatus) -> Evidence:
    return Evidence("vehicle", case.file.id, status.label)


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
        periods = (
            p for p in case.file.storage if overlap(days, held(p.since, p.until))
        )
        evidence = tuple(Evidence("storage", p.id, "Storage period") for p in periods)
        yield rule.finding(
            case,
            days,
            Effect.STOP,
            Scope.VEHICLE,
            "Vehicle stored, out of use",
            evidence=evidence or (_vehicle(case, VehicleStatus.STORED),),
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


def _visit(days: int) -> Example:
    """Return the sound coach as a visitor, accepted up to days before the example."""
    return changed(
        particulars=(particulars(status=VehicleStatus.VISITING),),
        visits=(VisitFact(90, "Another line", days_ago(30), days_ago(days)),),
    )


@rule(
    "S06",
    "Visiting without acceptance",
    why="Nobody here has seen that its owner's regime covers it, or for how long.",
    source=_SOURCE,
    clears="See the owner's evidence, test it here, and accept it up to a day.",
    flags=_visit(0),
    passes=_visit(-1),
)
def not_accepted_as_visitor(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days a visitor stood here without an acceptance in force."""
    for days in case.while_status(VehicleStatus.VISITING):
        for part in gaps(case.accepted, days):
            ended = [v.until for v in case.file.visits if v.until <= part[0]]
            text = "Visiting vehicle not accepted"
            if ended:
                text += f": acceptance ended {written(later(max(ended), -1))}"
            yield rule.finding(
                case,
                part,
                Effect.STOP,
                Scope.VEHICLE,
                text,
                evidence=(Evidence("vehicle", case.file.id, "Visiting"),),
                missing=not ended,
            )


@rule(
    "S07",
    "Condition of a visit",
    why="The owner's regime holds only under what was agreed when it was accepted.",
    source=_SOURCE,
    clears="Keep to it; it ends with the visit.",
    flags=changed(
        particulars=(particulars(status=VehicleStatus.VISITING),),
        visits=(VisitFact(90, "Line", days_ago(9), days_ago(-1), "Not above 15 mph."),),
    ),
    passes=changed(
        particulars=(particulars(status=VehicleStatus.VISITING),),
        visits=(VisitFact(90, "Line", days_ago(9), days_ago(0), "Not above 15 mph."),),
    ),
)
def visit_condition(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days of a visit that was accepted under a condition."""
    for days in case.while_status(VehicleStatus.VISITING):
        for visit in case.file.visits:
            part = overlap(days, (visit.since, visit.until))
            if part and visit.condition:
                yield rule.finding(
                    case,
                    part,
                    Effect.CONDITION,
                    Scope.VEHICLE,
                    f"Accepted from {visit.owner} under a condition",
                    condition=visit.condition,
                    evidence=(Evidence("visit", visit.id, f"Visit of {visit.owner}"),),
                )


def _lapsed(days: int) -> Example:
    """Return the coach as an accepted visitor, evidence valid up to the day before."""
    visit = VisitFact(90, "Line", days_ago(9), days_ago(-9), lapsed=days_ago(days))
    return changed(
        particulars=(particulars(status=VehicleStatus.VISITING),), visits=(visit,)
    )


@rule(
    "S08",
    "Evidence of a visit run out",
    why="Once what was seen is no longer valid, nobody here knows its owner's regime "
    "still covers it.",
    source=_SOURCE,
    clears="See the owner's newer evidence and record it with the acceptance.",
    flags=_lapsed(0),
    passes=_lapsed(-1),
)
def visit_evidence(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days of a visit after a piece of its evidence ran out."""
    for days in case.while_status(VehicleStatus.VISITING):
        for visit in case.file.visits:
            if visit.lapsed is None:
                continue
            part = overlap(days, (max(visit.since, visit.lapsed), visit.until))
            if part:
                yield rule.finding(
                    case,
                    part,
                    Effect.DISCOUNT,
                    Scope.VEHICLE,
                    "Evidence of the visit was valid up to "
                    f"{written(later(visit.lapsed, -1))}",
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
