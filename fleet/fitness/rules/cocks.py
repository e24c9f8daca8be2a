"""Rules of cocks found in the wrong position: proved right, and the cause found."""

from collections.abc import Iterator

from fleet.engineering.calendar import Moment
from fleet.fitness.case import Case
from fleet.fitness.examples import days_ago, sound
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import FOREVER, closes, opens
from fleet.fitness.outside_facts import WrongCockFact
from fleet.fitness.rulebook import Example, Rule, rule
from fleet.register.vocabulary import Effect, Scope


def _found(proved: int, closed: int | None = None, earlier: int = 0) -> Example:
    """Return the sound coach with a cock found closed, proved and closed days before."""
    return sound(
        wrong_cocks=(
            WrongCockFact(
                90,
                "Distributor isolating cock",
                Scope.AIR_BRAKE,
                "closed",
                Moment.on(days_ago(9)),
                Moment.on(days_ago(proved)),
                earlier,
                None if closed is None else days_ago(closed),
            ),
        )
    )


@rule(
    "I04",
    "Cock found in the wrong position, brake not proved",
    why="A closed cock has cut out brakes, and trains, that everybody took for whole.",
    source="common practice",
    clears="Put the cock right, test the brake, and name the test.",
    flags=_found(-1),
    passes=_found(0),
)
def cock_not_proved(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days from when a cock was found wrong until a test proved the brake."""
    for cock in case.file.wrong_cocks:
        effect = Effect.STOP if cock.scope.through_pipe else Effect.ISOLATE
        until = FOREVER if cock.proved is None else closes(cock.proved)
        yield rule.finding(
            case,
            (opens(cock.on), until),
            effect,
            cock.scope,
            f"{cock.label} found {cock.found} on {cock.on}; no test has proved the brake",
            evidence=(Evidence("cock", cock.id, f"{cock.label} found {cock.found}"),),
        )


@rule(
    "I05",
    "Cause of a wrong cock not found",
    why="Put back is no cure: what moved it once moves it again.",
    source="common practice",
    clears="Find the cause and record it.",
    flags=_found(8, -1),
    passes=_found(8, 0),
)
def cause_not_found(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days until a cause is recorded; a repeat holds the vehicle to a condition."""
    for cock in case.file.wrong_cocks:
        repeat = cock.earlier > 0
        text = f"{cock.label} found {cock.found} on {cock.on}: cause not recorded"
        if repeat:
            text += f", and {cock.earlier} more within the operator's period before"
        yield rule.finding(
            case,
            (opens(cock.on), cock.closed or FOREVER),
            Effect.CONDITION if repeat else Effect.ADVISE,
            cock.scope,
            text,
            condition=f"See {cock.label} stand right before every departure."
            if repeat
            else "",
            evidence=(Evidence("cock", cock.id, f"{cock.label} found {cock.found}"),),
        )
